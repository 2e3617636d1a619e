"""Verdicts that were found before, in the job's cache: judging reads every decay of the room."""

from __future__ import annotations

import json
from dataclasses import asdict

import numpy as np

from roomwright import __version__
from roomwright.commissioning.responses import Stage, cache_key, takes_of
from roomwright.measurement import ResponseSet
from roomwright.model import Finding, Job, digest
from roomwright.proof import Verdict, judge
from roomwright.store import JobFolder

Judged = tuple[tuple[Verdict, ...], tuple[Verdict, ...]]


def verdicts_on(
    folder: JobFolder, job: Job, predicted: ResponseSet, measured: ResponseSet | None
) -> Judged:
    """The verdicts on the predicted and the re-measured responses; none on what is not measured.

    They are kept until anything changes that they rest on: the job but for its handover, its
    recordings and calibration files, or the program.
    """
    key = _key(folder, job, ("survey",) if measured is None else ("survey", "proof"))
    kept = folder.cache_get(key)
    if kept is not None:
        return _read(kept["first"]), _read(kept["second"])
    found = judge(job, predicted), () if measured is None else judge(job, measured)
    folder.cache_put(key, {"first": _written(found[0]), "second": _written(found[1])})
    return found


def _key(folder: JobFolder, job: Job, stages: tuple[Stage, ...]) -> str:
    rests_on = " ".join(cache_key(folder, job, takes_of(job, stage)) for stage in stages)
    version = Finding(severity="note", where=__version__, text=rests_on)
    return "verdicts-" + digest(job.model_copy(update={"handover": None}), version)


def _written(verdicts: tuple[Verdict, ...]) -> np.ndarray:
    return np.array(json.dumps([asdict(verdict) for verdict in verdicts]))


def _read(text: np.ndarray) -> tuple[Verdict, ...]:
    return tuple(
        Verdict(**{**fields, "detail": tuple((name, value) for name, value in fields["detail"])})
        for fields in json.loads(str(text))
    )
