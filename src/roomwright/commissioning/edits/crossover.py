"""Changes of the crossover to the subwoofers, for one channel, a group or all of them.

All are pure: a job in, a changed job out. `channels` are ids of channels; naming all main ones, or
none, changes the job's crossover, which every channel without one of its own has. The LFE goes to
the subwoofers whole: it is passed over, and refused where it is alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, Final, get_args

from roomwright._errors import InputError
from roomwright.commissioning.tuning.scope import check_range
from roomwright.commissioning.tuning.tune import tuning_limits
from roomwright.model import Crossover, Job, OwnCrossover

CROSSOVER_RANGE_HZ: Final = (20.0, 300.0)

#: What stands for "keeps its bass" where a crossover is written.
FULL_RANGE: Final = "full"

_ORDERS: Final[tuple[int, ...]] = get_args(Crossover.model_fields["order"].annotation)


def mains_of(job: Job, channels: Sequence[str]) -> tuple[str, ...]:
    """The main channels among these; all main channels if none are named."""
    return tuple(
        channel.id
        for channel in job.channels
        if channel.role != "lfe" and (not channels or channel.id in channels)
    )


def crossover_shared_by(job: Job, channels: Sequence[str]) -> OwnCrossover | None:
    """The crossover that an edit of these channels starts from; None if only the LFE is meant."""
    mains = mains_of(job, channels)
    if not mains:
        return None
    own = {name: of for of in job.own_crossovers for name in of.channels}
    if not _is_all(job, mains) and mains[0] in own:
        return own[mains[0]].model_copy(update={"channels": mains})
    limits = job.limits
    return OwnCrossover(
        channels=mains,
        frequency_hz=limits.crossover_hz,
        order=limits.crossover_order,
        full_range=limits.full_range,
    )


def set_crossover(
    job: Job,
    channels: Sequence[str],
    *,
    frequency_hz: float | None = None,
    order: int | None = None,
    full_range: bool | None = None,
) -> Job:
    """The job with another crossover for these channels; what is not given stays.

    A frequency or an order given to channels that keep their bass ends that.

    Raises
    ------
    InputError
        If the frequency is outside 20 to 300 Hz, there is no such order, or only the LFE is meant.
    """
    shared = crossover_shared_by(job, channels)
    if shared is None:
        raise InputError(
            "the LFE goes to the subwoofers whole and has no crossover; choose a main channel"
        )
    if frequency_hz is not None:
        check_range(frequency_hz, CROSSOVER_RANGE_HZ, "the crossover", "Hz")
    if order is not None and order not in _ORDERS:
        allowed = ", ".join(str(one) for one in _ORDERS)
        raise InputError(f"the order of a crossover is {order}; allowed are {allowed}")
    given = {"frequency_hz": frequency_hz, "order": order, "full_range": bool(full_range)}
    changes = {name: value for name, value in given.items() if value is not None}
    return _with_crossover(job, shared.model_copy(update=changes))


def follow_job_crossover(job: Job, channels: Sequence[str]) -> Job:
    """The job with these channels back on the job's crossover."""
    kept = _without_own(job, channels or mains_of(job, ()))
    return job.model_copy(update={"own_crossovers": tuple(kept)})


def channels_with_own(job: Job, channels: Sequence[str]) -> tuple[str, ...]:
    """Those of the channels that have a crossover of their own; of all if none are named."""
    having = {name for own in job.own_crossovers for name in own.channels}
    return tuple(name for name in mains_of(job, channels) if name in having)


def set_one_bass_low_pass(job: Job, *, only_one: bool) -> Job:
    """Say whether the processor has one low-pass for the bass of all channels."""
    processor = job.processor.model_copy(update={"one_bass_low_pass": only_one})
    return job.model_copy(update={"processor": processor})


def with_crossovers(job: Job, asked: Iterable[str]) -> Job:
    """The job with crossovers as they are written in a command, one after the other.

    ``80`` is that of the job; ``M+000=100`` that of one channel, ``height=120`` that of all
    channels of a role; ``full`` in place of a number means that they keep their bass.

    Raises
    ------
    InputError
        If something else is written, or a frequency is outside 20 to 300 Hz.
    """
    for text in asked:
        whom, _, value = text.rpartition("=")
        full = value.strip().lower() == FULL_RANGE
        frequency_hz = None if full else _number(text, value)
        if not whom and frequency_hz is not None:
            limits = tuning_limits(job, crossover_hz=frequency_hz)
            job = job.model_copy(update={"limits": limits.model_copy(update={"full_range": False})})
        else:
            channels = _channels_named(job, whom.strip()) if whom else ()
            job = set_crossover(job, channels, frequency_hz=frequency_hz, full_range=full)
    return job


def _number(text: str, value: str) -> float:
    try:
        return float(value)
    except ValueError:
        raise InputError(
            f"the crossover {text!r} is not one; allowed are a frequency in hertz for all channels "
            "such as 80, or for one channel or role such as M+000=100, height=120, M+000=full"
        ) from None


def _channels_named(job: Job, whom: str) -> tuple[str, ...]:
    named = tuple(c.id for c in job.channels if whom in {c.id, c.role})
    if not named:
        known = ", ".join(dict.fromkeys([*(c.role for c in job.channels), *mains_of(job, ())]))
        raise InputError(f"there is no channel or role {whom}; there are {known}")
    return named


def _with_crossover(job: Job, crossover: OwnCrossover) -> Job:
    if not _is_all(job, crossover.channels):
        kept = _without_own(job, crossover.channels)
        return job.model_copy(update={"own_crossovers": (*kept, crossover)})
    changes: dict[str, Any] = {
        "crossover_hz": crossover.frequency_hz,
        "crossover_order": crossover.order,
        "full_range": crossover.full_range,
    }
    return job.model_copy(update={"limits": job.limits.model_copy(update=changes)})


def _is_all(job: Job, mains: Sequence[str]) -> bool:
    return set(mains) == set(mains_of(job, ()))


def _without_own(job: Job, channels: Sequence[str]) -> Iterable[OwnCrossover]:
    for own in job.own_crossovers:
        rest = tuple(name for name in own.channels if name not in channels)
        if rest:
            yield own.model_copy(update={"channels": rest})
