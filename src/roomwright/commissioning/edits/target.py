"""Changes of targets, for one channel, a group or all of them.

All are pure: a job in, a changed job out. `channels` are ids of channels; naming all of them, or
none, changes the job's own target, which every channel without a target of its own follows. The
LFE channel stands for the subwoofers.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final, Literal

from roomwright._errors import InputError
from roomwright.commissioning.tuning.live import Live, fitted_name
from roomwright.commissioning.tuning.scope import check_index, check_range, digits
from roomwright.model import FollowRange, Job, OwnTarget, RollOff, Target, TargetPoint
from roomwright.tuning import measured_roll_off

Side = Literal["low", "high"]

#: What a target's points and roll-offs may be.
FREQUENCY_RANGE_HZ: Final = (10.0, 24000.0)
LEVEL_RANGE_DB: Final = (-30.0, 30.0)

#: Points stay this ratio apart, so that none can be dragged over its neighbour.
_CLOSEST: Final = 1.02


def target_shared_by(job: Job, channels: Sequence[str]) -> Target:
    """The target that an edit of these channels starts from: that of the first."""
    return job.target if _is_all(job, channels) else job.target_of(channels[0])


def with_target(job: Job, channels: Sequence[str], target: Target) -> Job:
    """The job with a target for these channels; a target of their own unless they are all."""
    if _is_all(job, channels):
        return job.model_copy(update={"target": target})
    return job.model_copy(
        update={
            "own_targets": (
                *_without_own(job, channels),
                OwnTarget(channels=tuple(channels), target=target),
            )
        }
    )


def follow_job_target(job: Job, channels: Sequence[str]) -> Job:
    """The job with these channels back on the job's target."""
    ids = channels or [channel.id for channel in job.channels]
    return job.model_copy(update={"own_targets": tuple(_without_own(job, ids))})


def reset_target(job: Job, channels: Sequence[str]) -> Job:
    """The job with the default target for these channels."""
    return with_target(job, channels, Target())


def move_point(
    job: Job, channels: Sequence[str], point: int, frequency_hz: float, level_db: float
) -> Job:
    """A target's point moved; it stays between its neighbours.

    Raises
    ------
    InputError
        If there is no such point.
    """
    target = target_shared_by(job, channels)
    points = list(target.points)
    check_index(point, len(points), "point of the target")
    low, high = FREQUENCY_RANGE_HZ
    if point > 0:
        low = points[point - 1].frequency_hz * _CLOSEST
    if point + 1 < len(points):
        high = points[point + 1].frequency_hz / _CLOSEST
    points[point] = TargetPoint(
        frequency_hz=digits(min(max(frequency_hz, low), high)),
        level_db=round(min(max(level_db, LEVEL_RANGE_DB[0]), LEVEL_RANGE_DB[1]), 2),
    )
    return with_target(job, channels, target.model_copy(update={"points": tuple(points)}))


def add_point(job: Job, channels: Sequence[str], frequency_hz: float, level_db: float) -> Job:
    """A target with one more point.

    Raises
    ------
    InputError
        If it is outside 10 Hz to 24 kHz, or falls on another point.
    """
    target = target_shared_by(job, channels)
    check_range(frequency_hz, FREQUENCY_RANGE_HZ, "a point of the target", "Hz")
    check_range(level_db, LEVEL_RANGE_DB, "a point of the target", "dB")
    for point in target.points:
        if 1 / _CLOSEST < point.frequency_hz / frequency_hz < _CLOSEST:
            raise InputError(
                f"the target has a point at {point.frequency_hz:.4g} Hz already; move that one"
            )
    added = TargetPoint(frequency_hz=digits(frequency_hz), level_db=round(level_db, 2))
    points = sorted((*target.points, added), key=lambda p: p.frequency_hz)
    return with_target(job, channels, target.model_copy(update={"points": tuple(points)}))


def remove_point(job: Job, channels: Sequence[str], point: int) -> Job:
    """A target with one point less.

    Raises
    ------
    InputError
        If there is no such point, or it is the last one.
    """
    target = target_shared_by(job, channels)
    check_index(point, len(target.points), "point of the target")
    if len(target.points) == 1:
        raise InputError("the target needs one point at least")
    points = (*target.points[:point], *target.points[point + 1 :])
    return with_target(job, channels, target.model_copy(update={"points": points}))


