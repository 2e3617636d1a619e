"""Takes compared with the plan and with each other: wiring, polarity, places."""

from __future__ import annotations

from roomwright.analysis.wiring.compare import compare
from roomwright.analysis.wiring.places import arrival_m
from roomwright.analysis.wiring.system import DrawnBass, HeardSystem, PlannedUnit, band_levels_db

__all__ = ["DrawnBass", "HeardSystem", "PlannedUnit", "arrival_m", "band_levels_db", "compare"]
