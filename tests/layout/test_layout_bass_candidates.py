"""Where subwoofers may stand."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import Point as FlatPoint

from roomwright._errors import InputError
from roomwright.layout.bass_candidates import CandidateRules, Exclusion, bass_candidates
from roomwright.model import Room, Surface

SURFACE = Surface(material="mixed", absorption=(0.2,) * 8)


def room_of(*outline_m):
    return Room(
        outline_m=outline_m,
        height_m=2.7,
        floor=SURFACE,
        ceiling=SURFACE,
        walls=(SURFACE,) * len(outline_m),
    )


BOX = room_of((0, 0), (4.5, 0), (4.5, 6), (0, 6))
CORNERED = room_of((0, 0), (5, 0), (5, 3), (3, 3), (3, 6), (0, 6))


def test_corners_and_middles_of_a_box_are_among_the_places():
    places = set(bass_candidates(BOX))
    for x, y in [(0.3, 0.3), (4.2, 0.3), (0.3, 5.7), (2.25, 0.3), (2.25, 5.7), (0.3, 3), (4.2, 3)]:
        assert (x, y, 0.3) in places
    # 3.9 m in 8 steps and 5.4 m in 12.
    assert len(places) == 2 * (8 + 12)


@pytest.mark.parametrize("room", [BOX, CORNERED])
def test_places_keep_their_distances(room):
    rules = CandidateRules(
        spacing_m=0.6, from_wall_m=0.25, wall_heights_m=(0.3, 1.5), strip_m=1.2, on_ceiling=True
    )
    places = np.array(bass_candidates(room, rules))
    walls = [room.polygon.exterior.distance(FlatPoint(x, y)) for x, y, _ in places]
    assert min(walls) >= 0.25 - 1e-3
    assert all(room.polygon.contains(FlatPoint(x, y)) for x, y, _ in places)
    assert set(places[:, 2].round(6)) == {0.3, 1.5, 2.4}
    apart = np.linalg.norm(places[:, None] - places, axis=-1) + np.eye(len(places))
    assert apart.min() > 0.01
    # Along the walls no gap is wider than the spacing.
    low = places[(places[:, 2] == 1.5)]
    gaps = np.linalg.norm(low - np.roll(low, -1, axis=0), axis=1)
    assert gaps.max() <= 0.6 + 1e-3


def test_nothing_stands_where_it_must_not():
    door = Exclusion((3.0, 5.0), (4.5, 6.0), high_m=2.1)
    rules = CandidateRules(wall_heights_m=(0.3, 2.4))
    places = np.array(bass_candidates(BOX, rules, [door], away_from=[(0.3, 3.0, 0.3)]))
    in_door = (places[:, 0] >= 3.0) & (places[:, 1] >= 5.0)
    assert set(places[in_door][:, 2]) == {2.4}
    assert np.linalg.norm(places - (0.3, 3.0, 0.3), axis=1).min() >= 0.3
    assert len(places) < len(bass_candidates(BOX, rules))


def test_mirrored_places_come_in_pairs():
    door = Exclusion((0.0, 0.0), (1.0, 2.0))
    places = np.array(bass_candidates(BOX, None, [door], mirrored=True))
    images = places * (-1, 1, 1) + (4.5, 0, 0)
    apart = np.linalg.norm(images[:, None] - places, axis=-1)
    assert apart.min(axis=1).max() < 0.01
    assert not np.any((places[:, 0] > 3.5) & (places[:, 1] < 2.0))
    assert len(places) < len(bass_candidates(BOX, None, [door]))


def test_no_place_left_says_what_would_help():
    with pytest.raises(InputError, match="no place is left for a subwoofer"):
        bass_candidates(BOX, None, [Exclusion((0, 0), (4.5, 6))])
    with pytest.raises(InputError, match="no place is left"):
        bass_candidates(BOX, CandidateRules(from_wall_m=3.0))
    with pytest.raises(InputError, match="spacing of subwoofer places"):
        bass_candidates(BOX, CandidateRules(spacing_m=0.0))
