"""Published orderings of subwoofer layouts, and our own tables, recomputed."""

from __future__ import annotations

import numpy as np
import pytest
from bass_rooms import CentredRoom, CinemaRoom

from roomwright.tuning.bass_design import (
    THOROUGH,
    GainDelayLimits,
    Weights,
    gain_and_delay,
    judged,
    magnitude_gains,
)

CORNERS, MIDPOINTS = CentredRoom.corners, CentredRoom.midpoints
LAYOUTS = {
    "1 corner": CORNERS[:1],
    "1 front midpoint": MIDPOINTS[:1],
    "2 front corners": CORNERS[:2],
    "2 opposite corners": [CORNERS[0], CORNERS[3]],
    "2 front and back midpoints": MIDPOINTS[:2],
    "4 midpoints": MIDPOINTS,
    "4 corners": CORNERS,
}


def alike(field):
    return judged(field, np.ones((field.shape[0], field.shape[2]), dtype=complex))


@pytest.fixture(scope="module")
def unity():
    return {name: alike(CentredRoom.field(places)) for name, places in LAYOUTS.items()}


@pytest.mark.parametrize(
    ("name", "variance", "level"),
    [
        ("1 corner", 20.3, 4.25),
        ("1 front midpoint", 24.1, 1.88),
        ("2 front corners", 21.4, 8.18),
        ("2 opposite corners", 6.50, 7.38),
        ("2 front and back midpoints", 2.20, 6.84),
        ("4 midpoints", 1.88, 6.10),
        ("4 corners", 2.06, 13.24),
    ],
)
def test_spread_and_level_of_layouts_about_centred_seats(unity, name, variance, level):
    """Our table for the room of Welti 2002, walls of admittance 0.0266 (0.6 s).

    It was computed with modes damped by first-order perturbation, which is off by up to 0.5 dB at
    single frequencies (2 % in the mean variance of loud layouts, 0.2 dB in level); this is exact.
    """
    assert unity[name].spread_db2 == pytest.approx(variance, rel=0.02, abs=0.1)
    assert unity[name].level_db == pytest.approx(level, abs=0.2)


def test_the_ranking_of_welti_2002(unity):
    """AES 112th Convention, paper 5602: four midpoints are best and weak; two do nearly as well."""
    spread = {name: float(result.spread_db2) for name, result in unity.items()}
    assert spread["4 midpoints"] < spread["4 corners"] < spread["1 corner"] / 5
    assert spread["2 front and back midpoints"] < 1.25 * spread["4 midpoints"]
    assert spread["2 front corners"] > 5 * spread["4 corners"]
    output = unity["4 corners"].level_db - unity["4 midpoints"].level_db
    assert output == pytest.approx(7.0, abs=1.0)


@pytest.mark.parametrize(("admittance", "midpoints", "corners"), [(0.01, 2.15, 2.70)])
def test_with_harder_walls_the_ranking_stays(admittance, midpoints, corners):
    """The same table, 1.5 s."""
    assert alike(CentredRoom.field(MIDPOINTS, admittance)).spread_db2 == pytest.approx(
        midpoints, abs=0.1
    )
    assert alike(CentredRoom.field(CORNERS, admittance)).spread_db2 == pytest.approx(
        corners, abs=0.1
    )


@pytest.mark.parametrize(
    ("places", "variance", "tuned", "level"),
    [(CinemaRoom.midpoints, 22.8, 10.4, 1.3), (CinemaRoom.corners, 31.8, 13.7, 1.7)],
)
def test_gain_and_delay_more_than_halve_the_spread_of_a_real_seating(
    places, variance, tuned, level
):
    """Our table for the private cinema: gain and delay at least as good as tabled, within 10 %.

    The table leaves the spacing of the seats open: 1 dB squared for that.
    """
    field = CinemaRoom.field(places)
    settings = gain_and_delay(
        field[None], CinemaRoom.frequency, GainDelayLimits(), Weights(0.1).level, THOROUGH
    )
    best = judged(field, settings.gains(CinemaRoom.frequency)[0])
    plain = alike(field)
    assert plain.spread_db2 == pytest.approx(variance, abs=1.0)
    assert best.spread_db2 < 1.1 * tuned
    assert best.spread_db2 < 0.5 * plain.spread_db2
    assert best.level_db - plain.level_db > level - 0.5


def test_free_gains_reach_a_few_squared_decibels():
    """Our table: 3.2 to 6.8 with an effort of 0.001, more effort less even; a bound from above.

    The tabled figures come from fewer exchanges and starts, so these must be lower.
    """
    for places, tabled in ((CinemaRoom.midpoints, 3.21), (CinemaRoom.corners, 6.81)):
        field = CinemaRoom.field(places)
        weak, strong = (
            judged(field, magnitude_gains(field[None], share)[0]) for share in (1e-3, 1e-2)
        )
        assert weak.spread_db2 < tabled
        assert weak.spread_db2 < strong.spread_db2
        assert weak.level_db < strong.level_db
