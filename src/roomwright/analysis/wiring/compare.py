"""All comparisons of takes with the plan and with each other, what explains more coming first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from roomwright.analysis.wiring.places import misplaced
from roomwright.analysis.wiring.polarity import reversed_units
from roomwright.analysis.wiring.shapes import exchanged_kinds, too_soft, wrong_ways
from roomwright.analysis.wiring.stations import not_moved
from roomwright.analysis.wiring.system import HeardSystem
from roomwright.model import Diagnosis


def compare(heard: HeardSystem) -> tuple[Diagnosis, ...]:
    """What is wrong with the wiring and with the places of units and microphone.

    Each unit is diagnosed once: a swap explains a strange place, and a missing way a low level.

    Parameters
    ----------
    heard
        The responses and the plan.
    """
    stations = not_moved(heard)
    stuck = {name for diagnosis in stations for name in diagnosis.stations}
    columns = np.array([name not in stuck for name in heard.stations])
    heard = replace(heard, usable=heard.usable & columns)
    found = [*exchanged_kinds(heard)]
    found += wrong_ways(heard, _named(found))
    found += too_soft(heard, _named(found))
    soft = _named(found)
    found += misplaced(heard, soft - _named(d for d in found if d.kind == "low_level"))
    found += reversed_units(heard, _named(found))
    return (*stations, *found)


def _named(found: Iterable[Diagnosis]) -> frozenset[str]:
    return frozenset(name for diagnosis in found for name in diagnosis.sources)
