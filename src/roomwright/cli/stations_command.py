"""The command that plans where the microphone goes."""

from __future__ import annotations

from dataclasses import asdict
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer

from roomwright.cli import results, show


class Task(StrEnum):
    """What the stations are for."""

    SEATS = "seats"
    AROUND = "around"
    BASS = "bass"


class LengthUnits(StrEnum):
    """How lengths are written."""

    METRES = "m"
    FEET = "ft"


def stations(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="The job folder.")],
    task: Annotated[
        Task | None,
        typer.Option(
            help="Plan anew: one at each seat, several around each, or a grid for bass control."
        ),
    ] = None,
    around: Annotated[int, typer.Option(help="With --task around: how many around each.")] = 3,
    upper_hz: Annotated[
        float | None,
        typer.Option(
            help="With --task bass: upper frequency of control, else where the bass ends."
        ),
    ] = None,
    sheet: Annotated[
        bool, typer.Option("--sheet", help="Write a plan to print, to scale, as PDF and SVG.")
    ] = False,
    units: Annotated[LengthUnits, typer.Option(help="Lengths of the plan.")] = LengthUnits.METRES,
    json: Annotated[
        bool, typer.Option("--json", help="Print one JSON object instead of text.")
    ] = False,
) -> None:
    """Plan the microphone's stations, or show them; say how long the survey takes.

    Stations at which something was recorded stay.
    """
    from roomwright import commissioning, store

    shown: dict[str, Any] = {"job": str(job), "kept": [], "findings": []}
    found: tuple[Any, ...] = ()
    with store.open_job(job, write=task is not None or sheet) as folder:
        if task is not None:
            plan = commissioning.plan_stations(
                folder.job, _TASKS[task], around_each=around, upper_hz=upper_hz
            )
            folder.save(plan.job)
            found = plan.findings
            shown |= {"kept": list(plan.kept), "findings": results.findings(found)}
        time = commissioning.survey_duration(folder.job)
        shown["stations"] = [station.model_dump(mode="json") for station in folder.job.stations]
        shown["time"] = asdict(time)
        if sheet:
            written = commissioning.write_stations(folder, units.value)
            shown["files"] = [str(written.pdf), str(written.svg)]
    if json:
        show.as_json(shown)
        return
    _show(shown["stations"], units)
    results.show_findings(found)
    show.say(time.says)
    if sheet:
        show.say(
            f"{written.pdf}: print on {written.paper} at full size, then it is 1:{written.scale}"
        )


_TASKS: dict[Task, Any] = {
    Task.SEATS: "seats",
    Task.AROUND: "seats and around",
    Task.BASS: "bass grid",
}


def _show(listed: list[dict[str, Any]], units: LengthUnits) -> None:
    from roomwright.commissioning.lengths import format_length

    rows = []
    for number, station in enumerate(listed, start=1):
        place = station["position_m"]
        lengths = ("", "", "") if place is None else [format_length(m, units.value) for m in place]
        rows.append((str(number), station["id"], station["seat"] or "", *lengths))
    show.table(("no.", "station", "seat", "x", "y", "z"), rows)
