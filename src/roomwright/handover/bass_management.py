"""Which channels give their bass to the subwoofers, and through which filters."""

from __future__ import annotations

from typing import Any, NamedTuple

from roomwright.handover.listening_modes import tuning_of
from roomwright.model import Crossover, Job


class Redirected(NamedTuple):
    """Main channels with the same filters; they keep their bass where `low_pass` is None.

    `high_passes` are those in the outputs of their loudspeakers.
    """

    channels: tuple[str, ...]
    high_passes: tuple[Crossover, ...]
    low_pass: Crossover | None


def redirected(job: Job) -> tuple[Redirected, ...]:
    """The main channels of a job by their filters, in the order of the job.

    Raises
    ------
    InputError
        If the job has no tuning.
    """
    tuning = tuning_of(job)
    settings = {output.drives: output for output in tuning.outputs}
    alike: dict[tuple[tuple[Crossover, ...], Crossover | None], list[str]] = {}
    for channel in job.channels:
        if channel.role == "lfe":
            continue
        high_passes = dict.fromkeys(
            crossover
            for unit in channel.loudspeakers
            if unit in settings
            for crossover in settings[unit].crossovers
        )
        filters = tuple(high_passes), tuning.low_pass_of(channel.id) if job.subwoofers else None
        alike.setdefault(filters, []).append(channel.id)
    return tuple(Redirected(tuple(names), *filters) for filters, names in alike.items())


def low_passes(job: Job) -> dict[Crossover, tuple[str, ...]]:
    """Each low-pass before the subwoofers, and the channels whose bass passes it."""
    found: dict[Crossover, tuple[str, ...]] = {}
    for alike in redirected(job):
        if alike.low_pass is not None:
            found[alike.low_pass] = found.get(alike.low_pass, ()) + alike.channels
    return found


def redirected_objects(job: Job) -> list[dict[str, Any]]:
    """The main channels by their low-pass, for the settings file."""
    return [
        {
            "channels": list(alike.channels),
            "low_pass": None if alike.low_pass is None else alike.low_pass.model_dump(),
        }
        for alike in redirected(job)
    ]
