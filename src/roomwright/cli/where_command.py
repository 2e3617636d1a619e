"""The command that says where the loudspeakers really are."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from roomwright.cli import show


def where(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="The job folder.")],
    take_over: Annotated[
        bool,
        typer.Option("--take-over", help="Move those that are elsewhere to where they were found."),
    ] = False,
    json: Annotated[
        bool, typer.Option("--json", help="Print one JSON object instead of text.")
    ] = False,
) -> None:
    """Say where each loudspeaker really is, from the arrival times of the survey."""
    from roomwright import commissioning, store
    from roomwright.commissioning.survey import whereabouts

    with store.open_job(job, write=take_over) as folder, show.bar() as progress:
        survey = commissioning.responses(folder, "survey", progress)
        found = whereabouts.whereabouts(folder.job, survey)
        if take_over:
            moved = [one for one in found if one.moved]
            folder.save(whereabouts.take_over(folder.job, moved))
    if json:
        show.as_json({"job": str(job), "loudspeakers": [asdict(one) for one in found]})
        return
    show.table(
        ("loudspeaker", "planned x, y, z m", "found", "+/-", ""),
        [
            (
                one.unit,
                _place(one.planned_m),
                "" if one.found_m is None else _place(one.found_m),
                "" if one.deviation_m is None else _place(one.deviation_m),
                one.says,
            )
            for one in found
        ],
    )


def _place(place: tuple[float, float, float]) -> str:
    return "  ".join(f"{value:.2f}" for value in place)
