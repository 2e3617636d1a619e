"""The command that sets the levels of a survey, in the rehearsal room."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from roomwright._errors import InputError
from roomwright.cli import show

if TYPE_CHECKING:
    from roomwright.commissioning.levels.set_levels import LevelRow
    from roomwright.store import JobFolder


def levels(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="The job folder.")],
    offset: Annotated[
        list[str] | None,
        typer.Option(
            help="A group's own offset, such as subwoofers:+3; groups are front, surround, "
            "height and subwoofers. May be given several times; kept in the job."
        ),
    ] = None,
    reference_db: Annotated[
        float | None, typer.Option(help="Level wanted at the main seat, dB SPL; kept in the job.")
    ] = None,
    check: Annotated[
        bool, typer.Option("--check", help="Measure and say what is asked for; set nothing.")
    ] = False,
    back: Annotated[
        bool,
        typer.Option("--return", help="Play the stored reference and return to its level."),
    ] = False,
    json: Annotated[
        bool, typer.Option("--json", help="Print one JSON object instead of text.")
    ] = False,
) -> None:
    """Set the trim of every output by noise in the rehearsal room, and store the reference.

    Noise is loud: it starts softly, and no level above the job's ceiling is aimed at.
    """
    from roomwright import store
    from roomwright.commissioning.edits import levels as edit_levels

    with store.open_job(job, write=True) as folder:
        wanted = folder.job
        if reference_db is not None:
            wanted = edit_levels.with_levels(wanted, reference_db=reference_db)
        for text in offset or ():
            wanted = edit_levels.with_group_offset(wanted, *_offset(text))
        if wanted != folder.job:
            folder.save(wanted)
        if back:
            _return(folder, json=json)
        else:
            _set(folder, check=check, json=json)


def _set(folder: JobFolder, *, check: bool, json: bool) -> None:
    from roomwright.commissioning.levels import reference as level_reference
    from roomwright.commissioning.levels import set_levels

    bench, job, station = set_levels.rehearsal_bench(folder)
    with show.bar() as progress:
        if check:
            found = set_levels.check_levels(job, bench, station.id, progress)
        else:
            found = set_levels.set_levels(folder, bench, job, station.id, progress)
            level_reference.store_reference(folder, bench, found.job, station)
    if json:
        rows = [asdict(row) for row in found.rows]
        show.as_json({"job": str(folder.path), "station": station.id, "outputs": rows})
        return
    show.table(
        ("output", "drives", "group", "level dB", "wanted dB", "trim dB", "asked dB", ""),
        [_cells(row) for row in found.rows],
    )
    reference = folder.job.levels.reference
    if reference is not None and not check:
        show.say(
            f"reference stored: {reference.drives} at {reference.station} gives "
            f"{reference.level_db:.1f} dB"
        )


def _return(folder: JobFolder, *, json: bool) -> None:
    from roomwright.commissioning.levels import reference as level_reference
    from roomwright.commissioning.levels import set_levels

    bench, job, station = set_levels.rehearsal_bench(folder, level_reference.as_stored(folder.job))
    found = level_reference.compare_with_reference(job, bench, station)
    if found.change_db and found.possible:
        level_reference.return_to_reference(folder, folder.job, found)
    if json:
        show.as_json({"job": str(folder.path), **asdict(found)})
    else:
        show.say(found.says)


def _cells(row: LevelRow) -> tuple[str, ...]:
    return (
        str(row.number),
        row.drives,
        row.group,
        "" if row.level_db is None else f"{row.level_db:.1f}",
        f"{row.wanted_db:.1f}",
        f"{row.trim_db:+.1f}",
        "" if row.asked_db is None else f"{row.asked_db:+.1f}",
        row.says,
    )


def _offset(text: str) -> tuple[str, float]:
    group, _, offset = text.partition(":")
    try:
        return group, float(offset)
    except ValueError:
        raise InputError(f"the offset {text!r} is not GROUP:DB, such as subwoofers:+3") from None
