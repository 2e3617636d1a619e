"""The first page: the job in facts, the result in plain words, the verdict on each criterion."""

from __future__ import annotations

from collections.abc import Iterator

from roomwright.handover.bass import spread_in_words
from roomwright.handover.blocks import (
    Block,
    Bullets,
    Facts,
    Heading,
    Note,
    Section,
    Small,
    Table,
    Text,
)
from roomwright.handover.levels import Material
from roomwright.handover.origin import is_simulated, origin_note
from roomwright.handover.wording import MISSING, count, printed, quantity
from roomwright.proof import Verdict

#: So many criteria that are not met are told of on the first page.
_TOLD = 3

#: How the verdict on a criterion is said.
WORDS = {True: "met", False: "not met", None: "not judged"}


def summary(material: Material) -> Section:
    """What was done, what came of it, and every criterion."""
    blocks: list[Block] = [Facts(tuple(_facts(material)))]
    note = origin_note(material)
    if note:
        blocks.append(Note(note))
    verdicts = final_verdicts(material)
    if verdicts:
        blocks.append(Text(" ".join(_in_words(material, verdicts))))
        blocks.append(_table(material, verdicts))
        listed = "; ".join(f"{letter}: {source}" for source, letter in sources(verdicts).items())
        blocks.append(Small(f"Sources. {printed(listed)}."))
        blocks += _not_met(verdicts)
    return Section("Summary", tuple(blocks))


def final_verdicts(material: Material) -> tuple[Verdict, ...]:
    """The verdicts on the measured result, or else on the predicted one."""
    return material.content.verdicts_measured or material.content.verdicts_predicted


def sources(verdicts: tuple[Verdict, ...]) -> dict[str, str]:
    """A letter for each source of a criterion, in the order of the criteria."""
    unique = dict.fromkeys(verdict.source for verdict in verdicts)
    return {source: chr(ord("a") + place) for place, source in enumerate(unique)}


def _facts(material: Material) -> Iterator[tuple[str, str]]:
    job, content = material.job, material.content
    mains = sum(channel.role != "lfe" for channel in job.channels)
    lfe = len(job.channels) - mains
    yield "Layout", job.layout if len(job.layout) < 30 else f"{len(job.channels)} channels"
    channels = count(mains, "main channel")
    yield "Channels", channels + (f" and {count(lfe, 'LFE channel')}" if lfe else "")
    speakers = count(len(job.loudspeakers), "loudspeaker")
    yield "Equipment", f"{speakers}, {count(len(job.subwoofers), 'subwoofer')}"
    yield "Processor", f"{job.processor.name}, {job.sampling_rate_hz / 1000:g} kHz"
    yield "Seats", f"{len(job.seats)}; main seat {job.main_seat}"
    if content.survey is not None:
        places = count(len(content.survey.stations), "microphone station")
        yield "Survey", f"{places}, {count(len(content.survey.sources), 'source')}"
    proved = content.measured
    if proved is not None:
        yield "Proof", f"re-measured, {count(len(proved.sources), 'channel')}"
    else:
        yield "Proof", "none; the result is a prediction"
    yield "Report made on", content.made_on


def _in_words(material: Material, verdicts: tuple[Verdict, ...]) -> Iterator[str]:
    met = sum(verdict.passed is True for verdict in verdicts)
    failed = sum(verdict.passed is False for verdict in verdicts)
    open_ones = sum(verdict.passed is None for verdict in verdicts)
    unknown = f" and {open_ones} could not be judged" if open_ones else ""
    whose = "simulated and re-measured" if is_simulated(material, "proof") else "re-measured"
    yield (
        f"With the tuning loaded, {met} of {count(len(verdicts), 'criterion', 'criteria')} are "
        f"met, {failed} {'is' if failed == 1 else 'are'} not met{unknown}; the verdict is on the "
        f"{whose if material.content.verdicts_measured else 'predicted'} result."
    )
    found = {verdict.criterion: quantity(verdict.value, verdict.unit) for verdict in verdicts}
    level, arrival = found.get("level_match", MISSING), found.get("arrival_match", MISSING)
    if level != MISSING:
        yield (
            f"At the main seat every main channel plays within {level.removeprefix('< ')} of their "
            "mean."
        )
    if arrival != MISSING:
        yield f"They arrive there within {arrival.removeprefix('< ')} of each other."
    yield spread_in_words(material)


def _not_met(verdicts: tuple[Verdict, ...]) -> tuple[Block, ...]:
    """What was found on the criteria that are not met, the first few."""
    failed = [verdict for verdict in verdicts if verdict.passed is False]
    items = [(f"{verdict.title}.", printed(verdict.reason)) for verdict in failed]
    if not items:
        return ()
    words = "What is not met, and by how much"
    if len(items) > _TOLD:
        words = f"What is not met, and by how much: the first {_TOLD}"
    return (Heading(words), Bullets(tuple(items[:_TOLD])))


def _table(material: Material, verdicts: tuple[Verdict, ...]) -> Table:
    predicted = {v.criterion: v for v in material.content.verdicts_predicted}
    measured = {v.criterion: v for v in material.content.verdicts_measured}
    letters = sources(verdicts)
    rows = tuple(
        (
            verdict.title,
            printed(verdict.limit),
            _value(predicted.get(verdict.criterion)),
            _value(measured.get(verdict.criterion)),
            WORDS[verdict.passed],
            letters[verdict.source],
        )
        for verdict in verdicts
    )
    return Table(
        head=("Criterion", "Required", "Predicted", "Re-measured", "Verdict", "Source"),
        rows=rows,
        widths=(1.0, 1.35, 0, 0, 0, 0),
        align="llrrlc",
        caption="Every criterion: what it requires, what the design predicted and what was "
        "re-measured afterwards. What was found, and from which data, stands under “The criteria "
        "in detail”.",
        marked=4,
    )


def _value(verdict: Verdict | None) -> str:
    return MISSING if verdict is None else quantity(verdict.value, verdict.unit)
