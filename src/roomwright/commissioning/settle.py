"""A job made whole again after something left it or came to it."""

from __future__ import annotations

from roomwright.model import Channel, Job, Output


def settled(job: Job) -> Job:
    """The job without what refers to things that are gone, and with outputs for what is new.

    Takes of what is gone leave the job's list; their files stay in the folder, and undoing brings
    them back. New loudspeakers and subwoofers get the lowest free outputs, as far as there are
    any.
    """
    job = _with_channels(job)
    kept_outputs = _kept(job)
    job = job.model_copy(update={"outputs": _outputs(job)})
    units = {unit.id for unit in job.units}
    channels = {channel.id for channel in job.channels}
    mains = {channel.id for channel in job.channels if channel.role != "lfe"}
    stations = {station.id for station in job.stations}
    sources = {"survey": units | {"background"}, "proof": channels | {"background"}}
    numbers = {output.number for output in kept_outputs}
    tuning = job.tuning
    if tuning is not None:
        kept = tuple(output for output in tuning.outputs if output.drives in units)
        tuning = tuning.model_copy(update={"outputs": kept}) if kept != tuning.outputs else tuning
    return job.model_copy(
        update={
            "takes": tuple(
                take
                for take in job.takes
                if take.source in sources[take.stage] and take.station in stations
            ),
            "rehearsal": job.rehearsal.model_copy(
                update={
                    "faults": tuple(
                        fault
                        for fault in job.rehearsal.faults
                        if {fault.output, fault.other} <= numbers | {None, 0}
                    )
                }
            ),
            "own_targets": tuple(
                own.model_copy(update={"channels": mine})
                for own in job.own_targets
                if (mine := tuple(name for name in own.channels if name in channels))
            ),
            "bass": job.bass.model_copy(
                update={
                    "launching": tuple(name for name in job.bass.launching if name in units),
                    "absorbing": tuple(name for name in job.bass.absorbing if name in units),
                    "held_back": tuple(name for name in job.bass.held_back if name in stations),
                }
            ),
            "own_crossovers": tuple(
                own.model_copy(update={"channels": mine})
                for own in job.own_crossovers
                if (mine := tuple(name for name in own.channels if name in mains))
            ),
            "levels": job.levels.model_copy(
                update={"trims": tuple(t for t in job.levels.trims if t.drives in units)}
            ),
            "by_hand": tuple(hand for hand in job.by_hand if hand.drives in units),
            "tuning": tuning,
        }
    )


def _with_channels(job: Job) -> Job:
    """Channels play through the loudspeakers that are there; those left with none are gone."""
    there = {loudspeaker.id for loudspeaker in job.loudspeakers}
    channels: list[Channel] = []
    for channel in job.channels:
        kept = tuple(name for name in channel.loudspeakers if name in there)
        if kept or channel.role == "lfe":
            channels.append(channel.model_copy(update={"loudspeakers": kept}))
    return job.model_copy(update={"channels": tuple(channels)})


def _kept(job: Job) -> tuple[Output, ...]:
    units = {unit.id for unit in job.units}
    return tuple(output for output in job.outputs if output.drives in units)


def _outputs(job: Job) -> tuple[Output, ...]:
    kept = _kept(job)
    driven = {output.drives for output in kept}
    taken = {output.number for output in kept}
    free = [n for n in range(1, job.processor.outputs + 1) if n not in taken]
    new = [unit.id for unit in job.units if unit.id not in driven]
    added = [Output(number=n, drives=name) for n, name in zip(free, new, strict=False)]
    return tuple(sorted((*kept, *added), key=lambda output: output.number))
