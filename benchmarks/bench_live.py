"""One channel refitted and predicted while a target handle is dragged, on the demo job.

Against the whole way: the design of all outputs and the prediction of all channels. The folder of
a finished demo job may be given; otherwise its rehearsal is run first, which takes half a minute.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from roomwright import commissioning
from roomwright.commissioning.edits import target as edit_target
from roomwright.commissioning.tuning import live
from roomwright.measurement import ResponseSet
from roomwright.model import Job
from roomwright.store import create_job, open_job
from roomwright.tuning import design, predict

DRAGS = 40


def surveyed(path: Path | None) -> tuple[Job, ResponseSet]:
    if path is not None:
        with open_job(path) as folder:
            return folder.job, commissioning.responses(folder, "survey")
    with (
        tempfile.TemporaryDirectory() as place,
        create_job(Path(place) / "demo", commissioning.demo_job()) as folder,
    ):
        commissioning.rehearse(folder)
        return folder.job, commissioning.responses(folder, "survey")


def milliseconds(action: Callable[[int], object], times: int) -> np.ndarray:
    spent = []
    for number in range(times):
        start = time.perf_counter()
        action(number)
        spent.append(1e3 * (time.perf_counter() - start))
    return np.array(spent)


def main() -> None:
    job, survey = surveyed(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
    tuning, _ = design(job, survey)
    whole = milliseconds(lambda _: design(job, survey), 2).min()
    whole_predict = milliseconds(lambda _: predict(job, tuning, survey), 2).min()
    print(f"whole design {whole:.0f} ms, whole prediction {whole_predict:.0f} ms")
    print(f"prepare {milliseconds(lambda _: live.prepare(job, survey), 2).min():.0f} ms, once")
    ready = live.prepare(job, survey)
    for channel in ("M+030", "LFE1"):

        def drag(number: int, channel: str = channel) -> None:
            level = 5 * np.sin(number)
            point = len(job.target.points) // 2
            moved = edit_target.move_point(job, (channel,), point, 250.0, level)
            fitted = live.refit(ready, moved, tuning, channel)
            live.predict(ready, moved, fitted, channel, job.main_seat)

        spent = milliseconds(drag, DRAGS)
        alone = milliseconds(
            lambda _, c=channel: live.predict(ready, job, tuning, c, job.main_seat), DRAGS
        )
        print(
            f"{channel}: refit and prediction median {np.median(spent):.0f} ms, 95 % within "
            f"{np.percentile(spent, 95):.0f} ms; prediction alone {np.median(alone):.1f} ms; "
            f"{(whole + whole_predict) / np.median(spent):.0f} times faster than the whole"
        )


if __name__ == "__main__":
    main()
