"""Where each main channel hands its bass to the subwoofers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from roomwright.model import Channel, Crossover, Finding, Job, OwnLowPass, Tuning
from roomwright.tuning.sources import Source

Findings = tuple[Finding, ...]
MainChannels = Sequence[tuple[Channel, tuple[Source, ...]]]

#: Main loudspeakers that all reach this low keep their bass (common practice, no source).
_FULL_RANGE_HZ = 30.0


@dataclass(frozen=True, slots=True)
class Crossovers:
    """The crossover of each main channel by its id, None where it keeps its bass.

    `high_passes` stand in the outputs of its loudspeakers, `low_passes` in its way to the
    subwoofers: the other side of the same crossover, unless the processor has one for all.
    """

    high_passes: Mapping[str, Crossover | None]
    low_passes: Mapping[str, Crossover | None]

    def frequency_hz(self, channel_id: str) -> float | None:
        """Where a channel hands its bass over; None if it keeps it."""
        high_pass = self.high_passes.get(channel_id)
        return None if high_pass is None else high_pass.frequency_hz

    def high_passes_of(self, job: Job, unit_id: str) -> tuple[Crossover, ...]:
        """The high-pass in a loudspeaker's output, that of the first channel it plays."""
        owner = owner_of(job, unit_id)
        high_pass = None if owner is None else self.high_passes.get(owner)
        return () if high_pass is None else (high_pass,)

    def loaded(self, tuning: Tuning) -> Tuning:
        """A tuning with these low-passes: the one that most channels have, and those of others."""
        common = _commonest(self.low_passes)
        own: dict[Crossover | None, list[str]] = {}
        for name, low_pass in self.low_passes.items():
            if low_pass != common:
                own.setdefault(low_pass, []).append(name)
        return tuning.model_copy(
            update={
                "bass_low_pass": common,
                "own_low_passes": tuple(
                    OwnLowPass(channels=tuple(names), low_pass=low_pass)
                    for low_pass, names in own.items()
                ),
            }
        )


def bass_crossovers(
    job: Job, channels: MainChannels, subwoofers: Sequence[Source]
) -> tuple[Crossovers, Findings]:
    """The crossover of every main channel of a job, and what is doubtful about them.

    All channels keep their bass where there is no subwoofer; those without a crossover of their
    own also where every measured main loudspeaker reaches 30 Hz. A channel that plays only
    through loudspeakers of another one has that one's.

    Parameters
    ----------
    job
        Its channels, crossovers and capability sheet.
    channels
        The main channels with their measured loudspeakers.
    subwoofers
        The measured subwoofers.
    """
    names = [channel.id for channel in job.channels if channel.role != "lfe"]
    none: dict[str, Crossover | None] = dict.fromkeys(names)
    if not subwoofers:
        text = "there is no measured subwoofer; the main channels keep their bass, the LFE is lost"
        return Crossovers(none, none), (_note(text),)
    mains = [source for _, of_channel in channels for source in of_channel]
    own = {name for crossover in job.own_crossovers for name in crossover.channels}
    found: Findings = ()
    asked = {name: job.crossover_of(name) for name in names}
    if mains and all(source.driver_hz[0] <= _FULL_RANGE_HZ for source in mains):
        asked |= {name: None for name in names if name not in own}
        text = f"every main loudspeaker reaches {_FULL_RANGE_HZ:g} Hz; each keeps its bass"
        found = (_note(text + (", unless it has a crossover of its own" if own else "")),)
    high_passes = {name: asked[_player(job, name)] for name in names}
    low_passes = {name: high and high.other_side for name, high in high_passes.items()}
    if job.processor.one_bass_low_pass:
        common = _commonest(low_passes)
        found += _only_one(job, low_passes, common)
        low_passes = {name: low and common for name, low in low_passes.items()}
    crossovers = Crossovers(high_passes, low_passes)
    found += _reach(job, crossovers, channels, subwoofers) + _mixed(job, crossovers)
    return crossovers, found


