"""A whole job on a scenario of our own invention, with nothing plugged in."""

from __future__ import annotations

from pathlib import Path

from roomwright._progress import Progress, part, silent
from roomwright.commissioning.bass.array import propose_array, use_array
from roomwright.commissioning.bass.design import design_bass
from roomwright.commissioning.bass.wishes import with_bass, with_bass_grid
from roomwright.commissioning.create import box_room, new_job
from roomwright.commissioning.hand_over import HandedOver, hand_over
from roomwright.commissioning.prove import prove
from roomwright.commissioning.survey.rehearse import rehearse
from roomwright.commissioning.tuning.tune import tune
from roomwright.layout import seat_stations
from roomwright.model import Job, Sweep
from roomwright.store import create_job

#: The bass is designed up to here: two subwoofers across and one up then carry a plane wave.
_HIGHEST_HZ = 100.0

#: One of each row of seats and one between them.
_HELD_BACK = ("S-R1-4", "S-R2-3", "G2")


def demo_job() -> Job:
    """The Lanternhouse cinema: 7.4.4, two rows of four seats, twelve stations.

    Its four subwoofers make a plane-wave array in the deep bass, two at half height on the front
    wall and two on the back wall, and are fed for even seats above it. A quarter of the stations
    stands between the rows, above and below the ears; three of all are held back from the design.
    The sweep is shorter and louder than usual: nobody sits in a simulated room.
    """
    job = new_job(
        "Lanternhouse cinema",
        layout="7.4.4",
        room=box_room((5.4, 7.2, 2.8)),
        rows=2,
        seats_per_row=4,
        sweep=Sweep(duration_s=3.0, level_dbfs=-12.0),
    )
    stations = seat_stations(job.seats, job.main_seat, extra_around_main=1)
    job = with_bass(job.model_copy(update={"stations": stations}), band_hz=(20.0, _HIGHEST_HZ))
    job = with_bass_grid(use_array(job, propose_array(job)))
    return with_bass(job, method="mixture", held_back=_HELD_BACK)


def demo(path: Path, progress: Progress = silent) -> HandedOver:
    """Create the demo job at `path`, survey, tune, prove and hand it over.

    The bass is designed from the drawing first, and again from the survey.

    Raises
    ------
    InputError
        If the folder is not empty or cannot be written.
    """
    with create_job(path, demo_job()) as folder:
        design_bass(folder, part(progress, 0.0, 0.05), origin="drawing")
        rehearse(folder, progress=part(progress, 0.05, 0.4))
        tune(folder, part(progress, 0.4, 0.5))
        proved = prove(folder, part(progress, 0.5, 0.9))
        return hand_over(folder, part(progress, 0.9, 1.0), proved=proved)
