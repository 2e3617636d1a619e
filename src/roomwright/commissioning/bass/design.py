"""The bass of a job designed by the method that was chosen, written into its tuning."""

from __future__ import annotations

from roomwright._progress import Progress, part, silent
from roomwright.commissioning.bass.compare import Origin, bass_responses
from roomwright.commissioning.tuning.tune import Tuned, solved
from roomwright.store import JobFolder
from roomwright.tuning import predict


def design_bass(
    folder: JobFolder, progress: Progress = silent, *, origin: Origin | None = None
) -> Tuned:
    """Design the bass as the job wishes, and save it as the job's tuning.

    From the survey this is `tune`: the main channels are tuned too, and aligned with the bass.
    From the drawing the subwoofers alone are tuned, for what can be known before anything is
    measured; that tuning is out of date as soon as there is a survey.

    Parameters
    ----------
    folder
        A job folder open for writing.
    progress
        Told how far it is; may raise `Cancelled`, which leaves the job as it was.
    origin
        `drawing` or `survey`; by default the survey where all subwoofers were measured.

    Raises
    ------
    InputError
        If the bass cannot be designed: no subwoofer, no common time reference, marks that make
        no array, means that the processor does not have.
    """
    survey, _ = bass_responses(folder, origin, part(progress, 0.0, 0.3))
    tuning = solved(folder.job, survey, part(progress, 0.3, 0.95))
    folder.save(folder.job.model_copy(update={"tuning": tuning}))
    progress(0.95, "predicting every station")
    return Tuned(folder.job, tuning, predict(folder.job, tuning, survey))
