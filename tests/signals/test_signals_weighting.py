"""Weightings against IEC 61672-1:2013 Table 3 (standards.md 4.3)."""

import numpy as np
import pytest

from roomwright import signals

#: standards.md 4.3: A and C over the third octaves 10 Hz to 20 kHz, to a tenth of a decibel.
TABLE_A = (
    -70.4, -63.4, -56.7, -50.5, -44.7, -39.4, -34.6, -30.2, -26.2, -22.5, -19.1, -16.1, -13.4,
    -10.9, -8.6, -6.6, -4.8, -3.2, -1.9, -0.8, 0.0, 0.6, 1.0, 1.2, 1.3, 1.2, 1.0, 0.5, -0.1, -1.1,
    -2.5, -4.3, -6.6, -9.3,
)  # fmt: skip
TABLE_C = (
    -14.3, -11.2, -8.5, -6.2, -4.4, -3.0, -2.0, -1.3, -0.8, -0.5, -0.3, -0.2, -0.1, 0.0, 0.0, 0.0,
    0.0, 0.0, 0.0, 0.0, 0.0, 0.0, -0.1, -0.2, -0.3, -0.5, -0.8, -1.3, -2.0, -3.0, -4.4, -6.2, -8.5,
    -11.2,
)  # fmt: skip


@pytest.mark.parametrize(("kind", "table"), [("A", TABLE_A), ("C", TABLE_C)])
def test_table_at_exact_midbands(kind, table):
    # Half the table's last digit, and nothing more: it holds at the exact base-ten frequencies.
    level_db = signals.weighting_db(signals.midbands(3, 10, 20000), kind)
    assert level_db == pytest.approx(table, abs=0.05 + 1e-9)


def test_reference_frequency_is_zero():
    # Annex E gives its constants to 0.001 dB, which leaves half of that at 1 kHz.
    for kind in ("A", "C", "Z"):
        assert signals.weighting_db(1000.0, kind) == pytest.approx(0.0, abs=1e-3)


def test_zero_frequency_and_z():
    assert np.array_equal(signals.weighting_db([0.0, 1.0], "Z"), [0.0, 0.0])
    assert signals.weighting_db(0.0, "A") == -np.inf


@pytest.mark.parametrize("kind", ["A", "C", "Z"])
def test_weighted_sines_have_the_weighted_level(kind):
    # Whole periods in one second, so the transform sees single bins: exact but for rounding.
    time = np.arange(48000) / 48000
    frequencies = np.array([31.0, 1000.0, 12500.0])
    sines = np.sin(2 * np.pi * frequencies[:, None] * time)
    weighted = signals.weight(sines, 48000, kind)
    gain_db = signals.amplitude_db(signals.rms(weighted) / signals.rms(sines))
    assert gain_db == pytest.approx(signals.weighting_db(frequencies, kind), abs=1e-8)


def test_weighting_adds_no_phase():
    impulse = np.zeros(4096)
    impulse[2048] = 1.0
    weighted = signals.weight(impulse, 48000, "C")
    assert weighted[1:2048] == pytest.approx(weighted[:2048:-1], abs=1e-12)
