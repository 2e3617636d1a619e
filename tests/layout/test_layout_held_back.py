"""Stations held back from the design of the bass, and the grid between the seats."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright import commissioning
from roomwright._errors import InputError
from roomwright.commissioning import with_bass
from roomwright.layout import bass_grid, held_back, stations_held_back


@pytest.fixture(scope="module")
def job():
    return with_bass(commissioning.demo_job(), method="matched", held_back=())


def names(job):
    return [station.id for station in job.stations]


def test_nothing_is_held_back_while_subwoofers_play_alike(job):
    assert not stations_held_back(job, names(job)).any()


def test_a_quarter_is_held_back_but_never_the_main_seat(job):
    even = with_bass(job, method="even_seats")
    held = stations_held_back(even, names(even))
    assert held.sum() == round(0.25 * (len(held) - 1))
    main = next(n for n, s in enumerate(even.stations) if s.seat == even.main_seat)
    assert not held[main]


def test_those_named_are_held_back(job):
    named = with_bass(job, held_back=("G2", "S-R2-3"))
    held = stations_held_back(named, names(named))
    assert [n for n, out in zip(names(named), held, strict=True) if out] == ["S-R2-3", "G2"]


def test_too_few_stations_are_all_used(job):
    even = with_bass(job, method="even_seats")
    assert not stations_held_back(even, names(even)[:4]).any()


def test_held_back_stations_are_spread_over_the_grid():
    grid = np.array([(x, y, z) for z in (0.9, 1.5) for y in range(4) for x in range(4)], float)
    held = grid[held_back(grid)]
    assert len(held) == 8
    assert set(held[:, 2]) == {0.9, 1.5}
    assert len(set(held[:, 1])) == 4


def test_the_grid_closes_the_gaps_between_rows_at_two_heights(job):
    seats = [s for s in job.stations if s.id.startswith("S-")]
    added = bass_grid(job.room, job.seats, seats, 1.0)
    points = np.array([s.position_m for s in (*seats, *added)])
    grid = np.array([s.position_m for s in added])
    ears = np.array([s.position_m for s in job.seats])
    assert np.ptp(grid[:, 2]) > 0.4
    # No place between the seats is farther from a station than a step of the grid.
    across = np.linspace(ears[:, 0].min(), ears[:, 0].max(), 9)
    back = np.linspace(ears[:, 1].min(), ears[:, 1].max(), 9)
    places = np.array([(x, y) for x in across for y in back])
    apart = np.linalg.norm(places[:, None] - points[None, :, :2], axis=-1)
    assert apart.min(axis=1).max() < 1.0
    assert bass_grid(job.room, job.seats, [*seats, *added], 1.0) == ()
    with pytest.raises(InputError, match="spacing"):
        bass_grid(job.room, job.seats, seats, 0.0)
