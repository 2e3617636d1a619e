"""Biquads against the cookbook's numbers (standards.md 6.6) and their limiting cases."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import signal

from roomwright import signals
from roomwright._errors import InputError
from roomwright.model import Biquad

RATE = 48000
ROOT_HALF = 1 / np.sqrt(2)


def biquad(kind, frequency_hz, gain_db=0.0, q=ROOT_HALF):
    return Biquad(kind=kind, frequency_hz=frequency_hz, gain_db=gain_db, q=q)


#: standards.md 6.6 (R. Bristow-Johnson, Audio EQ Cookbook): b0 b1 b2, a1 a2 at a0 = 1. The
#: shelves are given there by S = 1, which is Q = 1/sqrt(2).
COOKBOOK = [
    (
        biquad("peaking", 1000, 6, 1),
        (1.04395308699, -1.89532072394, 0.86772228476, -1.89532072394, 0.91167537175),
    ),
    (
        biquad("peaking", 50, -10, 5),
        (0.999205101227, -1.99763217349, 0.998469859138, -1.99763217349, 0.997674960365),
    ),
    (
        biquad("low_shelf", 100, 6),
        (1.00321789574, -1.98436443078, 0.981386698749, -1.98442432914, 0.984544696124),
    ),
    (
        biquad("high_shelf", 8000, -3),
        (0.797556833919, -0.421284129525, 0.17652634831, -0.709104831844, 0.261903884547),
    ),
    (
        biquad("low_pass", 80),
        (2.72138079883e-5, 5.44276159766e-5, 2.72138079883e-5, -1.9851906579, 0.985299513128),
    ),
    (
        biquad("high_pass", 80),
        (0.992622542756, -1.98524508551, 0.992622542756, -1.9851906579, 0.985299513128),
    ),
    (
        biquad("all_pass", 60, q=1),
        (0.99217682035, -1.99211537692, 1.0, -1.99211537692, 0.99217682035),
    ),
]


@pytest.mark.parametrize(("section", "expected"), COOKBOOK, ids=lambda p: getattr(p, "kind", ""))
def test_cookbook_table(section, expected):
    # Half a unit of the table's twelfth digit.
    b0, b1, b2, a0, a1, a2 = signals.coefficients(section, RATE)
    assert a0 == 1.0
    assert (b0, b1, b2, a1, a2) == pytest.approx(expected, rel=5e-12)


@given(
    st.sampled_from(["peaking", "low_shelf", "high_shelf"]),
    st.floats(20, 20000),
    st.floats(-20, 20),
    st.floats(0.2, 12),
)
def test_boost_and_cut_are_exact_inverses(kind, frequency_hz, gain_db, q):
    pair = [biquad(kind, frequency_hz, sign * gain_db, q) for sign in (1, -1)]
    # 1e-6: at 10 Hz the sums of a section cancel to some 1e-6 of their terms.
    response = signals.response(signals.cascade_sos(pair, RATE), np.geomspace(10, 23000, 50), RATE)
    assert response == pytest.approx(np.ones(50), abs=1e-6)


def test_gains_at_the_ends_and_in_the_middle():
    # 6.6: a shelf has half its gain in dB at its frequency; a peak has all of it.
    at = np.array([1e-3, 1000, RATE / 2])
    for kind, expected in (
        ("low_shelf", (6, 3, 0)),
        ("high_shelf", (0, 3, 6)),
        ("peaking", (0, 6, 0)),
    ):
        sos = signals.cascade_sos([biquad(kind, 1000, 6)], RATE)
        level_db = signals.amplitude_db(signals.response(sos, at, RATE))
        assert level_db == pytest.approx(expected, abs=1e-6)


def test_all_pass_group_delay():
    # standards.md 6.6: 4Q/omega0; at 60 Hz and Q 1 it is 10.610 ms.
    sos = signals.cascade_sos([biquad("all_pass", 60, q=1)], RATE)
    at = np.array([59.99, 60.01])
    turn = np.diff(np.angle(signals.response(sos, at, RATE)))
    delay_ms = -1e3 * (turn % (-2 * np.pi)) / (2 * np.pi * np.diff(at))
    assert delay_ms == pytest.approx([10.610], abs=1e-3)


@given(st.lists(st.sampled_from([section for section, _ in COOKBOOK]), max_size=5))
def test_response_agrees_with_scipy(sections):
    sos = signals.cascade_sos(sections, RATE)
    assert sos.shape == (len(sections), 6)
    at = np.geomspace(10, 23000, 64)
    expected = signal.freqz_sos(sos, at, fs=RATE)[1] if sections else np.ones(64)
    assert signals.response(sos, at, RATE) == pytest.approx(expected, rel=1e-7)


def test_a_filter_beyond_half_the_rate_is_refused():
    with pytest.raises(InputError, match="must stand below 24000 Hz"):
        signals.coefficients(biquad("peaking", 24000, 3), RATE)
