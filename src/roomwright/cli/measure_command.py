"""The command that measures a real or a simulated system."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from roomwright.cli import results, show

if TYPE_CHECKING:
    from collections.abc import Callable
    from contextlib import AbstractContextManager

    from roomwright.model import Station


_NOTHING_MISSING = "nothing is missing; every output was measured at every station asked for"


class With(StrEnum):
    """What a survey is measured with."""

    INTERFACE = "interface"
    REHEARSAL = "rehearsal"


def measure(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="The job folder.")],
    device: Annotated[
        With, typer.Option(help="The job's audio interface, or the rehearsal room.")
    ] = With.INTERFACE,
    station: Annotated[
        list[str] | None,
        typer.Option(help="Measure this station; may be repeated, in the order of the visits."),
    ] = None,
    missing: Annotated[
        bool, typer.Option("--missing", help="Measure only what has no take yet.")
    ] = False,
    ceiling_db: Annotated[
        float | None,
        typer.Option(
            help="Stop when the microphone hears more than this C-weighted level, dB SPL, instead "
            "of the job's ceiling."
        ),
    ] = None,
    json: Annotated[
        bool, typer.Option("--json", help="Print one JSON object instead of text.")
    ] = False,
) -> None:
    """Measure the survey: station by station, softly first; each take is saved at once.

    Interrupted at any time, it goes on with --missing. Ctrl+C silences the outputs.
    """
    from roomwright import commissioning, store

    try:
        with store.open_job(job, write=True) as folder, show.pausable_bar() as (progress, pause):
            pairs = commissioning.chosen_pairs(folder.job, station or (), missing=missing)
            if pairs == ():
                if not json:
                    show.say(_NOTHING_MISSING)
                responses = commissioning.responses(folder, "survey")
                surveyed = commissioning.Surveyed(folder.job, responses, ())
                results.show_survey(job, surveyed, json=json)
                return
            if not json:
                show.say("sweeps are loud and sudden: nobody near the loudspeakers, ears protected")

            def ask(station: Station) -> bool:
                with pause():
                    return _moved(station)

            with commissioning.open_rig(folder.job, device.value, ask) as rig:
                surveyed = commissioning.measure(
                    folder,
                    rig,
                    pairs,
                    progress,
                    on_facing=lambda facing: _say_beside(facing.says, pause),
                    ceiling_db=ceiling_db,
                )
    except KeyboardInterrupt:
        raise typer.Abort from None
    results.show_survey(job, surveyed, json=json)


def _say_beside(text: str, pause: Callable[[], AbstractContextManager[None]]) -> None:
    """Say something while it goes on; standard output is the result's."""
    with pause():
        sys.stderr.write(f"{text}\n")
        sys.stderr.flush()


def _moved(station: Station) -> bool:
    """Ask for the microphone to be moved; True when it stands, False to skip the station."""
    where = ""
    if station.position_m is not None:
        x, y, z = station.position_m
        where = f" ({x:.2f} m from the left wall, {y:.2f} m from the front wall, {z:.2f} m high)"
    sys.stderr.write(f"microphone to {station.id}{where}, then Enter; s and Enter to skip: ")
    sys.stderr.flush()
    answer = sys.stdin.readline()
    if not answer:
        raise typer.Abort
    return answer.strip().lower() != "s"
