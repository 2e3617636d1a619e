"""What a recording of several sources, whose sweeps overlap, tells of its own quality.

Level, signal over noise, distortion and silence of each source are read from its own part of the
divided recording. A noise that comes and goes is heard, and named with every source whose sweep
or decay it may have met. What cannot be told: which of the sources rattles, since a noise above
one's sweep lies below another's; and what happens while any of the sweeps passes the same octave.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.measurement.fades import fade_window
from roomwright.measurement.noise import signal_to_noise_db
from roomwright.measurement.quality import level, motion, stream
from roomwright.measurement.quality.cells import noise_cells
from roomwright.measurement.quality.events import event
from roomwright.measurement.quality.judge import JudgedTake, unusable
from roomwright.measurement.quality.orders import DISTORTED_DB, distorted, total_distortion_db
from roomwright.measurement.takes import Divided, noise_in, response_of
from roomwright.model import Diagnosis, Overlap

_Samples = NDArray[np.floating]

#: Fades of a source's part where it is asked whether it holds a sound at all, seconds: the first is
#: short against the way from a loudspeaker, the second that of a single take.
_IN_S, _OUT_S = 0.005, 0.1


@dataclass(frozen=True, slots=True)
class JudgedPass:
    """What is wrong with a whole recording of several sources.

    Attributes
    ----------
    refused
        Why none of it can be used, None if it can.
    noise, from_s, to_s
        A noise that came and went, and when after the start of the first sweep.
    moved
        The microphone was not at rest.
    """

    refused: Diagnosis | None
    noise: Diagnosis | None = None
    from_s: float = 0.0
    to_s: float = 0.0
    moved: Diagnosis | None = None


def judge_pass(
    whole: Divided,
    microphone: _Samples,
    reference: _Samples | None,
    background_rms: float | None = None,
) -> JudgedPass:
    """Judge what concerns all sources of a recording.

    Parameters
    ----------
    whole
        The recording, divided by the one sweep of which all play their parts.
    microphone, reference
        Its samples, shape (n,), and those of the loop-back if there is one.
    background_rms
        Of the microphone's samples while nothing was played, if that was recorded.
    """
    sweep, rate = whole.sweep, whole.sampling_rate_hz
    refused = unusable(microphone, reference, sweep, rate)
    refused = refused or level.under_the_room(microphone, background_rms)
    if refused is None and reference is not None:
        refused = stream.broken_stream(reference, whole.alignment, sweep, rate)
    played = microphone if reference is None else reference
    refused = refused or stream.pilots_apart(played, whole.alignment, sweep, rate)
    refused = refused or stream.wrong_input(whole.circle, sweep, rate)
    if refused is not None:
        return JudgedPass(refused)
    # The tail lasts until the last source's response is over; windows differ between sources.
    cells = noise_cells(whole.circle, sweep, rate, last_s=sweep.tail_s)
    noise, from_s, to_s = event(cells)
    moved = None
    if sweep.pilot_band_hz is not None:
        moved = motion.moved(microphone, whole.alignment, sweep, rate, sweep.pilot_band_hz)
    return JudgedPass(None, noise, from_s, to_s, moved)


def judge_source(
    whole: Divided,
    shared: JudgedPass,
    microphone: _Samples,
    overlap: Overlap,
    *,
    band_hz: tuple[float, float],
    background_rms: float | None = None,
    length_s: float = 1.0,
) -> JudgedTake:
    """The response of one source of a recording, and what is wrong with it.

    Parameters
    ----------
    whole, shared, microphone, background_rms
        The recording, divided, judged as a whole, and as for `judge_pass`.
    overlap
        Which of its sources.
    band_hz
        The range that the source is made for.
    length_s
        Length to keep, seconds; no more than the source's window is kept.

    Raises
    ------
    InputError
        If the sweep is too short for a response of that length.
    """
    if shared.refused is not None:
        return JudgedTake(None, (shared.refused,))
    measured = response_of(whole, overlap, length_s=length_s, band_hz=band_hz)
    own = level.own_octaves(band_hz, whole.sweep)
    if not _heard(whole, overlap, own):
        return JudgedTake(measured, (level.nothing_heard(microphone, background_rms),))
    total_db = total_distortion_db(measured.distortion_db)
    ends_s = overlap.offset_s + whole.sweep.duration_s + overlap.window_s
    met = overlap.offset_s <= shared.to_s and shared.from_s <= ends_s
    found = (
        shared.moved,
        shared.noise if met else None,
        distorted(total_db) if total_db > DISTORTED_DB else None,
        level.over_noise(measured.signal_to_noise_db, own, microphone),
    )
    return JudgedTake(measured, tuple(one for one in found if one is not None))


def _heard(whole: Divided, overlap: Overlap, own: NDArray[np.bool_]) -> bool:
    """Whether a source's part holds anything but noise, in half of its own octaves or more."""
    rate = whole.sampling_rate_hz
    start, window = (round(at * rate) for at in (overlap.offset_s, overlap.window_s))
    part = np.roll(whole.circle, -start)[:window].astype(np.float64)
    part *= fade_window(part.size, round(_IN_S * rate), min(round(_OUT_S * rate), window // 2))
    over = signal_to_noise_db(part, noise_in(whole, part.size, overlap), rate)[own] > level.HEARD_DB
    return int(np.count_nonzero(over)) >= max(1, over.size // 2)