def add_follow(job: Job, channels: Sequence[str], low_hz: float, high_hz: float) -> Job:
    """A target with a range in which the loudspeaker's own response is followed.

    Ranges it touches become one with it.

    Raises
    ------
    InputError
        If the range does not rise, or lies outside 10 Hz to 24 kHz.
    """
    target = target_shared_by(job, channels)
    for edge in (low_hz, high_hz):
        check_range(edge, FREQUENCY_RANGE_HZ, "a range to follow", "Hz")
    if low_hz >= high_hz:
        raise InputError(
            f"the range to follow begins at {low_hz:g} Hz and ends at {high_hz:g} Hz; it must end "
            "above where it begins"
        )
    apart = [r for r in target.follows if r.high_hz < low_hz or r.low_hz > high_hz]
    touched = [r for r in target.follows if r not in apart]
    joined = FollowRange(
        low_hz=digits(min([low_hz, *(r.low_hz for r in touched)])),
        high_hz=digits(max([high_hz, *(r.high_hz for r in touched)])),
    )
    follows = tuple(sorted((*apart, joined), key=lambda r: r.low_hz))
    return with_target(job, channels, target.model_copy(update={"follows": follows}))


def move_follow(
    job: Job, channels: Sequence[str], number: int, low_hz: float, high_hz: float
) -> Job:
    """One of the ranges to follow given other ends; it stays clear of the others.

    Raises
    ------
    InputError
        If there is no such range.
    """
    target = target_shared_by(job, channels)
    follows = list(target.follows)
    check_index(number, len(follows), "range to follow")
    lowest, highest = FREQUENCY_RANGE_HZ
    if number > 0:
        lowest = follows[number - 1].high_hz
    if number + 1 < len(follows):
        highest = follows[number + 1].low_hz
    low = min(max(low_hz, lowest), highest / _CLOSEST)
    follows[number] = FollowRange(
        low_hz=digits(low), high_hz=digits(max(min(high_hz, highest), low * _CLOSEST))
    )
    return with_target(job, channels, target.model_copy(update={"follows": tuple(follows)}))


def remove_follow(job: Job, channels: Sequence[str], number: int) -> Job:
    """A target without one of its ranges to follow.

    Raises
    ------
    InputError
        If there is no such range.
    """
    target = target_shared_by(job, channels)
    check_index(number, len(target.follows), "range to follow")
    follows = (*target.follows[:number], *target.follows[number + 1 :])
    return with_target(job, channels, target.model_copy(update={"follows": follows}))


def take_roll_off(job: Job, live: Live, channels: Sequence[str], side: Side) -> Job:
    """Targets that roll off as the measurements do, each channel as its own.

    Channels are measured one by one, so each gets a target of its own.

    Raises
    ------
    InputError
        If a channel was not measured, or its response does not roll off.
    """
    for channel_id in channels or [channel.id for channel in job.channels]:
        name = fitted_name(live, job, channel_id)
        average = None if name is None else live.ready.average_of(name)
        if name is None or average is None:
            raise InputError(f"{channel_id} was not measured; there is no roll-off to take")
        target = job.target_of(channel_id)
        level_hz = live.ready.bands_of(job, name).level_hz
        try:
            found = measured_roll_off(
                average.frequency_hz, average.level_db, side, level_hz, target
            )
        except InputError as error:
            raise InputError(f"{channel_id}: {error}") from None
        job = with_target(job, (channel_id,), _with_roll_off(target, found))
    return job


def set_roll_off(
    job: Job, channels: Sequence[str], side: Side, frequency_hz: float, order: int
) -> Job:
    """A target that rolls off at a frequency.

    Raises
    ------
    InputError
        If the frequency lies outside 10 Hz to 24 kHz or the order outside 1 to 8.
    """
    check_range(frequency_hz, FREQUENCY_RANGE_HZ, "a roll-off", "Hz")
    check_range(order, (1, 8), "a roll-off's order", "")
    rolled = RollOff(side=side, frequency_hz=digits(frequency_hz), order=int(order))
    return with_target(job, channels, _with_roll_off(target_shared_by(job, channels), rolled))


def slope_db(roll_off: RollOff) -> float:
    """Slope of a roll-off in decibels an octave."""
    return 6.0 * roll_off.order


def order(slope_db: float) -> int:
    """The order of a roll-off whose slope comes nearest to one in decibels an octave."""
    return round(slope_db / 6.0)


def remove_roll_off(job: Job, channels: Sequence[str], side: Side) -> Job:
    """A target without a roll-off on one side."""
    target = target_shared_by(job, channels)
    kept = tuple(roll_off for roll_off in target.roll_offs if roll_off.side != side)
    return with_target(job, channels, target.model_copy(update={"roll_offs": kept}))


def _is_all(job: Job, channels: Sequence[str]) -> bool:
    return not channels or set(channels) == {channel.id for channel in job.channels}


def _without_own(job: Job, channels: Sequence[str]) -> Iterable[OwnTarget]:
    for own in job.own_targets:
        rest = tuple(channel for channel in own.channels if channel not in channels)
        if rest:
            yield own.model_copy(update={"channels": rest})


def _with_roll_off(target: Target, roll_off: RollOff) -> Target:
    kept = tuple(r for r in target.roll_offs if r.side != roll_off.side)
    both = tuple(sorted((*kept, roll_off), key=lambda r: r.side != "low"))
    return target.model_copy(update={"roll_offs": both})
