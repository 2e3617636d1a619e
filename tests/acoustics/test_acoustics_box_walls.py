"""Box with locally reacting walls: 6 x 4.5 x 2.7 m, one admittance on all of them."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.acoustics import green_uniform, green_walls
from roomwright.acoustics._axis_modes import lossy_modes

SIZE = (6.0, 4.5, 2.7)
VOLUME = 6.0 * 4.5 * 2.7
SOURCE = (0.35, 0.45, 0.25)
RECEIVER = (4.05, 2.35, 1.25)
C = 343.0

MODE_X, MODE_Y, MODE_Z = (C / (2.0 * length) for length in SIZE)
FREQUENCY = np.array(
    [20, MODE_X, 31.5, MODE_Y, 40, np.hypot(MODE_X, MODE_Y), 50, 63, MODE_Z, 80, 100, 120]
)

# Triple sum over complex standing waves, Newton from a perturbation start, cut off too early for
# the last digits.
TABLE_DB = {
    0.01: [8.410, 25.237, 7.157, 4.938, -2.491, 1.131, -5.499, 4.088, 3.705, 14.936, -4.508, 2.362],
    0.0332: [
        8.246, 14.855, 6.165, -2.397, -4.115, -12.195,
        -8.165, -2.199, -3.760, 11.068, -0.577, 0.573,
    ],
    0.1: [
        6.924, 5.527, 2.153, -5.220, -6.999, -15.001,
        -11.192, -5.468, -5.959, 3.237, -1.073, -1.297,
    ],
}  # fmt: skip
# The same for 0.1, summed in closed form along x with 60 complex modes, four decimals.
CONVERGED_DB = [
    6.9297, 5.5292, 2.1523, -5.2283, -7.0116, -14.9893,
    -11.1727, -5.4882, -5.9806, 3.2299, -1.0610, -1.3026,
]  # fmt: skip


def db(ratio):
    return 20.0 * np.log10(np.abs(ratio))


def pair(beta, frequency=FREQUENCY, **options):
    walls = np.broadcast_to(np.reshape(beta, (-1, 1)), (6, len(frequency)))
    return 4 * np.pi * green_walls(SIZE, [SOURCE], [RECEIVER], frequency, walls, C, **options)[0, 0]


@pytest.mark.parametrize("beta", sorted(TABLE_DB))
def test_field_matches_the_table(beta):
    """Within the truncation of the table, the same missing near field at any admittance.

    Where the converged row shows it, 0.01 to 0.02 dB, it is 1.5e-3 of the free field at 1 m.
    """
    table = 10.0 ** (np.array(TABLE_DB[beta]) / 20.0)
    assert np.abs(pair(beta)) == pytest.approx(table, abs=2e-3)


def test_field_matches_the_converged_row():
    """Four decimals printed."""
    assert db(pair(0.1)) == pytest.approx(CONVERGED_DB, abs=1.1e-4)


@pytest.mark.parametrize(
    "beta",
    [
        0.01,
        0.1,
        0.6,
        (0.0, 0.0, 0.02, 0.3, 0.6, 0.0),
        (0.6, 0.01, 0.0, 0.2, 0.05, 0.4),
        (0.0, 0.0, 0.0, 0.0, 0.0, 0.2),
    ],
)
def test_the_three_axes_agree(beta):
    """End walls by reflection, side walls by complex modes: each wall once as either.

    A mode lost or found twice would show here at once.
    """
    frequency = np.geomspace(15.0, 400.0, 20)
    x, y, z = (pair(beta, frequency, axis=axis, tolerance=1e-13) for axis in range(3))
    assert db(y / x) == pytest.approx(0.0, abs=1e-8)
    assert db(z / x) == pytest.approx(0.0, abs=1e-8)


@pytest.mark.parametrize(("beta", "bound_db"), [(0.01, 0.09), (0.0332, 0.55), (0.1, 1.45)])
def test_per_mode_damping_is_its_first_approximation(beta, bound_db):
    """Morse and Ingard, chapter 9: k_n^2 - k^2 + j k sum beta S / (V e), e 1 or 1/2.

    Its known greatest errors at these admittances are the bounds; 0.02 dB more for cutting the
    triple sum at 3.2 kHz.
    """
    index = [np.arange(int(2 * 3200.0 / C * length) + 1) for length in SIZE]
    factor = [np.where(n == 0, 1.0, 2.0) for n in index]
    squared = [(n * np.pi / length) ** 2 for n, length in zip(index, SIZE, strict=True)]
    damping = [2 * beta * e / length for e, length in zip(factor, SIZE, strict=True)]
    shape = [
        np.cos(n * np.pi * a / length) * np.cos(n * np.pi * b / length) * e
        for n, e, length, a, b in zip(index, factor, SIZE, SOURCE, RECEIVER, strict=True)
    ]
    total, loss = (t[0][:, None, None] + t[1][:, None] + t[2] for t in (squared, damping))
    product = shape[0][:, None, None] * shape[1][:, None] * shape[2]
    kept = total < (2 * np.pi * 3200.0 / C) ** 2
    total, loss, product = total[kept], loss[kept], product[kept]
    wavenumber = 2 * np.pi * FREQUENCY / C
    summed = [np.sum(product / (total - k**2 + 1j * k * loss)) / VOLUME for k in wavenumber]
    error = np.abs(db(pair(beta) / (4 * np.pi * np.array(summed))))
    assert error.max() < bound_db + 0.02
    # It approximates, and no more: were the walls' field it, the bound would not be met.
    assert error.max() > 0.5 * bound_db


def test_axial_modes_outlive_the_diffuse_field():
    """Uniform damping by Sabine's time (alpha = 8 beta) errs by 4.3 dB at beta 0.01."""
    surface = 2 * (6.0 * 4.5 + 4.5 * 2.7 + 2.7 * 6.0)
    time = 24 * np.log(10.0) / C * VOLUME / (surface * 0.08)
    assert time == pytest.approx(1.33, abs=0.01)
    uniform = 4 * np.pi * green_uniform(SIZE, [SOURCE], [RECEIVER], FREQUENCY, time, C)[0, 0]
    assert np.abs(db(pair(0.01) / uniform)).max() == pytest.approx(4.3, abs=0.1)


