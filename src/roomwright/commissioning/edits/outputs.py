"""The Outputs stage: which output of the processor drives what, and what conflicts."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from roomwright._errors import InputError
from roomwright.model import Job, Output
from roomwright.standards.labels import english, label_order

Connection = Literal["analogue", "network"]

_LONGEST_NAME = 40
_MOST_OUTPUTS = 256


@dataclass(frozen=True, slots=True)
class OutputRow:
    """One loudspeaker or subwoofer in the table from channel to output.

    `channels` are those that play through it; subwoofers play the LFE channels and the bass of
    the others. `number` is None where no output drives it. `conflicts` are sentences.
    """

    drives: str
    channels: tuple[str, ...]
    english: str
    number: int | None
    connection: Connection
    name: str
    conflicts: tuple[str, ...]


def output_rows(job: Job) -> tuple[OutputRow, ...]:
    """Every loudspeaker in the customary order, then the subwoofers, each with its output."""
    outputs = {output.drives: output for output in job.outputs}
    subwoofers = {subwoofer.id for subwoofer in job.subwoofers}
    lfe = tuple(channel.id for channel in job.channels if channel.role == "lfe")
    conflicts = _conflicts(job)
    rows = []
    for unit in _in_order(job):
        output = outputs.get(unit)
        played = tuple(channel.id for channel in job.channels if unit in channel.loudspeakers)
        rows.append(
            OutputRow(
                drives=unit,
                channels=lfe if unit in subwoofers else played,
                english="subwoofer" if unit in subwoofers else english((*played, unit)[0]),
                number=output.number if output else None,
                connection=output.connection if output else "analogue",
                name=output.name if output else "",
                conflicts=tuple(conflicts.get(unit, ())),
            )
        )
    return tuple(rows)


def found_rows(rows: Iterable[OutputRow], text: str) -> tuple[OutputRow, ...]:
    """Those of `rows` that hold every word of `text` in any column."""
    words = text.lower().split()
    return tuple(row for row in rows if all(word in _text_of(row) for word in words))


def free_outputs(job: Job) -> tuple[int, ...]:
    """Numbers of the processor's outputs that drive nothing."""
    taken = {output.number for output in job.outputs}
    return tuple(n for n in range(1, job.processor.outputs + 1) if n not in taken)


def assign_output(job: Job, unit: str, number: int | None, *, swap: bool = False) -> Job:
    """Let output `number` drive `unit`; None leaves it without an output.

    Parameters
    ----------
    job
        The job to change.
    unit
        Loudspeaker or subwoofer.
    number
        Output of the processor, from 1.
    swap
        Where the output drives another already, give that one the output `unit` had.

    Raises
    ------
    InputError
        If there is no such unit or output, or the output drives another and `swap` is False.
    """
    _check_units(job, [unit])
    kept = [output for output in job.outputs if output.drives != unit]
    before = _output_of(job, unit)
    if number is None:
        return _with_outputs(job, kept)
    _check_number(job, number)
    taken = next((output for output in kept if output.number == number), None)
    if taken is not None:
        if not swap:
            raise InputError(f"output {number} drives {taken.drives} already")
        kept.remove(taken)
        if before is not None:
            kept.append(taken.model_copy(update={"number": before.number}))
    moved = before or Output(number=number, drives=unit)
    return _with_outputs(job, [*kept, moved.model_copy(update={"number": number})])


def fill_outputs(job: Job, units: Collection[str], first: int) -> Job:
    """Number the outputs of `units` upwards from `first`, in the table's order.

    Raises
    ------
    InputError
        If nothing is chosen, the processor has too few outputs, or one of them drives a unit that
        is not among `units`; the sentence names all that are in the way.
    """
    _check_units(job, units)
    order = [unit for unit in _in_order(job) if unit in units]
    _check_number(job, first)
    last = first + len(order) - 1
    if last > job.processor.outputs:
        raise InputError(
            f"{len(order)} outputs from {first} end at {last}; "
            f"{job.processor.name} has {job.processor.outputs}"
        )
    kept = [output for output in job.outputs if output.drives not in units]
    in_the_way = [output for output in kept if first <= output.number <= last]
    if in_the_way:
        listing = ", ".join(f"{output.number} ({output.drives})" for output in in_the_way)
        raise InputError(f"outputs in the way drive others: {listing}")
    filled = [
        (_output_of(job, unit) or Output(number=number, drives=unit)).model_copy(
            update={"number": number}
        )
        for number, unit in enumerate(order, start=first)
    ]
    return _with_outputs(job, [*kept, *filled])


