"""How long a survey takes: sweeps one after another or overlapped, and carrying the microphone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from roomwright._errors import InputError
from roomwright.measurement.overlap import duration_s, plan_pass
from roomwright.model import Sweep

#: Seconds to carry the microphone to the next station, set it up and leave the room quiet; to
#: start a recording and store it. Common practice, no source.
MOVE_S: Final = 45.0
BETWEEN_S: Final = 1.0


@dataclass(frozen=True, slots=True)
class SurveyTime:
    """Seconds that a survey takes.

    Attributes
    ----------
    one_after_another_s
        Every source with a recording of its own.
    overlapped_s
        All sources of a station in one pass; None where that cannot be.
    moving_s
        What either holds for carrying the microphone.
    not_overlapped
        Why the sources cannot overlap, empty where they can.
    """

    one_after_another_s: float
    overlapped_s: float | None
    moving_s: float
    not_overlapped: str = ""


def survey_time(
    sweep: Sweep,
    sources_at: Sequence[int],
    sampling_rate_hz: int,
    *,
    window_s: float,
    noise_s: float = 0.0,
    move_s: float = MOVE_S,
    between_s: float = BETWEEN_S,
) -> SurveyTime:
    """How long the sweeps at a number of stations take.

    Parameters
    ----------
    sweep
        What each source plays.
    sources_at
        How many sources are to be measured at each station, in the order of the stations; where
        that is 0 nobody goes.
    sampling_rate_hz
        Hertz.
    window_s
        How long a response lasts, see `response_window_s`.
    noise_s
        How long background noise is recorded, once.
    move_s
        To carry the microphone to a station and set it up.
    between_s
        From the end of a recording to the start of the next.

    Raises
    ------
    InputError
        If a number is negative or the length of a response is not positive.
    """
    if min((*sources_at, noise_s, move_s, between_s), default=0) < 0:
        raise InputError("numbers of sources and seconds must be 0 or more")
    counts = Counter(count for count in sources_at if count)
    moving = move_s * counts.total()
    noise = noise_s + between_s if noise_s else 0.0
    single = sum(n * count for count, n in counts.items()) * (duration_s(sweep) + between_s)
    try:
        passes = sum(
            n
            * (plan_pass(sweep, count, sampling_rate_hz, window_s=window_s).duration_s + between_s)
            for count, n in counts.items()
        )
    except InputError as error:
        return SurveyTime(moving + noise + single, None, moving, str(error))
    return SurveyTime(moving + noise + single, moving + noise + passes, moving)