def test_source_and_receiver_can_be_exchanged():
    """Reciprocity, to rounding, with six different walls."""
    rng = np.random.default_rng(2)
    here, there = rng.uniform(0.1, np.array(SIZE) - 0.1, (2, 8, 3))
    walls = np.tile([[0.01], [0.3], [0.05], [0.0], [0.2], [0.1]], 12)
    field = green_walls(SIZE, here, there, FREQUENCY, walls)
    back = green_walls(SIZE, there, here, FREQUENCY, walls)
    assert np.abs(field - back.swapaxes(0, 1)).max() < 1e-12 * np.abs(field).max()


def test_walls_of_a_duct_reflect_as_they_should():
    """A closed form of its own: below the first cross mode only a plane wave is left.

    In a duct 0.2 m wide the wave from the source is -j / (2 k S) exp(-j k x), and each end
    returns (1 - beta) / (1 + beta) of it; cross modes decay as exp(-pi x / 0.2).
    """
    length, width = 8.0, 0.2
    frequency = np.linspace(20.0, 300.0, 15)
    k = 2 * np.pi * frequency / C
    near, far = 2.5, 6.0
    beta_first, beta_last = 0.3, 0.05
    first, last = ((1 - beta) / (1 + beta) for beta in (beta_first, beta_last))
    expected = (
        -0.5j
        / (k * width**2)
        * np.exp(-1j * k * (far - near))
        * (1 + first * np.exp(-2j * k * near))
        * (1 + last * np.exp(-2j * k * (length - far)))
        / (1 - first * last * np.exp(-2j * k * length))
    )
    walls = np.tile([[beta_first], [beta_last], [0], [0], [0], [0]], frequency.size)
    field = green_walls(
        (length, width, width), (near, 0.05, 0.1), (far, 0.1, 0.15), frequency, walls, C
    )[0, 0]
    assert np.abs(field / expected - 1).max() < 1e-9


def test_field_passes_smoothly_through_a_cut_off():
    """Exactly at a cross mode of rigid side walls, where a propagation constant vanishes."""
    walls = np.tile([[0.1], [0.1], [0], [0], [0], [0]], 3)
    at = MODE_Y * np.array([1 - 1e-7, 1.0, 1 + 1e-7])
    below, exact, above = green_walls(SIZE, SOURCE, RECEIVER, at, walls, C)[0, 0]
    assert exact == pytest.approx(0.5 * (below + above), rel=1e-5)


def test_each_standing_wave_satisfies_both_walls():
    """Residual of the characteristic equation, and orthogonality without conjugation."""
    length, k, beta = 4.5, np.array([1.0, 7.0]), np.array([[0.1, 0.6], [0.3, 0.5]])
    modes = lossy_modes(length, 12, k, beta)
    wavenumber = np.sqrt(modes.wavenumber_squared)
    total = 1j * k * beta.sum(axis=0)
    product = -(k**2) * beta.prod(axis=0)
    residual = (
        total[:, None] * np.cos(wavenumber * length)
        + (product[:, None] / wavenumber - wavenumber) * np.sin(wavenumber * length)
    )  # fmt: skip
    assert np.abs(residual).max() < 1e-9
    node, weight = np.polynomial.legendre.leggauss(80)
    shapes = modes.shapes(0.5 * length * (node + 1.0))
    product = np.einsum("p,fpm,fpn->fmn", 0.5 * length * weight, shapes, shapes)
    assert np.abs(product - np.eye(12)).max() < 1e-10


def test_bad_walls_are_refused():
    def field(walls):
        green_walls(SIZE, [SOURCE], [RECEIVER], [50.0, 60.0], walls)

    with pytest.raises(InputError, match=r"must be \(6, 2\)"):
        field(np.full((6, 3), 0.1))
    with pytest.raises(InputError, match="0 to 1"):
        field(np.full((6, 2), -0.1))
    with pytest.raises(InputError, match="above 0 on a wall"):
        field(np.zeros((6, 2)))
    with pytest.raises(InputError, match="not a number"):
        field(np.full((6, 2), np.nan))