def connect_outputs(job: Job, units: Collection[str], connection: Connection) -> Job:
    """Say how the signals to `units` leave the processor.

    Raises
    ------
    InputError
        If nothing is chosen, a unit has no output yet, or the connection is unknown.
    """
    if connection not in get_args(Connection):
        raise InputError(f"the connection is {connection!r}; allowed are analogue and network")
    return _changed(job, units, {unit: {"connection": connection} for unit in units})


def name_outputs(job: Job, names: Mapping[str, str]) -> Job:
    """Name the connectors or network channels that drive units, by unit.

    Raises
    ------
    InputError
        If nothing is chosen, a unit has no output yet, or a name has more than 40 characters.
    """
    for name in names.values():
        if len(name.strip()) > _LONGEST_NAME:
            raise InputError(
                f"the name {name[:12]}... has {len(name.strip())} characters; "
                f"up to {_LONGEST_NAME} are allowed"
            )
    return _changed(job, names, {unit: {"name": name.strip()} for unit, name in names.items()})


def clear_outputs(job: Job, units: Collection[str]) -> Job:
    """Leave `units` without an output.

    Raises
    ------
    InputError
        If nothing is chosen or a unit does not exist.
    """
    _check_units(job, units)
    return _with_outputs(job, [output for output in job.outputs if output.drives not in units])


def resize_processor(job: Job, outputs: int) -> Job:
    """Say how many outputs the processor has.

    Raises
    ------
    InputError
        If that is not 1 to 256, or an output beyond it drives something.
    """
    if not 1 <= outputs <= _MOST_OUTPUTS:
        raise InputError(f"the processor has {outputs} outputs; allowed are 1 to {_MOST_OUTPUTS}")
    beyond = [output for output in job.outputs if output.number > outputs]
    if beyond:
        listing = ", ".join(f"{output.number} ({output.drives})" for output in beyond)
        raise InputError(f"outputs beyond {outputs} drive something: {listing}")
    processor = job.processor.model_copy(update={"outputs": outputs})
    return job.model_copy(update={"processor": processor})


def _conflicts(job: Job) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    driven = {output.drives for output in job.outputs}
    for unit in job.units:
        if unit.id not in driven:
            found.setdefault(unit.id, []).append("no output drives it")
    by_name: dict[tuple[str, str], list[Output]] = {}
    for output in job.outputs:
        if output.name:
            by_name.setdefault((output.connection, output.name.lower()), []).append(output)
    for outputs in by_name.values():
        for output in outputs:
            others = [str(other.number) for other in outputs if other is not output]
            if others:
                plural = "s" if len(others) > 1 else ""
                found.setdefault(output.drives, []).append(
                    f"output{plural} {', '.join(others)} has the same name"
                )
    return found


def _changed(job: Job, units: Collection[str], changes: Mapping[str, Mapping[str, str]]) -> Job:
    _check_units(job, units)
    without = [unit for unit in units if _output_of(job, unit) is None]
    if without:
        raise InputError(f"no output drives {', '.join(without)} yet; give it a number first")
    return _with_outputs(
        job,
        [output.model_copy(update=dict(changes.get(output.drives, {}))) for output in job.outputs],
    )


def _with_outputs(job: Job, outputs: Iterable[Output]) -> Job:
    ordered = sorted(outputs, key=lambda output: output.number)
    return job.model_copy(update={"outputs": tuple(ordered)})


def _output_of(job: Job, unit: str) -> Output | None:
    return next((output for output in job.outputs if output.drives == unit), None)


def _in_order(job: Job) -> tuple[str, ...]:
    loudspeakers = label_order(loudspeaker.id for loudspeaker in job.loudspeakers)
    return (*loudspeakers, *(subwoofer.id for subwoofer in job.subwoofers))


def _check_units(job: Job, units: Collection[str]) -> None:
    if not units:
        raise InputError("nothing is chosen; choose at least one loudspeaker or subwoofer")
    known = {unit.id for unit in job.units}
    for unit in units:
        if unit not in known:
            raise InputError(f"{unit} is not a loudspeaker or subwoofer of this job")


def _check_number(job: Job, number: int) -> None:
    if not 1 <= number <= job.processor.outputs:
        raise InputError(
            f"output {number} does not exist; {job.processor.name} has outputs 1 to "
            f"{job.processor.outputs}"
        )


def _text_of(row: OutputRow) -> str:
    number = "" if row.number is None else str(row.number)
    cells = (row.drives, *row.channels, row.english, number, row.connection, row.name)
    return " ".join((*cells, *row.conflicts)).lower()
