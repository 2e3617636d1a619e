"""Changes of where and how a survey measures: each takes a job and returns another."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

from pydantic import ValidationError

from roomwright._errors import InputError
from roomwright.commissioning.edits.layout import choose_layout
from roomwright.commissioning.edits.outputs import resize_processor
from roomwright.commissioning.settle import settled
from roomwright.model import Fault, Interface, Job, Point, RehearsalSetup, Station, Sweep


def with_another_station(job: Job, position_m: Point) -> Job:
    """The job with a station more, named X1, X2, ... by the first free number."""
    taken = {station.id for station in job.stations}
    name = next(f"X{n}" for n in range(1, len(taken) + 2) if f"X{n}" not in taken)
    x, y, z = (round(value, 3) for value in position_m)
    return job.model_copy(
        update={"stations": (*job.stations, Station(id=name, position_m=(x, y, z)))}
    )


def without_stations(job: Job, names: Collection[str]) -> Job:
    """The job without stations and their takes; the recordings stay in the folder.

    Raises
    ------
    InputError
        If there is no such station, or none would be left.
    """
    known = {station.id for station in job.stations}
    for name in names:
        if name not in known:
            raise InputError(f"there is no station {name}")
    kept = tuple(station for station in job.stations if station.id not in names)
    if not kept:
        raise InputError("a survey needs at least one station")
    return settled(job.model_copy(update={"stations": kept}))


def unused_stations(job: Job) -> tuple[str, ...]:
    """Stations at which nothing was recorded, if something was recorded elsewhere."""
    used = {take.station for take in job.takes}
    return tuple(s.id for s in job.stations if s.id not in used) if used else ()


def with_sweep(job: Job, **changes: float) -> Job:
    """The job with fields of its sweep changed; takes keep the sweep they were made with.

    Raises
    ------
    InputError
        If a value is not allowed.
    """
    given = {**job.sweep.model_dump(), **changes}
    return job.model_copy(update={"sweep": _valid(Sweep, given, "sweep")})


def with_interface(job: Job, **changes: str | float | None) -> Job:
    """The job with fields of its audio interface changed; whether it is there is not asked.

    Raises
    ------
    InputError
        If a value is not allowed, or the acoustic reference is no output of the job.
    """
    given = {**job.interface.model_dump(), **changes}
    interface: Interface = _valid(Interface, given, "interface")
    numbers = [output.number for output in job.outputs]
    if interface.reference_output not in (None, *numbers):
        raise InputError(
            f"output {interface.reference_output} drives nothing; the acoustic reference is one "
            f"of {', '.join(map(str, numbers)) or 'no outputs yet'}"
        )
    return job.model_copy(update={"interface": interface})


def with_rehearsal(job: Job, **changes: float) -> Job:
    """The job with its simulated cinema departing otherwise from an ideal one.

    Raises
    ------
    InputError
        If a value is not allowed.
    """
    given = {**job.rehearsal.model_dump(), **changes}
    return job.model_copy(update={"rehearsal": _valid(RehearsalSetup, given, "rehearsal")})


def with_fault(
    job: Job, kind: str, unit: str, *, other: str | None = None, amount: float = 0.0
) -> Job:
    """The job with a fault planted in the output that drives `unit`.

    Raises
    ------
    InputError
        If the kind is unknown, or no output drives what it needs.
    """
    numbers = {output.drives: output.number for output in job.outputs}
    for name in (unit, other):
        if name is not None and name not in numbers:
            raise InputError(f"no output drives {name or 'nothing'}; a fault needs one")
    given = {
        "kind": kind,
        "output": numbers[unit],
        "other": None if other is None else numbers[other],
        "amount": amount,
    }
    fault = _valid(Fault, given, "fault")
    setup = job.rehearsal.model_copy(update={"faults": (*job.rehearsal.faults, fault)})
    return job.model_copy(update={"rehearsal": setup})


def without_fault(job: Job, number: int) -> Job:
    """The job without the planted fault at a place, from 0, in their list.

    Raises
    ------
    InputError
        If there is none.
    """
    faults = job.rehearsal.faults
    if not 0 <= number < len(faults):
        raise InputError(f"there is no planted fault {number + 1}")
    kept = (*faults[:number], *faults[number + 1 :])
    setup = job.rehearsal.model_copy(update={"faults": kept})
    return job.model_copy(update={"rehearsal": setup})


def fault_words(job: Job, fault: Fault) -> str:
    """A planted fault in one line."""
    drives = {output.number: output.drives for output in job.outputs}
    drives |= {0: "any output"}
    amount = f"{fault.amount:g}"
    words = {
        "reversed": "polarity reversed",
        "dead": "dead",
        "quiet": f"{fault.amount:+g} dB",
        "late": f"{1e3 * fault.amount:g} ms late",
        "swapped": f"swapped with {drives.get(fault.other or 0, fault.other)}",
        "buzz": "buzzes",
        "distorting": f"distorts by {amount} %",
        "ways_swapped": "woofer and tweeter swapped",
        "no_tweeter": "tweeter missing",
        "no_woofer": "woofer missing",
        "displaced": f"stands {amount} m from its plan",
        "door": "a door slams",
        "voice": "somebody speaks",
        "aircraft": "an aircraft passes",
        "fan": "a fan runs",
        "dropout": "samples are lost",
        "wrong_rate": "recorded at another rate",
        "silent_input": "the microphone's input is silent",
        "wrong_input": "the microphone's input carries the loop-back",
        "hot_input": f"the microphone's input is {fault.amount:+g} dB too high",
        "unmoved": "the microphone stays where it stood",
        "moved": f"the microphone is moved by {amount} m",
    }
    where = "" if fault.station is None else f" at {fault.station}"
    return f"{drives.get(fault.output, fault.output)}{where}: {words[fault.kind]}"


def laid_out_for(job: Job, labels: Sequence[str]) -> Job:
    """The job with a loudspeaker for each of the labels recordings were named by, and no other.

    The processor gets as many outputs as that takes. What is gone leaves the job with its takes.

    Raises
    ------
    InputError
        If a label is unknown.
    """
    outputs = max(job.processor.outputs, len(labels))
    roomy = resize_processor(job, outputs)
    laid_out, _ = choose_layout(roomy, ",".join(labels), subwoofers=0)
    return laid_out


def _valid(document: type[Any], given: dict[str, Any], name: str) -> Any:  # noqa: ANN401
    try:
        return document.model_validate(given)
    except ValidationError as error:
        detail = error.errors()[0]
        field = " ".join(str(step) for step in detail["loc"])
        what = detail["msg"].removeprefix("Value error, ")
        raise InputError(
            f"{name} {field}: {what[0].lower()}{what[1:]}".replace("  ", " ")
        ) from None
