from __future__ import annotations

import numpy as np
import pytest
import skfem as fem
from scipy.sparse.linalg import eigsh
from skfem.helpers import dot, grad

from roomwright._errors import InputError
from roomwright.acoustics import box_modes, mode_count, schroeder_frequency_hz

SIZE = (6.0, 4.0, 2.7)
C = 343.0

# Rigid room 6.0 x 4.0 x 2.7 m, c = 343 m/s: Kuttruff's formula worked by hand, two decimals.
LISTED = """
28.58 100 axial
42.88 010 axial
51.53 110 tangential
57.17 200 axial
63.52 001 axial
69.65 101 tangential
71.46 210 tangential
76.63 011 tangential
81.79 111 oblique
85.46 201 tangential
85.75 020 axial
85.75 300 axial
90.39 120 tangential
95.61 211 oblique
95.87 310 tangential
103.06 220 tangential
106.71 021 tangential
106.71 301 tangential
110.47 121 oblique
114.33 400 axial
115.00 311 oblique
121.06 221 oblique
121.27 320 tangential
122.11 410 tangential
127.04 002 axial
128.62 030 axial
"""


def test_modes_match_the_worked_list():
    modes = box_modes(SIZE, 130.0, C)
    found = {
        "".join(map(str, index)): (frequency, str(kind))
        for frequency, index, kind in zip(modes.frequency_hz, modes.index, modes.kind, strict=True)
    }
    lines = [line.split() for line in LISTED.split("\n") if line]
    assert len(found) == len(lines)
    for frequency, index, kind in lines:
        assert found[index][0] == pytest.approx(float(frequency), abs=0.0051)
        assert found[index][1] == kind
    assert np.all(np.diff(modes.frequency_hz) >= 0)


def test_counts_below_200_hz():
    """Same room: 83 modes, 13 axial, 41 tangential, 29 oblique; the formula gives 84.75."""
    kinds = list(box_modes(SIZE, 200.0, C).kind)
    assert [kinds.count(kind) for kind in ("axial", "tangential", "oblique")] == [13, 41, 29]
    assert mode_count(SIZE, 200.0, C) == pytest.approx(84.75, abs=0.0051)


def test_count_approaches_the_formula():
    """Bolt-Maa: what is left over grows more slowly than the count itself."""
    errors = [
        abs(box_modes(SIZE, f, C).frequency_hz.size / mode_count(SIZE, f, C) - 1.0)
        for f in (200.0, 1600.0)
    ]
    assert errors[1] < 0.002 < errors[0]


@pytest.mark.parametrize(
    ("time", "volume", "frequency"), [(0.3, 64.8, 136.1), (0.25, 100.0, 100.0), (0.5, 50.0, 200.0)]
)
def test_schroeder_frequency(time, volume, frequency):
    """2000 sqrt(T / V), one decimal printed."""
    assert schroeder_frequency_hz(time, volume) == pytest.approx(frequency, abs=0.051)


def test_first_nine_modes_match_finite_elements():
    """scikit-fem, quadratic hexahedra of edge h: a frequency is off by (k h)^4 / 1440.

    The worst here is (2, 0, 0) with k h = 0.63: 1.1e-4 too high, and never too low.
    """
    edges = [np.linspace(0, s, n) for s, n in zip(SIZE, (11, 8, 6), strict=True)]
    mesh = fem.MeshHex.init_tensor(*edges)
    basis = fem.Basis(mesh, fem.ElementHex2())
    stiffness = fem.BilinearForm(lambda u, v, _: dot(grad(u), grad(v))).assemble(basis)
    mass = fem.BilinearForm(lambda u, v, _: u * v).assemble(basis)
    squared = eigsh(stiffness, k=10, M=mass, sigma=0.1, return_eigenvectors=False)
    numeric = C * np.sqrt(np.sort(squared)[1:]) / (2 * np.pi)
    excess = numeric / box_modes(SIZE, 90.0, C).frequency_hz[:9] - 1.0
    assert np.all((excess > 0) & (excess < 1.3e-4))


def test_no_mode_below_the_first():
    assert box_modes(SIZE, 28.0, C).frequency_hz.size == 0


@pytest.mark.parametrize("size", [(6.0, 0.0, 2.7), (6.0, 4.0), (6.0, 4.0, -1.0)])
def test_size_must_be_three_positive_lengths(size):
    with pytest.raises(InputError, match=r"size"):
        box_modes(size, 100.0)
