from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from roomwright._errors import InputError
from roomwright.acoustics import (
    absorption_at,
    absorption_from_admittance,
    admittance_from_absorption,
    box_admittances,
)
from roomwright.model import Room, Surface


def box_room(*absorptions):
    """6 x 4 x 2.7 m; absorption of x=0, x=Lx, y=0, y=Ly, z=0, z=Lz, one for all bands."""
    left, right, front, back, floor, ceiling = (
        Surface(material="test", absorption=(alpha,) * 8) for alpha in absorptions
    )
    return Room(
        outline_m=((0, 0), (6, 0), (6, 4), (0, 4)),
        height_m=2.7,
        floor=floor,
        ceiling=ceiling,
        walls=(front, right, back, left),
    )


@pytest.mark.parametrize("beta", [0.001, 0.03, 0.2, 0.638, 1.5])
def test_absorption_is_paris_integral(beta):
    """Kuttruff, section 2.5: alpha = int alpha(theta) sin 2 theta, integrated numerically."""
    factor = lambda theta: (np.cos(theta) - beta) / (np.cos(theta) + beta)  # noqa: E731
    integral, _ = quad(lambda t: (1.0 - factor(t) ** 2) * np.sin(2 * t), 0, np.pi / 2)
    assert absorption_from_admittance(beta) == pytest.approx(integral, abs=1e-9)


def test_small_admittance_absorbs_eightfold():
    """The diffuse link alpha = 8 beta for small beta; the next term is 16 beta^2 ln(1/beta)."""
    beta = 1e-6
    assert absorption_from_admittance(beta) == pytest.approx(8 * beta, rel=1e-4)


def test_no_real_admittance_absorbs_more_than_0_951():
    """Kuttruff, section 2.5: the maximum 0.951 at |Z| = 1.567 rho c."""
    beta = np.linspace(0.01, 1.0, 100_000)
    alpha = absorption_from_admittance(beta)
    assert alpha.max() == pytest.approx(0.951, abs=5e-4)
    assert 1.0 / beta[alpha.argmax()] == pytest.approx(1.567, abs=5e-4)


def test_admittance_inverts_absorption():
    """Bisection to 2^-60; near the flat maximum the inverse loses half the digits."""
    alpha = np.linspace(0.0, 0.95, 96)
    again = absorption_from_admittance(admittance_from_absorption(alpha))
    assert again == pytest.approx(alpha, abs=1e-12)


def test_total_absorption_gives_the_most_absorbing_wall():
    assert admittance_from_absorption(1.0) == pytest.approx(0.638, abs=1e-3)
    assert admittance_from_absorption(0.0) == 0.0


def test_planes_come_in_the_order_of_the_room():
    alpha = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6)
    beta = box_admittances(box_room(*alpha), [100.0, 1000.0])
    assert beta == pytest.approx(np.tile(admittance_from_absorption(alpha)[:, None], 2))


def test_absorption_is_interpolated_over_log_frequency_and_held():
    row = np.array([[0.1, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.5]])
    middle = np.sqrt(63.0 * 125.0)
    assert absorption_at(row, [20.0, 63.0, middle, 125.0, 20000.0]) == pytest.approx(
        np.array([[0.1, 0.1, 0.2, 0.3, 0.5]])
    )


def test_bad_walls_are_refused():
    with pytest.raises(InputError, match="0 or more"):
        absorption_from_admittance([-0.1])
    with pytest.raises(InputError, match="0 to 1"):
        admittance_from_absorption([0.5, 1.2])
    with pytest.raises(InputError, match="not a number"):
        admittance_from_absorption([np.nan])
    with pytest.raises(InputError, match="above 0"):
        box_admittances(box_room(*(0.1,) * 6), [0.0])
    triangle = Room(
        outline_m=((0, 0), (6, 0), (0, 4)),
        height_m=2.7,
        floor=Surface(material="test", absorption=(0.1,) * 8),
        ceiling=Surface(material="test", absorption=(0.1,) * 8),
        walls=(Surface(material="test", absorption=(0.1,) * 8),) * 3,
    )
    with pytest.raises(InputError, match="not a box"):
        box_admittances(triangle, [100.0])
