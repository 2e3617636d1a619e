"""What the engineer chose: targets, crossovers, settings by hand, listening modes."""

from __future__ import annotations

from collections.abc import Iterator

from roomwright.handover.blocks import Block, Heading, Section, Table, Text
from roomwright.handover.levels import Material
from roomwright.handover.listening_modes import mode_object
from roomwright.handover.wording import (
    MISSING,
    biquad,
    channels_of,
    english_of,
    hertz,
    number,
    short_crossover,
)
from roomwright.model import ByHand, Job, ListeningMode, OwnCrossover, RollOff, Target

#: A space at which no line breaks.
_TIED = "\N{NO-BREAK SPACE}"

_ENDS = {"low": "low end", "high": "high end"}


def choices(material: Material) -> Section | None:
    """Targets, crossovers of single channels, settings by hand, modes; None without a tuning."""
    job = material.job
    if job.tuning is None:
        return None
    blocks: list[Block] = [_targets(job)]
    if job.own_crossovers:
        blocks.append(_crossovers(job))
    blocks += [Heading("Set by hand"), *_by_hand(job), Heading("Listening modes"), *_modes(job)]
    return Section("Targets, settings by hand and listening modes", tuple(blocks))


def _targets(job: Job) -> Table:
    whose = "every other channel" if job.own_targets else "every channel"
    rows = [(whose, *_target_row(job.target))]
    rows += [(", ".join(own.channels), *_target_row(own.target)) for own in job.own_targets]
    return Table(
        head=("Channels", "Target: level re that at 1 kHz", "Roll-offs", "Own response followed"),
        rows=tuple(rows),
        widths=(0.8, 2.4, 1.2, 1),
        align="llll",
        caption="Targets that the filters aim for: straight lines over log frequency between the "
        "points given; the LFE's is that of the subwoofers. Within a range to follow a "
        "loudspeaker keeps its own response.",
    )


def _target_row(target: Target) -> tuple[str, str, str]:
    points = ", ".join(
        f"{hertz(p.frequency_hz)} {number(p.level_db, 1, signed=True)} dB".replace(" ", _TIED)
        for p in target.points
    )
    follows = ", ".join(f"{hertz(f.low_hz)} to {hertz(f.high_hz)}" for f in target.follows)
    rolls = "; ".join(_roll_off(roll) for roll in target.roll_offs)
    return points, rolls or "none", follows or "none"


def _roll_off(roll: RollOff) -> str:
    return f"{_ENDS[roll.side]} −3 dB at {hertz(roll.frequency_hz)}, {6 * roll.order} dB/octave"


def _crossovers(job: Job) -> Table:
    return Table(
        head=("Channels", "Crossover to the subwoofers"),
        rows=tuple((", ".join(own.channels), _crossover(job, own)) for own in job.own_crossovers),
        widths=(1, 1),
        align="ll",
        caption="Crossovers of single channels, chosen by the engineer; every other channel has "
        "the job's.",
    )


def _crossover(job: Job, own: OwnCrossover) -> str:
    high_pass = job.crossover_of(own.channels[0])
    if high_pass is None:
        return "full range: no high-pass, keeps its bass"
    return f"{short_crossover(high_pass)}, {short_crossover(high_pass.other_side)}"


def _by_hand(job: Job) -> Iterator[Block]:
    hands = [hand for hand in job.by_hand if hand != ByHand(drives=hand.drives)]
    if not hands:
        yield Text(
            "Nothing: every filter, trim, delay and polarity is as computed from the survey."
        )
        return
    numbers = {output.drives: str(output.number) for output in job.outputs}
    yield Table(
        head=("Output", "Drives", "Name", "Trim, dB", "Delay, ms", "Polarity", "Filters"),
        rows=tuple(
            (
                numbers.get(hand.drives, MISSING),
                hand.drives,
                english_of(job, hand.drives) if channels_of(job, hand.drives) else "subwoofer",
                _change(hand.trim_change_db, 1),
                _change(1e3 * hand.delay_change_s, 2),
                "reversed" if hand.flipped else MISSING,
                _filters(hand),
            )
            for hand in hands
        ),
        widths=(0, 0, 1, 0, 0, 0, 2),
        align="rllrrll",
        caption="What the engineer changed of what was computed: trims and delays on top of it, "
        "polarities against it, filters that were placed by hand. It is contained in the settings "
        "given above.",
    )


def _change(value: float, decimals: int) -> str:
    return number(value, decimals, signed=True) if value else MISSING


def _filters(hand: ByHand) -> str:
    parts = [biquad(section) for section in hand.biquads]
    if hand.no_more_biquads:
        parts.append("no others are computed" if parts else "none, and none are computed")
    return ";  ".join(parts) or MISSING


def _modes(job: Job) -> Iterator[Block]:
    if not job.modes:
        yield Text("There is one listening mode, the reference: the settings given above.")
        return
    yield Table(
        head=("Mode", "Bass", "Treble", "Tilt, dB/octave", "All trims, dB", "Files"),
        rows=tuple(_mode_row(job, mode) for mode in job.modes),
        widths=(1, 1, 1, 0, 0, 0),
        align="lllrrl",
        caption="Tone controls of each listening mode, the same for all channels, on top of the "
        "reference: shelves below and above the frequencies given, a tilt around 1 kHz. All trims "
        "are lowered so that no output has a gain above 0 dB. Whole settings stand in the folders "
        "named.",
    )


def _mode_row(job: Job, mode: ListeningMode) -> tuple[str, ...]:
    settings = mode_object(job, mode)
    return (
        mode.name,
        _shelf(mode.bass_db, f"below {hertz(mode.bass_hz)}"),
        _shelf(mode.treble_db, f"above {hertz(mode.treble_hz)}"),
        _change(mode.tilt_db, 1),
        number(settings["trim_change_db"], 1, signed=True),
        settings["folder"],
    )


def _shelf(gain_db: float, where: str) -> str:
    return f"{number(gain_db, 1, signed=True)} dB {where}" if gain_db else MISSING
