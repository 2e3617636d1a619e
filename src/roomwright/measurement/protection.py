"""How loud to play next, so that no loudspeaker is harmed by a mistake in the wiring.

A channel is swept within its declared band alone. The first sweep is soft; the next ones rise in
steps, and only when the one before has shown the band that it should. Common practice, no source;
it lessens the danger for a tweeter on a wrong output and cannot remove it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.model import Sweep
from roomwright.signals import frequencies_hz, log_frequencies, smooth_power

#: The first sweep of a channel, and the largest step from one to the next: 40 dB below full scale
#: a tweeter gets hundredths of a watt of an ordinary amplifier.
FIRST_DBFS: Final = -40.0
LARGEST_STEP_DB: Final = 6.0

#: A sweep fades out over this many cycles at least: what stops at once sounds beyond its band.
_FADE_CYCLES: Final = 12.0

#: A band is the right one if either end of it, a third of its octaves each, is heard within this
#: of the loudest: a woofer's treble and a tweeter's bass fall by 12 dB an octave or more.
_ENDS_DB: Final = 18.0

#: ... and the response stands clear of its noise over this share of the band's octaves.
_CLEAR_SHARE: Final = 0.5


@dataclass(frozen=True, slots=True)
class NextLevel:
    """What to play next.

    Attributes
    ----------
    level_dbfs
        The level of the next sweep; None to stop.
    reached
        Whether the level wanted has been played and nothing more is needed.
    sentence
        Why.
    """

    level_dbfs: float | None
    reached: bool
    sentence: str


def protected_sweep(sweep: Sweep, band_hz: tuple[float, float], level_dbfs: float) -> Sweep:
    """The survey's sweep cut to a channel's declared band, at a level of its own.

    Parameters
    ----------
    sweep
        The survey's sweep; the octaves left are swept as fast, so that they keep their energy.
    band_hz
        Lower and upper limit of the channel.
    level_dbfs
        Peak level, at most that of the survey's sweep.

    Raises
    ------
    InputError
        If band and sweep have no octave in common.
    """
    start, stop = max(sweep.start_hz, band_hz[0]), min(sweep.stop_hz, band_hz[1])
    if stop < 2.0 * start:
        raise InputError(
            f"a channel for {band_hz[0]:g} to {band_hz[1]:g} Hz cannot be swept by a sweep from "
            f"{sweep.start_hz:g} to {sweep.stop_hz:g} Hz; they need an octave in common"
        )
    share = np.log(stop / start) / np.log(sweep.stop_hz / sweep.start_hz)
    fade_out_s = max(sweep.fade_out_s, _FADE_CYCLES / stop)
    fades_s = sweep.fade_in_s + fade_out_s
    return sweep.model_copy(
        update={
            "start_hz": float(start),
            "stop_hz": float(stop),
            "duration_s": max(float(share) * sweep.duration_s, 4.0 * fades_s),
            "fade_out_s": float(fade_out_s),
            "level_dbfs": min(level_dbfs, sweep.level_dbfs),
        }
    )


def shows_band(
    response: NDArray[np.floating],
    sampling_rate_hz: int,
    trusted_hz: tuple[float, float],
    band_hz: tuple[float, float],
) -> bool:
    """Whether a response reaches over the whole of a declared band.

    Parameters
    ----------
    response
        Impulse response, shape (n,).
    sampling_rate_hz
        Hertz.
    trusted_hz
        Band in which it stands clear of its noise; (0, 0) for none.
    band_hz
        What was declared, within the sweep's band.
    """
    low, high = max(trusted_hz[0], band_hz[0]), min(trusted_hz[1], band_hz[1])
    if low >= high or np.log(high / low) < _CLEAR_SHARE * np.log(band_hz[1] / band_hz[0]):
        return False
    at = log_frequencies(*band_hz, 12)
    power = np.abs(np.fft.rfft(np.asarray(response, dtype=np.float64))) ** 2
    smooth = smooth_power(power, frequencies_hz(response.size, sampling_rate_hz), 3, at)
    thirds = [float(part.mean()) for part in np.array_split(smooth, 3)]
    least = max(thirds) * 10.0 ** (-_ENDS_DB / 10.0)
    return bool(thirds[0] >= least and thirds[-1] >= least)


def next_level(
    played_dbfs: float | None,
    wanted_dbfs: float,
    *,
    right_band: bool = True,
    peak_db: float = float("-inf"),
    ceiling_db: float = float("inf"),
) -> NextLevel:
    """Level of the next sweep on a channel.

    Parameters
    ----------
    played_dbfs
        Level of the sweep before; None for the first.
    wanted_dbfs
        Level at which to measure.
    right_band
        Whether the sweep before showed the declared band (`shows_band`).
    peak_db
        Highest level at the microphone's input during the sweep before, in the unit of
        `ceiling_db`.
    ceiling_db
        The highest level that the engineer allows.
    """
    if peak_db > ceiling_db:
        text = f"stopped: the input reached {peak_db:.0f} dB, over the ceiling of {ceiling_db:.0f}"
        return NextLevel(None, reached=False, sentence=f"{text} dB; lower the level")
    if played_dbfs is None:
        first = min(FIRST_DBFS, wanted_dbfs)
        return NextLevel(first, reached=False, sentence=f"starting softly, at {first:.0f} dBFS")
    if not right_band:
        text = "stopped: the soft sweep did not show the declared band; check the wiring"
        return NextLevel(None, reached=False, sentence=f"{text} before playing louder")
    if played_dbfs >= wanted_dbfs:
        return NextLevel(wanted_dbfs, reached=True, sentence=f"{wanted_dbfs:.0f} dBFS is reached")
    # What the next step would bring at the input is known from the last one.
    step = min(LARGEST_STEP_DB, wanted_dbfs - played_dbfs, max(ceiling_db - peak_db, 0.0))
    if step <= 0.0:
        text = "the input is at the ceiling; measuring at this level"
        return NextLevel(played_dbfs, reached=True, sentence=text)
    louder = played_dbfs + step
    return NextLevel(louder, reached=False, sentence=f"the band is right; on to {louder:.0f} dBFS")
