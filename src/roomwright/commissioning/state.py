"""How far a job is: which stages stand, and which are out of date because of what."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from roomwright.commissioning.edits.outputs import output_rows
from roomwright.commissioning.hand_over import handover_basis
from roomwright.commissioning.plan_view import unit_label
from roomwright.commissioning.survey.circumstances import changed_since
from roomwright.commissioning.survey.responses import takes_of
from roomwright.layout import PlacementRow, audit
from roomwright.model import Job, digest
from roomwright.tuning import tuning_basis

#: So many of the things that changed are named.
_NAMES_SHOWN = 3


@dataclass(frozen=True, slots=True)
class StageState:
    """One stage: empty, done, or out of date, and in one line what is missing or changed."""

    stage: str
    state: Literal["empty", "done", "out of date"]
    says: str


def stages(job: Job, label: Callable[[str], str] = str) -> tuple[StageState, ...]:
    """The state of every stage of a job, in the order of the work.

    `label` gives the name a channel is spoken of by; by default its id.
    """

    def named(unit: str) -> str:
        return unit_label(job, unit, label)

    return (
        StageState(
            "room", "done", f"{job.room.volume_m3:.0f} m³, {_count(len(job.seats), 'seat')}"
        ),
        _layout(job, named),
        _outputs(job, named),
        _survey(job, named),
        _tuning(job),
        _proof(job, named),
        _handover(job),
    )


def misplaced(job: Job) -> tuple[PlacementRow, ...]:
    """Loudspeakers outside their range of angles as seen from the main seat."""
    return tuple(row for row in audit(job) if row.seat == job.main_seat and not row.within)


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _room(job: Job) -> StageState:
    says = f"{job.room.volume_m3:.0f} m³, {_count(len(job.seats), 'seat')}"
    return StageState("room", "done", says)


def _layout(job: Job, named: Callable[[str], str]) -> StageState:
    if not job.channels:
        return StageState("layout", "empty", "no channels are placed")
    outside = misplaced(job)
    layout = "labels of its own" if "," in job.layout else job.layout
    says = (
        f"{layout}: {_count(len(job.loudspeakers), 'loudspeaker')}, "
        f"{_count(len(job.subwoofers), 'subwoofer')}"
    )
    if outside:
        says += f"; outside their range: {', '.join(named(row.loudspeaker) for row in outside)}"
    return StageState("layout", "done", says)


def _outputs(job: Job, named: Callable[[str], str]) -> StageState:
    if not job.outputs:
        return StageState("outputs", "empty", "no output drives anything")
    network = sum(output.connection == "network" for output in job.outputs)
    says = f"{len(job.outputs)} of {job.processor.outputs} outputs in use"
    if network:
        says += f", {network} on the network"
    conflicts = [named(row.drives) for row in output_rows(job) if row.conflicts]
    if conflicts:
        says += f"; conflicts: {', '.join(conflicts)}"
    return StageState("outputs", "done", says)


def _survey(job: Job, named: Callable[[str], str]) -> StageState:
    takes = [take for take in takes_of(job, "survey") if take.kind != "noise"]
    if not takes:
        return StageState("survey", "empty", "rehearse, or import recordings")
    units = {unit.id for unit in job.units}
    missing = sorted(units - {take.source for take in takes})
    stations = len({take.station for take in takes})
    says = f"{_count(len(takes), 'take')} at {_count(stations, 'station')}"
    if missing:
        says += f"; not measured: {', '.join(map(named, missing))}"
    changed = changed_since(job, takes)
    if changed:
        return StageState(
            "survey",
            "out of date",
            f"{_listed([named(name) for name in changed])} changed; measure again",
        )
    return StageState("survey", "done", says)


def _tuning(job: Job) -> StageState:
    if job.tuning is None:
        return StageState("tuning", "empty", "tune when the survey stands")
    if job.tuning.based_on != tuning_basis(job):
        return StageState(
            "tuning", "out of date", "measurements, channels, target or limits changed; tune again"
        )
    filters = sum(len(output.biquads) for output in job.tuning.outputs)
    return StageState(
        "tuning",
        "done",
        f"{_count(len(job.tuning.outputs), 'output')}, {_count(filters, 'biquad')}",
    )


def _proof(job: Job, named: Callable[[str], str]) -> StageState:
    takes = takes_of(job, "proof")
    if job.proof is None or job.tuning is None:
        waits = "prove when the tuning stands" if job.tuning is None else "re-measure and judge"
        return StageState("proof", "empty", waits)
    if job.proof.tuning != digest(job.tuning):
        return StageState("proof", "out of date", "the tuning changed; prove again")
    changed = changed_since(job, takes)
    if changed:
        return StageState(
            "proof",
            "out of date",
            f"{_listed([named(name) for name in changed])} changed; prove again",
        )
    if not takes:
        return StageState("proof", "done", "judged by the prediction alone")
    return StageState("proof", "done", f"{_count(len(takes), 'take')} with the tuning loaded")


def _listed(names: Sequence[str]) -> str:
    """The first three names, and how many more."""
    shown = ", ".join(names[:_NAMES_SHOWN])
    more = len(names) - _NAMES_SHOWN
    return f"{shown} and {more} more" if more > 0 else shown


def _handover(job: Job) -> StageState:
    if job.handover is None:
        waits = (
            "hand over when the proof stands"
            if job.proof is None
            else "the proof stands; hand over"
        )
        return StageState("handover", "empty", waits)
    if job.handover.made_of != handover_basis(job):
        return StageState("handover", "out of date", "the job changed; hand over again")
    return StageState("handover", "done", "report and files are those of this job")
