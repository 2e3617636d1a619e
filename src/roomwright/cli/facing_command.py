"""The command that says by how much to turn a microphone of four capsules."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from roomwright.cli import show


def facing(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="The job folder.")],
    station: Annotated[str, typer.Option(help="Where the microphone stands.")],
    source: Annotated[
        str, typer.Option(help="The loudspeaker that plays, best the centre.")
    ] = "M+000",
    recording: Annotated[
        Path | None,
        typer.Option(
            help="WAV of the job's sweep: four capsules [and the electrical reference]. "
            "Without it the rehearsal room is measured."
        ),
    ] = None,
    json: Annotated[
        bool, typer.Option("--json", help="Print one JSON object instead of text.")
    ] = False,
) -> None:
    """Say by how much to turn a microphone of four capsules so that it faces ahead."""
    from roomwright import store
    from roomwright.commissioning.facing import facing_of_recording, rehearse_facing

    with store.open_job(job) as folder:
        found = (
            rehearse_facing(folder.job, source, station)
            if recording is None
            else facing_of_recording(folder.job, recording, source, station)
        )
    if json:
        seen = {
            name: None if value != value else value  # noqa: PLR0124 - JSON knows no NaN
            for name, value in asdict(found.seen).items()
        }
        show.as_json({**asdict(found), "seen": seen})
    else:
        show.say(found.says)
