from __future__ import annotations

import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.acoustics import green_lattice, green_walls

SIZE = (4.5, 6.0, 2.7)
WALLS = np.array([0.02, 0.05, 0.01, 0.2, 0.03, 0.1])
PLANES = (np.linspace(0.0, 4.5, 7), np.linspace(0.1, 5.9, 9), np.array([0.4, 1.2]))


def points(planes):
    return np.stack(np.meshgrid(*planes, indexing="ij"), axis=-1)


@pytest.mark.parametrize("frequency", [20.0, 63.0, 280.0])
def test_lattice_is_the_field_of_its_points(frequency):
    sources = np.array([[0.3, 0.3, 0.2], [4.2, 0.3, 0.2], [1.37, 2.93, 1.2]])
    field = green_lattice(SIZE, sources, PLANES, frequency, WALLS, tolerance=1e-10)
    for source, over in zip(sources, field, strict=True):
        at = points(PLANES).reshape(-1, 3)
        one = green_walls(SIZE, source, at, [frequency], WALLS[:, None], tolerance=1e-10)
        # Both leave out waves below 1e-10 of the direct sound, which a node can make weigh more.
        assert over.ravel() == pytest.approx(one[0, :, 0], rel=1e-7)


def test_lattice_has_nothing_within_reach_of_a_source():
    source = np.array([2.0, 3.0, 1.2])
    planes = (np.array([1.95, 2.0, 2.2]), np.array([3.0]), np.array([1.2]))
    field = green_lattice(SIZE, source, planes, 50.0, WALLS)
    assert np.isnan(field[0, :, 0, 0]).tolist() == [True, True, False]


def test_source_and_point_can_be_exchanged():
    one, other = np.array([0.4, 1.1, 0.3]), np.array([3.1, 4.4, 1.3])
    there = green_lattice(SIZE, one, tuple(other), 80.0, WALLS, tolerance=1e-12)
    back = green_lattice(SIZE, other, tuple(one), 80.0, WALLS, tolerance=1e-12)
    # Reciprocity is exact; the sums are cut at 1e-12 of the direct sound.
    assert there[0, 0, 0, 0] == pytest.approx(back[0, 0, 0, 0], rel=1e-9)


@pytest.mark.parametrize(
    ("planes", "frequency", "walls", "says"),
    [
        (([5.0], [1.0], [1.0]), 50.0, WALLS, "outside the box"),
        (([1.0], [1.0], [1.0]), -50.0, WALLS, "frequency"),
        (([1.0], [1.0], [1.0]), 50.0, WALLS[:5], "admittance"),
        (([1.0], [1.0], [1.0]), 50.0, np.zeros(6), "admittance"),
    ],
)
def test_bad_input_is_refused(planes, frequency, walls, says):
    with pytest.raises(InputError, match=says):
        green_lattice(SIZE, [2.0, 2.0, 0.2], planes, frequency, walls)
