"""One loudspeaker: data sheet, own differences, distortion, faults on its wire."""

from __future__ import annotations

import numpy as np
import pytest
from rehearsal_cinema import MAIN, SUBWOOFER, make_job
from scipy import fft

from roomwright._errors import InputError
from roomwright.model import Fault
from roomwright.rehearsal.faults import rattle, wiring
from roomwright.rehearsal.streams import stream
from roomwright.rehearsal.units import distortion, unit_response

RATE = 48000.0
GRID = fft.rfftfreq(48000, 1 / RATE)


def level_db(response):
    """Level at 1 m in dB re 20 uPa of a sine 20 dB below digital full scale (peak 0.1)."""
    return 20 * np.log10(np.maximum(np.abs(response), 1e-30) * 0.1 / np.sqrt(2) / 20e-6)


@pytest.mark.parametrize("model", [MAIN, SUBWOOFER])
def test_the_data_sheet_is_met(model):
    """Sensitivity in the band, -3.01 dB at the limits, Butterworth slopes far outside."""
    level = level_db(unit_response(model, "A", 1, 0.0, GRID, RATE))
    middle = int(np.sqrt(model.low_hz * model.high_hz))
    low, high = int(model.low_hz), int(model.high_hz)
    assert level[middle] == pytest.approx(model.sensitivity_db, abs=0.1)
    assert level[low] == pytest.approx(model.sensitivity_db - 3.01, abs=0.02)
    assert level[high] == pytest.approx(model.sensitivity_db - 3.01, abs=0.02)
    # two octaves below: 1 / sqrt(1 + 4^(2 order))
    order = model.low_slope_db // 6
    expected = -10 * np.log10(1 + (low / (low // 4)) ** (2 * order))
    assert level[low // 4] - model.sensitivity_db == pytest.approx(expected, abs=0.05)


def test_a_unit_is_minimum_phase():
    """Nothing comes before time zero: the energy of negative times, from a band-limited model."""
    response = unit_response(SUBWOOFER, "A", 1, 1.0, GRID, RATE)
    impulse = fft.irfft(response)
    assert np.sum(impulse[24000:] ** 2) < 1e-6 * np.sum(impulse**2)


def test_units_differ_by_the_stated_spread():
    """Ripple: its rms over the band is the spread, for each unit. Level: over many units."""
    flat = unit_response(MAIN, "A", 1, 0.0, GRID, RATE)
    band = np.unique(np.geomspace(MAIN.low_hz, 19000, 4000).astype(int))
    spacing = np.gradient(np.log(band))
    offsets = []
    for number in range(60):
        own = unit_response(MAIN, f"U{number}", 1, 0.5, GRID, RATE)
        difference_db = 20 * np.log10(np.abs(own[band] / flat[band]))
        offset_db = 0.5 * np.clip(stream(1, "unit", f"U{number}").standard_normal(), -2, 2)
        ripple_db = np.sqrt(np.average((difference_db - offset_db) ** 2, weights=spacing))
        # gains of overlapping filters do not scale exactly: 2 %
        assert ripple_db == pytest.approx(0.5, rel=0.05)
        offsets.append(offset_db)
    # 60 draws of a normal cut at two deviations: 0.48 +- 0.04
    assert np.std(offsets) == pytest.approx(0.48, abs=0.13)


def test_a_unit_is_the_same_for_the_same_seed():
    own = unit_response(MAIN, "U3", 1, 0.5, GRID, RATE)
    np.testing.assert_array_equal(own, unit_response(MAIN, "U3", 1, 0.5, GRID, RATE))
    assert not np.array_equal(own, unit_response(MAIN, "U3", 2, 0.5, GRID, RATE))
    assert not np.array_equal(own, unit_response(MAIN, "U4", 1, 0.5, GRID, RATE))


def harmonics(level_below_maximum_db, percent=1.0):
    """Amplitudes of fundamental, second and third harmonic of a 100 Hz sine."""
    n = 48000
    maximum = 0.1 * 10 ** ((MAIN.maximum_level_db - MAIN.sensitivity_db) / 20)
    peak = maximum * 10 ** (-level_below_maximum_db / 20)
    drive = (peak * np.sin(2 * np.pi * 100 * np.arange(n) / RATE)).astype(np.float32)
    radiated = drive + distortion(drive, MAIN, percent, RATE)
    return np.abs(fft.rfft(radiated.astype(float)))[[100, 200, 300]] / (n / 2)


def test_distortion_is_the_stated_at_maximum_level_and_falls_with_it():
    """Second order falls with the level, third with its square; at 100 Hz the excursion is
    0.5 dB and 1 dB down on its low-frequency value, less than 10 and 15 % of the products."""
    first, second, third = harmonics(0.0)
    assert np.hypot(second, third) / first == pytest.approx(0.01, rel=0.15)
    quieter = harmonics(20.0)
    assert quieter[1] / quieter[0] == pytest.approx(second / first / 10, rel=0.03)
    assert quieter[2] / quieter[0] == pytest.approx(third / first / 100, rel=0.06)


def test_distortion_products_do_not_fold_back():
    """A drive at 9 kHz, cut off before it is squared: nothing at 48 - 2 x 9 = 30 -> 18 kHz, and
    nothing at 3 x 9 = 27 -> 21 kHz."""
    n = 48000
    drive = np.sin(2 * np.pi * 9000 * np.arange(n) / RATE).astype(np.float32)
    products = np.abs(fft.rfft(distortion(drive, MAIN, 10.0, RATE).astype(float))) / (n / 2)
    assert products.max() < 1e-9


def test_without_distortion_nothing_is_added():
    drive = np.random.default_rng(1).standard_normal(4800).astype(np.float32)
    assert not distortion(drive, MAIN, 0.0, RATE).any()


def test_faults_change_the_wires():
    wires = wiring(
        make_job(
            faults=(
                Fault(kind="reversed", output=1),
                Fault(kind="quiet", output=1, amount=6.0),
                Fault(kind="late", output=2, amount=0.004),
                Fault(kind="swapped", output=1, other=3),
                Fault(kind="buzz", output=3),
            )
        )
    )
    assert wires[1].unit_id == "SW1"
    assert wires[3].unit_id == "M+030"
    assert wires[1].gain == pytest.approx(-(10 ** (-6 / 20)))
    assert wires[2].delay_s == 0.004
    assert wires[3].buzzes
    assert not wires[2].buzzes
    assert wiring(make_job(faults=(Fault(kind="dead", output=2),)))[2].gain == 0.0


@pytest.mark.parametrize(
    ("fault", "message"),
    [
        (Fault(kind="dead", output=9), "'dead' is planted in output 9.*: 1, 2, 3"),
        (Fault(kind="swapped", output=1, other=12), "in output 12"),
        (Fault(kind="late", output=1, amount=-0.1), "must be 0 or more"),
    ],
)
def test_faults_that_do_not_fit_are_refused(fault, message):
    with pytest.raises(InputError, match=message):
        wiring(make_job(faults=(fault,)))


def test_a_rattle_follows_the_drive():
    """Twice the drive, twice the rattle; none without; -20 dB of the drive or so."""
    rng = np.random.default_rng
    drive = np.sin(2 * np.pi * 50 * np.arange(48000) / RATE).astype(np.float32)
    drive[24000:] = 0.0
    noise = rattle(drive, RATE, rng(1))
    np.testing.assert_allclose(rattle(2 * drive, RATE, rng(1)), 2 * noise, rtol=1e-4, atol=1e-7)
    ratio = np.sqrt(np.mean(noise[:24000] ** 2) / np.mean(drive[:24000] ** 2))
    assert 0.03 < ratio < 0.3
    assert np.abs(noise[34000:]).max() < 1e-4 * np.abs(noise).max()
