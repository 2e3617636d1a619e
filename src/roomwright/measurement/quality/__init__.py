"""The quality of single takes: what is wrong with each, on what evidence, and what to do."""

from __future__ import annotations

from roomwright.measurement.quality.cells import Cells, noise_cells
from roomwright.measurement.quality.events import unsteady
from roomwright.measurement.quality.judge import JudgedTake, judge_take
from roomwright.measurement.quality.level import HIGHEST_JUDGED_HZ, USABLE_DB, own_octaves
from roomwright.measurement.quality.orders import (
    DISTORTED_DB,
    KINKED_DB,
    distorted,
    falls_with_order,
    total_distortion_db,
)
from roomwright.measurement.quality.overlapped import JudgedPass, judge_pass, judge_source

__all__ = [
    "DISTORTED_DB",
    "HIGHEST_JUDGED_HZ",
    "KINKED_DB",
    "USABLE_DB",
    "Cells",
    "JudgedPass",
    "JudgedTake",
    "distorted",
    "falls_with_order",
    "judge_pass",
    "judge_source",
    "judge_take",
    "noise_cells",
    "own_octaves",
    "total_distortion_db",
    "unsteady",
]