def highest_crossover_hz(job: Job) -> float:
    """Up to where the subwoofers play for any main channel; the job's crossover if for none."""
    asked = (job.crossover_of(channel.id) for channel in job.channels if channel.role != "lfe")
    used = [crossover.frequency_hz for crossover in asked if crossover is not None]
    return max(used, default=job.limits.crossover_hz)


def owner_of(job: Job, unit_id: str) -> str | None:
    """The first main channel that plays through a loudspeaker: its settings are the channel's."""
    mains = (channel for channel in job.channels if channel.role != "lfe")
    return next((channel.id for channel in mains if unit_id in channel.loudspeakers), None)


def _player(job: Job, channel_id: str) -> str:
    """The channel whose crossover a channel's loudspeakers have: its own if one is its own."""
    units = next(c.loudspeakers for c in job.channels if c.id == channel_id)
    owners = [owner_of(job, unit) or channel_id for unit in units]
    return channel_id if channel_id in owners or not owners else owners[0]


def _commonest(filters: Mapping[str, Crossover | None]) -> Crossover | None:
    """The filter that most channels have; the first of several; None if none has one."""
    counted = Counter(crossover for crossover in filters.values() if crossover is not None)
    return counted.most_common(1)[0][0] if counted else None


def _reach(
    job: Job, crossovers: Crossovers, channels: MainChannels, subwoofers: Sequence[Source]
) -> Findings:
    """What lies beyond the reach of loudspeakers and subwoofers."""
    found = []
    kept_on_purpose = {name for name in crossovers.high_passes if job.crossover_of(name) is None}
    for channel, of_channel in channels:
        at_hz = crossovers.frequency_hz(channel.id)
        for source in of_channel:
            low_hz = source.driver_hz[0]
            if at_hz is not None and low_hz > at_hz:
                text = (
                    f"reaches down to {low_hz:g} Hz only, and the crossover stands at "
                    f"{at_hz:g} Hz; a dip is left between"
                )
                found.append(Finding(severity="doubt", where=source.id, text=text))
            if channel.id in kept_on_purpose and low_hz > _FULL_RANGE_HZ:
                text = (
                    f"is full range by choice and reaches down to {low_hz:g} Hz only; the bass "
                    "of its channel below that is lost"
                )
                found.append(Finding(severity="doubt", where=source.id, text=text))
    used = [low.frequency_hz for low in crossovers.low_passes.values() if low is not None]
    for source in subwoofers:
        if used and source.driver_hz[1] < max(used):
            text = (
                f"reaches up to {source.driver_hz[1]:g} Hz only, and "
                f"{'the' if min(used) == max(used) else 'a'} crossover stands at {max(used):g} Hz"
            )
            found.append(Finding(severity="doubt", where=source.id, text=text))
    return tuple(found)


def _mixed(job: Job, crossovers: Crossovers) -> Findings:
    """Channels that play through loudspeakers with another crossover than theirs."""
    found = []
    for channel in job.channels:
        if channel.role == "lfe":
            continue
        own = crossovers.high_passes[channel.id]
        wanted = () if own is None else (own,)
        others = [
            unit for unit in channel.loudspeakers if crossovers.high_passes_of(job, unit) != wanted
        ]
        if others:
            text = (
                f"also plays through {', '.join(others)}, which has the crossover of another "
                "channel; around the crossovers the two do not add up to the target"
            )
            found.append(Finding(severity="doubt", where=channel.id, text=text))
    return tuple(found)


def _only_one(
    job: Job, low_passes: Mapping[str, Crossover | None], common: Crossover | None
) -> Findings:
    """Channels whose crossover the processor's only low-pass does not complete."""
    others = [name for name, low in low_passes.items() if low not in (None, common)]
    if common is None or not others:
        return ()
    text = (
        f"{job.processor.name} has one low-pass for the bass of all channels; it stands at "
        f"{common.frequency_hz:g} Hz, {6 * common.order} dB/octave, and does not complete the "
        f"crossovers of {', '.join(others)}: those leave a dip or a hump, as predicted"
    )
    return (Finding(severity="doubt", where="bass management", text=text),)


def _note(text: str) -> Finding:
    return Finding(severity="note", where="bass management", text=text)
