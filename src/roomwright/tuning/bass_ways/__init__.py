"""The ways to feed a job's subwoofers: designed, judged side by side, and as outputs' settings."""

from __future__ import annotations

from roomwright.tuning.bass_ways.array import ArrayWays, array_ways
from roomwright.tuning.bass_ways.case import LowCase, low_case
from roomwright.tuning.bass_ways.drawn import drawn_field, drawn_survey
from roomwright.tuning.bass_ways.even import even_ways
from roomwright.tuning.bass_ways.figures import AHEAD_LIMIT_DB, AHEAD_S, WayFigures, figures_of
from roomwright.tuning.bass_ways.marked import marked_emitters, room_size_m, wall_admittances
from roomwright.tuning.bass_ways.mixture import mixture_way
from roomwright.tuning.bass_ways.planned import (
    BassPlan,
    even_way,
    planned_from,
    planned_subwoofers,
)
from roomwright.tuning.bass_ways.way import Way, WayName

__all__ = [
    "AHEAD_LIMIT_DB",
    "AHEAD_S",
    "ArrayWays",
    "BassPlan",
    "LowCase",
    "Way",
    "WayFigures",
    "WayName",
    "array_ways",
    "drawn_field",
    "drawn_survey",
    "even_way",
    "even_ways",
    "figures_of",
    "low_case",
    "marked_emitters",
    "mixture_way",
    "planned_from",
    "planned_subwoofers",
    "room_size_m",
    "wall_admittances",
]
