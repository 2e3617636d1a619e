"""The commands of the bass: each opens the job, calls one operation and shows what came of it."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from roomwright.cli import bass_results, results, show

JobPath = Annotated[Path, typer.Argument(metavar="JOB", help="The job folder.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")]
FromDrawing = Annotated[
    bool, typer.Option("--drawing", help="From the drawing, even where there is a survey.")
]

app = typer.Typer(
    name="bass",
    help="Place the subwoofers, compare the ways to feed them, design the bass.",
    rich_markup_mode=None,
)


@app.command()
def search(
    job: JobPath,
    count: Annotated[int | None, typer.Option(help="Subwoofers to place; kept in the job.")] = None,
    spacing: Annotated[
        float | None, typer.Option(help="Metres between places; kept in the job.")
    ] = None,
    mirrored: Annotated[
        bool | None,
        typer.Option("--mirrored/--anywhere", help="In pairs left and right; kept in the job."),
    ] = None,
    keep_clear: Annotated[
        list[str] | None,
        typer.Option(
            help="A box on the plan to keep clear: NAME:X1,Y1,X2,Y2 in metres, kept in the job. "
            "May be given several times."
        ),
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS",
            help="Search on the workers of the Dask cluster whose scheduler is at this address, "
            "such as tcp://10.0.0.5:8786.",
        ),
    ] = None,
    json: AsJson = False,
) -> None:
    """Search places for the subwoofers, from the drawing."""
    from roomwright import commissioning, store

    wanted = {"count": count, "spacing_m": spacing, "mirrored": mirrored}
    changes = {name: value for name, value in wanted.items() if value is not None}
    with store.open_job(job, write=True) as folder, show.bar() as progress:
        changed = commissioning.with_bass(folder.job, **changes)
        for text in keep_clear or []:
            changed = commissioning.with_keep_clear(changed, *commissioning.parse_box(text))
        found = commissioning.search_places_on(cluster, changed, progress)
        folder.save(changed)
        commissioning.keep_places(folder, found)
    if json:
        show.as_json({"job": str(job), **asdict(found)})
    else:
        bass_results.show_places(found)


@app.command()
def use(
    job: JobPath,
    number: Annotated[int, typer.Argument(help="Number of the choice in the last search.")],
    json: AsJson = False,
) -> None:
    """Move the subwoofers to the places of a choice of the last search."""
    from roomwright import commissioning, store

    with store.open_job(job, write=True) as folder:
        choice = commissioning.kept_choice(folder, number)
        folder.save(commissioning.use_places(folder.job, choice))
        placed = folder.job.subwoofers
    bass_results.show_subwoofers(job, placed, json=json)


@app.command()
def array(
    job: JobPath,
    highest: Annotated[
        float | None, typer.Option(help="Hertz up to which the wave shall be plane.")
    ] = None,
    robust: Annotated[
        bool, typer.Option("--robust", help="Also with errors of place and gain.")
    ] = False,
    launch: Annotated[
        str, typer.Option(help="Mark these subwoofers as launching, separated by commas.")
    ] = "",
    absorb: Annotated[
        str, typer.Option(help="Mark these subwoofers as absorbing, separated by commas.")
    ] = "",
    place: Annotated[
        bool, typer.Option("--place", help="Place and mark the subwoofers as proposed.")
    ] = False,
    json: AsJson = False,
) -> None:
    """Propose a plane-wave array for the room, place it, or mark the subwoofers there are."""
    from roomwright import commissioning, store

    with store.open_job(job, write=place or bool(launch or absorb)) as folder:
        if launch or absorb:
            marked = commissioning.mark_array(
                folder.job, bass_results.names(launch), bass_results.names(absorb)
            )
            folder.save(marked)
            bass_results.show_subwoofers(job, folder.job.subwoofers, json=json)
            return
        proposal = commissioning.propose_array(folder.job, highest_hz=highest, robust=robust)
        if place:
            folder.save(commissioning.use_array(folder.job, proposal))
    if json:
        show.as_json({"job": str(job), "placed": place, **asdict(proposal)})
    else:
        bass_results.show_proposal(proposal)


@app.command()
def compare(job: JobPath, drawing: FromDrawing = False, json: AsJson = False) -> None:
    """Compare the ways to feed the subwoofers, side by side."""
    from roomwright import commissioning, store

    with store.open_job(job) as folder, show.bar() as progress:
        survey, origin = commissioning.bass_responses(folder, "drawing" if drawing else None)
        compared = commissioning.compare_bass(folder.job, survey, progress, origin=origin)
    if json:
        show.as_json({"job": str(job), **asdict(compared)})
    else:
        bass_results.show_comparison(compared)


@app.command()
def figures(
    job: JobPath,
    source: Annotated[
        str | None,
        typer.Option("--of", help="A channel, subwoofer or loudspeaker; by default the LFE."),
    ] = None,
    json: AsJson = False,
) -> None:
    """Show the bass in figures: spread, level, decay, group delay, modes."""
    from roomwright import commissioning, store

    with store.open_job(job) as folder, show.bar() as progress:
        sheet = commissioning.bass_figures_of(folder, source, progress)
    if json:
        show.as_json({"job": str(job), **asdict(sheet)})
    else:
        bass_results.show_figures(sheet)


@app.command()
def design(
    job: JobPath,
    method: Annotated[
        str | None,
        typer.Option(help="matched, even_seats, array or mixture; kept in the job."),
    ] = None,
    means: Annotated[
        str | None,
        typer.Option(help="Even seats by gain_and_delay, biquads or fir; kept in the job."),
    ] = None,
    up_to: Annotated[
        float | None,
        typer.Option(help="Hertz at which a mixture leaves the array; kept in the job."),
    ] = None,
    drawing: FromDrawing = False,
    json: AsJson = False,
) -> None:
    """Design the bass and write it into the tuning."""
    from roomwright import commissioning, store

    wanted = {"method": method, "means": means, "array_up_to_hz": up_to}
    changes = {name: value for name, value in wanted.items() if value is not None}
    with store.open_job(job, write=True) as folder, show.bar() as progress:
        folder.save(commissioning.with_bass(folder.job, **changes))
        tuned = commissioning.design_bass(folder, progress, origin="drawing" if drawing else None)
    if json:
        show.as_json({"job": str(job), "tuning": tuned.tuning.model_dump(mode="json")})
    else:
        results.show_outputs(tuned.tuning)
        results.show_findings(tuned.tuning.findings)
