"""Verdicts that were found before, in the job's cache: judging reads every decay of the room."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from roomwright import __version__
from roomwright.commissioning.survey.responses import Stage, cache_key, takes_of
from roomwright.measurement import ResponseSet
from roomwright.model import Finding, Job, digest
from roomwright.proof import RoomDecay, Verdict, judge, read_decay
from roomwright.store import JobFolder

_ARRAYS = ("mid_hz", "late_s", "early_s", "limit_s")


@dataclass(frozen=True, slots=True, eq=False)
class KeptVerdicts:
    """The verdicts on the predicted and the re-measured responses, and the decay of the latter.

    Without re-measured responses there are no verdicts on them, and the decay is of the predicted.
    """

    predicted: tuple[Verdict, ...]
    measured: tuple[Verdict, ...]
    decay: RoomDecay


def verdicts_on(
    folder: JobFolder, job: Job, predicted: ResponseSet, measured: ResponseSet | None
) -> KeptVerdicts:
    """Judge, or return what judging gave the last time.

    It is kept until anything changes that it rests on: the job but for its handover, its
    recordings and calibration files, or the program.
    """
    key = _key(folder, job, ("survey",) if measured is None else ("survey", "proof"))
    kept = folder.cache_get(key)
    if kept is not None:
        return _unpacked(kept)
    decay = read_decay(predicted)
    on_predicted = judge(job, predicted, decay)
    if measured is None:
        found = KeptVerdicts(on_predicted, (), decay)
    else:
        decay = read_decay(measured)
        found = KeptVerdicts(on_predicted, judge(job, measured, decay), decay)
    folder.cache_put(key, _packed(found))
    return found


def _key(folder: JobFolder, job: Job, stages: tuple[Stage, ...]) -> str:
    rests_on = " ".join(cache_key(folder, job, takes_of(job, stage)) for stage in stages)
    version = Finding(severity="note", where=__version__, text=rests_on)
    return "judged-" + digest(job.model_copy(update={"handover": None}), version)


def _packed(found: KeptVerdicts) -> dict[str, NDArray[Any]]:
    words = {
        "predicted": [asdict(verdict) for verdict in found.predicted],
        "measured": [asdict(verdict) for verdict in found.measured],
        "readings": found.decay.readings,
        "mean_s": found.decay.mean_s,
        "curvature_percent": found.decay.curvature_percent,
    }
    arrays = {name: getattr(found.decay, name) for name in _ARRAYS}
    return {**arrays, "words": np.array(json.dumps(words))}


def _unpacked(kept: Mapping[str, NDArray[Any]]) -> KeptVerdicts:
    words = json.loads(str(kept["words"]))
    decay = RoomDecay(
        readings=words["readings"],
        mean_s=words["mean_s"],
        curvature_percent=words["curvature_percent"],
        **{name: kept[name] for name in _ARRAYS},
    )
    return KeptVerdicts(_verdicts(words["predicted"]), _verdicts(words["measured"]), decay)


def _verdicts(listed: list[dict[str, Any]]) -> tuple[Verdict, ...]:
    return tuple(
        Verdict(**{**fields, "detail": tuple((name, value) for name, value in fields["detail"])})
        for fields in listed
    )
