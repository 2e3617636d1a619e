"""Whom an edit of the tuning is for: channels, groups, and what they play through."""

from __future__ import annotations

from collections.abc import Sequence

from roomwright._errors import InputError
from roomwright.model import Job


def group_of(job: Job, channel_id: str) -> tuple[str, ...]:
    """The channels of the same role as one, itself included."""
    roles = {channel.id: channel.role for channel in job.channels}
    return tuple(c for c, role in roles.items() if role == roles.get(channel_id))


def units_of(job: Job, channels: Sequence[str]) -> tuple[str, ...]:
    """The loudspeakers of channels, and the subwoofers for the LFE; of all channels if none."""
    units: dict[str, None] = {}
    for channel in job.channels:
        if not channels or channel.id in channels:
            lfe = channel.role == "lfe"
            names = [s.id for s in job.subwoofers] if lfe else channel.loudspeakers
            units.update(dict.fromkeys(names))
    return tuple(units)


def check_range(value: float, allowed: tuple[float, float], what: str, unit: str) -> None:
    """Raise `InputError` if a value is outside what is allowed."""
    low, high = allowed
    if not low <= value <= high:
        unit = f" {unit}" if unit else ""
        raise InputError(f"{what} of {value:g}{unit}; allowed are {low:g} to {high:g}{unit}")


def check_index(index: int, count: int, what: str) -> None:
    """Raise `InputError` if there is nothing of that number."""
    if not 0 <= index < count:
        raise InputError(f"there is no {what} with the number {index + 1}; there are {count}")


def digits(frequency_hz: float) -> float:
    """A frequency with four significant digits."""
    return float(f"{frequency_hz:.4g}")
