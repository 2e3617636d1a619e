"""A whole job on a scenario of our own invention, with nothing plugged in."""

from __future__ import annotations

from pathlib import Path

from roomwright._progress import Progress, part, silent
from roomwright.commissioning.create import box_room, new_job
from roomwright.commissioning.hand_over import HandedOver, hand_over
from roomwright.commissioning.prove import prove
from roomwright.commissioning.rehearse import rehearse
from roomwright.commissioning.tune import tune
from roomwright.model import Job, Sweep
from roomwright.store import create_job


def demo_job() -> Job:
    """The Lanternhouse cinema: 7.4.4, two rows of four seats, twelve stations.

    The sweep is shorter and louder than usual: nobody sits in a simulated room.
    """
    return new_job(
        "Lanternhouse cinema",
        layout="7.4.4",
        room=box_room((5.4, 7.2, 2.8)),
        rows=2,
        seats_per_row=4,
        sweep=Sweep(duration_s=3.0, level_dbfs=-12.0),
    )


def demo(path: Path, progress: Progress = silent) -> HandedOver:
    """Create the demo job at `path`, survey, tune, prove and hand it over.

    Raises
    ------
    InputError
        If the folder is not empty or cannot be written.
    """
    with create_job(path, demo_job()) as folder:
        rehearse(folder, progress=part(progress, 0.0, 0.4))
        tune(folder, part(progress, 0.4, 0.5))
        proved = prove(folder, part(progress, 0.5, 0.9))
        return hand_over(folder, part(progress, 0.9, 1.0), proved=proved)
