"""The figures of the bass of one source in words: surveyed, predicted, and re-measured.

A survey is of loudspeakers and subwoofers alone, the others of channels with their bass.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from roomwright._errors import InputError
from roomwright._progress import Progress, part, silent
from roomwright.commissioning.survey.responses import responses, takes_of
from roomwright.handover.bass_figures import (
    Rows,
    bass_columns,
    decay_rows,
    figure_rows,
    figures_of_channel,
    mode_rows,
)
from roomwright.handover.levels import main_column
from roomwright.measurement import ResponseSet
from roomwright.model import Job, digest
from roomwright.store import JobFolder
from roomwright.tuning import predict, tuning_basis


@dataclass(frozen=True, slots=True)
class BassSheet:
    """Figures of `source` at `stations`, a column for each of `sets` of responses.

    The rows of `figures` and `decay` begin with a name; those of `decay` end with the shortest
    time that can be read and the published line, seconds. `modes` are of the first set: frequency,
    decay in seconds, level at the main seat and difference over the stations in dB; `misfit_db` is
    the energy that they leave unexplained, None without modes.
    """

    source: str
    band_hz: tuple[float, float]
    stations: tuple[str, ...]
    sets: tuple[str, ...]
    figures: Rows
    decay: Rows
    modes: Rows
    misfit_db: float | None


def bass_sheet(job: Job, sets: Mapping[str, ResponseSet], source: str) -> BassSheet:
    """Figures of a source in every set of responses that has it at two stations or more.

    Parameters
    ----------
    job
        Its stations, seats and the band of its bass.
    sets
        Responses by the name of their column.
    source
        A channel, loudspeaker or subwoofer.

    Raises
    ------
    InputError
        If no set has it at two stations.
    """
    found = {}
    for name, kept in sets.items():
        figures = figures_of_channel(kept, source, bass_columns(job, kept), job.bass.band_hz)
        if figures is not None:
            found[name] = figures
    if not found:
        known = sorted({one for kept in sets.values() for one in kept.sources})
        raise InputError(
            f"there are no responses of {source} at two stations or more; "
            f"allowed is one of: {', '.join(known)}"
        )
    first = next(iter(found))
    kept, modes = sets[first], found[first].modes
    columns = [c for c in bass_columns(job, kept) if kept.present[kept.sources.index(source), c]]
    main = main_column(job, kept)
    return BassSheet(
        source=source,
        band_hz=job.bass.band_hz,
        stations=tuple(kept.stations[column] for column in columns),
        sets=tuple(found),
        figures=figure_rows(list(found.values()), absolute=kept.absolute),
        decay=decay_rows(list(found.values())),
        modes=mode_rows(found[first], columns.index(main) if main in columns else None),
        misfit_db=None if modes is None else modes.misfit_db,
    )


def bass_figures_of(
    folder: JobFolder, source: str | None = None, progress: Progress = silent
) -> BassSheet:
    """Figures of a source of a job from all that was measured and predicted.

    Parameters
    ----------
    folder
        The job folder.
    source
        By default the channel of the low-frequency effects, else the first subwoofer.
    progress
        Told how far it is; may raise `Cancelled`.

    Raises
    ------
    InputError
        If nothing is measured yet, or not that source.
    """
    job = folder.job
    sets = {"survey": responses(folder, "survey", part(progress, 0.0, 0.5))}
    tuning = job.tuning
    if tuning is not None and tuning.based_on == tuning_basis(job):
        sets["predicted"] = predict(job, tuning, sets["survey"])
        proof = job.proof
        if takes_of(job, "proof") and proof is not None and proof.tuning == digest(tuning):
            sets["re-measured"] = responses(folder, "proof", part(progress, 0.5, 0.9))
    return bass_sheet(job, sets, source or sources_of(job, sets)[0])


def sources_of(job: Job, sets: Mapping[str, ResponseSet]) -> tuple[str, ...]:
    """What figures can be had of: the low-frequency effects first, then subwoofers, then others."""
    lfe = [channel.id for channel in job.channels if channel.role == "lfe"]
    wanted = [*lfe, *(s.id for s in job.subwoofers), *(c.id for c in job.channels)]
    wanted += [unit.id for unit in job.loudspeakers]
    known = {source for kept in sets.values() for source in kept.sources}
    return tuple(source for source in dict.fromkeys(wanted) if source in known)
