"""All comparisons of takes with the plan and with each other, what explains more coming first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

import numpy as np

from roomwright.analysis.wiring.drawn import by_drawing
from roomwright.analysis.wiring.places import misplaced
from roomwright.analysis.wiring.polarity import reversed_units
from roomwright.analysis.wiring.shapes import exchanged_kinds, too_soft, wrong_ways
from roomwright.analysis.wiring.stations import not_moved
from roomwright.analysis.wiring.system import HeardSystem
from roomwright.model import Diagnosis

#: What a loudspeaker that is turned elsewhere may seem to have.
_ONE_WAY: Final = ("tweeter_missing", "woofer_missing")

#: Farther off than this nothing of a crossover's delay explains, metres: at 1 kHz one of the fourth
#: order is late by 0.15 m.
_FAR_M: Final = 0.5


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
    exchanged = _named(found)
    found += wrong_ways(heard, exchanged)
    found += too_soft(heard, _named(found))
    soft = _named(found)
    one_way = _named(d for d in found if d.kind in _ONE_WAY)
    low = _named(d for d in found if d.kind == "low_level")
    places = misplaced(heard, soft - low - one_way)
    swapped = _named(place for place in places if place.kind == "swapped")
    if swapped and one_way:
        # Units that play from another's output were compared with those of its type.
        still = _named(wrong_ways(heard, exchanged | swapped))
        found = [d for d in found if d.kind not in _ONE_WAY or still & set(d.sources)]
        one_way &= still
    found = _explained(found, places, one_way)
    wrong = _named(d for d in found if d.kind != "noise_event")
    found += by_drawing(heard, wrong)
    found += reversed_units(heard, _named(d for d in found if d.kind != "noise_event"))
    return (*stations, *found)


def _explained(
    found: list[Diagnosis], places: tuple[Diagnosis, ...], one_way: frozenset[str]
) -> list[Diagnosis]:
    """Both, without missing ways that a strange place explains, and places that they explain.

    Far from its place a loudspeaker is turned elsewhere; a crossover's delay is short. Swapped
    units have each other's sensitivity.
    """
    swapped = _named(place for place in places if place.kind == "swapped")
    found = [d for d in found if not (d.kind == "low_level" and swapped & set(d.sources))]
    far = _named(place for place in places if place.evidence > _FAR_M)
    ways = [d for d in found if not (d.kind in _ONE_WAY and far & set(d.sources))]
    return ways + [d for d in places if d.evidence > _FAR_M or not one_way & set(d.sources)]


def _named(found: Iterable[Diagnosis]) -> frozenset[str]:
    return frozenset(name for diagnosis in found for name in diagnosis.sources)
