"""Even seats in a room that is no box: by finite elements, with a sofa, errors of place and 3 K.

Places are searched on the finite elements' field, whose modes are neither separable nor symmetric;
then the subwoofers stand up to 0.3 m off and are set anew, and the air warms by 3 K after that.
All is judged between the stations that were designed for.
"""

from __future__ import annotations

import numpy as np
import pytest
from array_rooms import crooked_room

from roomwright.tuning.bass_design import (
    THOROUGH,
    BassField,
    GainDelayLimits,
    SearchEffort,
    Weights,
    best_places,
    gain_and_delay,
    judged,
    travelling_wave,
)

FREQUENCY, BETWEEN = np.geomspace(20.0, 80.0, 20), np.geomspace(20.7, 78.0, 33)
SEATS = np.array([(x, y, 1.2) for y in (2.6, 3.4, 5.0) for x in (1.2, 1.8, 2.4, 3.0)])
STEPS = np.array([(1, 1, 1), (1, -1, -1), (-1, 1, -1), (-1, -1, 1)]) * (0.2, 0.15, 0.1)
STATIONS = (SEATS[:, None] + STEPS).reshape(-1, 3)
HEADS = np.vstack([np.add(SEATS, (0.25, 0.05, 0.05)), np.add(SEATS, (-0.1, -0.12, -0.08))])


def on_the_walls() -> np.ndarray:
    """Along the walls, 0.3 m from them, where they narrow too."""
    flat = [(x, y) for y in (0.3, 5.7) for x in np.linspace(0.3, 4.2, 4)]
    flat += [(x, y) for y in (1.65, 3.0, 4.35) for x in (0.3, 4.2)]
    return np.array([(x * (1.0 - 0.133 * y / 6.0), y, 0.3) for x, y in flat])


PLACES = on_the_walls()
CORNER_NUMBERS = (0, 3, 4, 7)
CORNERS = PLACES[list(CORNER_NUMBERS)]


def at_heads(places, gains, c: float = 343.0):
    return judged(crooked_room().field(places, HEADS, BETWEEN, c), gains)


@pytest.fixture(scope="module")
def corners():
    return at_heads(CORNERS, np.ones((4, BETWEEN.size), complex))


@pytest.fixture(scope="module")
def choice():
    field = BassField(FREQUENCY, crooked_room().field(PLACES, STATIONS, FREQUENCY))
    target = travelling_wave(STATIONS, FREQUENCY, 343.0)
    effort = SearchEffort(designed=150, shown=2, others=10)
    search = best_places(
        field, 4, target, weights=Weights(0.15), known=[CORNER_NUMBERS], effort=effort
    )
    # What four corners give at the stations, less what may be given up on paper.
    enough_db = search.known[0].alike_level_db - 2.5
    loud = [one for one in (*search.choices, *search.front) if one.level_db >= enough_db]
    return min(loud, key=lambda one: one.spread_db2)


def test_searched_places_halve_the_spread_of_four_corners(choice, corners):
    """The aim in boxes, met here too, at no more than 3 dB less for each subwoofer."""
    found = at_heads(PLACES[list(choice.sources)], choice.settings.gains(BETWEEN))
    assert found.spread_db2 < 0.5 * corners.spread_db2
    assert found.level_per_drive_db > corners.level_per_drive_db - 3.0


def test_off_by_a_foot_and_three_kelvin_later_they_still_beat_the_corners(choice, corners):
    """Set anew where they stand, then left alone: c 1.8 m/s higher shifts modes by 0.5 %."""
    rng = np.random.default_rng(4)
    moved = PLACES[list(choice.sources)] + rng.uniform(-0.21, 0.21, (4, 3)) * (1, 1, 0)
    moved[:, :2] = moved[:, :2].clip(0.1, None)
    moved[:, 1] = moved[:, 1].clip(None, 5.9)
    moved[:, 0] = moved[:, 0].clip(None, 4.4 * (1.0 - 0.133 * moved[:, 1] / 6.0))
    own = crooked_room().field(moved, STATIONS, FREQUENCY)
    settings = gain_and_delay(own[None], FREQUENCY, GainDelayLimits(), 0.15, THOROUGH).of(0)
    now = at_heads(moved, settings.gains(BETWEEN))
    later = at_heads(moved, settings.gains(BETWEEN), 344.8)
    assert now.spread_db2 < 0.7 * corners.spread_db2
    assert later.spread_db2 < 0.7 * corners.spread_db2
    assert abs(later.spread_db2 - now.spread_db2) < 0.25 * now.spread_db2
