"""Calibration files, good and bad, and the correction they give."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright import measurement
from roomwright._errors import InputError

ROWS = [(20.0, -1.5), (40.0, -0.5), (80.0, 0.0), (160.0, 0.1), (315.0, 0.0)]


def text(separator, ending="\n", phase=False):
    rows = [f"{f}{separator}{level}" + (f"{separator}12.5" if phase else "") for f, level in ROWS]
    return ending.join(rows) + ending


@pytest.mark.parametrize("separator", [" ", "\t", ",", ", ", ";", "  \t "])
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
@pytest.mark.parametrize("phase", [False, True])
def test_separators(separator, ending, phase):
    curve = measurement.parse_calibration(text(separator, ending, phase), "mic.txt")
    np.testing.assert_array_equal(curve.frequency_hz, [row[0] for row in ROWS])
    np.testing.assert_array_equal(curve.level_db, [row[1] for row in ROWS])


def test_heading_and_comments():
    heading = (
        '"Sensitivity -37.2 dB, serial 0042"\n* star\n# hash\n; semicolon\nFrequency Level\n\n'
    )
    curve = measurement.parse_calibration("\ufeff" + heading + text("\t") + "# end\n", "mic.txt")
    assert curve.frequency_hz.size == len(ROWS)
    assert "Sensitivity -37.2 dB, serial 0042" in curve.note


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        ("20 0\n40 1\n30 0\n80 0\n", "mic.txt line 3: 30 Hz stands after 40 Hz"),
        ("20 0\n40 1\n40 1\n80 0\n", "mic.txt line 3: 40 Hz is listed twice"),
        ("20 0\n40\n80 0\n", "mic.txt line 2: '40' has no level"),
        ("# x\n20 0\n40 1\n4000 0\n", "mic.txt line 4: rows are missing between 40 and 4000 Hz"),
        ("20 0\n40 1\n", "mic.txt line 2: the file ends after 2 rows"),
        ("20,0\t0,5\n40,0\t0,1\n", "mic.txt line 1: .* has decimal commas"),
        ("20 0,5\n40 0,1\n", "mic.txt line 1: .* has decimal commas"),
        ("20;0,5\n40;0,1\n", "mic.txt line 1: .* has decimal commas"),
        ("20,0;-0,5\n", "mic.txt line 1: .* has decimal commas"),
        ("20,0,-0,5\n", "mic.txt line 1: .* has decimal commas"),
        ("", "mic.txt line 1: the file ends after 0 rows"),
        ("* only a heading\n", "mic.txt line 1: the file ends after 0 rows"),
        ("20 0\n40 zero\n80 0\n", "mic.txt line 2: 'zero' is not a number"),
        ("20 0\n40 nan\n80 0\n", "mic.txt line 2: 'nan' is not a number"),
        ("0 0\n40 0\n80 0\n", "mic.txt line 1: the frequency is 0 Hz"),
        ("20 0\n40 300\n80 0\n", "mic.txt line 2: the level is 300 dB"),
        ("RIFF\x24\x00\x00WAVE", "mic.txt line 1: this is not a text file"),
        ("20 0\n\x00\x01\n", "mic.txt line 2: this is not a text file"),
    ],
)
def test_bad_files(content, sentence):
    with pytest.raises(InputError, match=sentence) as caught:
        measurement.parse_calibration(content, "mic.txt")
    assert "\n" not in str(caught.value)


def test_correction_is_the_inverse_held_outside():
    curve = measurement.parse_calibration(text(" "), "mic.txt")
    frequencies = np.fft.rfftfreq(48000, 1 / 48000)
    undone = 20 * np.log10(np.abs(measurement.correction(curve, frequencies)))
    for frequency, level in ROWS:
        # Rows lie on bins but for 315 Hz, which does too at 1 Hz between bins.
        assert undone[round(frequency)] == pytest.approx(-level, abs=1e-9)
    # Half-way over log frequency the straight line is at the mean.
    middle = np.interp(np.log(28.0), np.log([20, 40]), [-1.5, -0.5])
    assert undone[28] == pytest.approx(-middle, abs=1e-9)
    assert undone[5] == pytest.approx(1.5, abs=1e-9)
    assert undone[20000] == pytest.approx(0.0, abs=1e-9)


def test_correction_undoes_a_minimum_phase_microphone():
    """A one-pole low-pass is of minimum phase: its correction is its inverse, phase included."""
    rate, corner_hz, n = 48000, 9000.0, 1 << 15
    frequencies = np.fft.rfftfreq(n, 1 / rate)
    pole = np.exp(-2 * np.pi * corner_hz / rate)
    microphone = (1 - pole) / (1 - pole * np.exp(-2j * np.pi * frequencies / rate))
    rows = np.geomspace(10, 24000, 400)
    level = np.interp(rows, frequencies, 20 * np.log10(np.abs(microphone)))
    curve = measurement.CalibrationCurve(rows, level)
    flat = measurement.correction(curve, frequencies) * microphone
    band = (frequencies > 20) & (frequencies < 20000)
    # Straight lines between 400 rows.
    np.testing.assert_allclose(np.abs(flat[band]), 1.0, atol=1e-3)
    np.testing.assert_allclose(np.angle(flat[band]), 0.0, atol=0.01)


def test_correction_needs_a_grid():
    curve = measurement.parse_calibration(text(" "), "mic.txt")
    with pytest.raises(InputError, match="uniform grid"):
        measurement.correction(curve, [0.0, 1.0, 3.0])


@pytest.mark.parametrize(
    ("frequency", "level", "sentence"),
    [
        ([100.0, 50.0], [0.0, 0.0], "rise"),
        ([0.0, 50.0], [0.0, 0.0], "above 0 Hz"),
        ([50.0], [0.0, 0.0], "as many levels"),
        ([50.0, np.nan], [0.0, 0.0], "not a number"),
    ],
)
def test_curves_are_checked(frequency, level, sentence):
    with pytest.raises(InputError, match=sentence):
        measurement.CalibrationCurve(np.array(frequency), np.array(level))


def test_a_phase_is_read_and_undone():
    """A delay is no minimum phase: the file's phase tells it, and it is taken out."""
    rate, n, delay_s = 48000, 1 << 14, 20e-6
    frequencies = np.fft.rfftfreq(n, 1 / rate)
    rows = np.geomspace(10, 23000, 300)
    listed = "\n".join(f"{f:.4f} 0.0 {-360 * f * delay_s:.5f}" for f in rows)
    curve = measurement.parse_calibration(listed, "mic.txt")
    assert curve.phase_deg.size == rows.size
    flat = measurement.correction(curve, frequencies) * np.exp(-2j * np.pi * frequencies * delay_s)
    band = frequencies < 20000
    # Straight lines over log frequency between 300 rows of a phase that is straight over frequency.
    np.testing.assert_allclose(np.angle(flat[band]), 0.0, atol=2e-3)
    np.testing.assert_allclose(np.abs(flat[band]), 1.0, atol=1e-9)


def test_the_minimum_phase_is_not_undone_twice():
    """A file that lists the minimum phase of its level says no more than its level does."""
    rate, corner_hz, n = 48000, 9000.0, 1 << 15
    frequencies = np.fft.rfftfreq(n, 1 / rate)
    pole = np.exp(-2 * np.pi * corner_hz / rate)
    microphone = (1 - pole) / (1 - pole * np.exp(-2j * np.pi * frequencies / rate))
    rows = np.geomspace(10, 23900, 400)
    level = np.interp(rows, frequencies, 20 * np.log10(np.abs(microphone)))
    phase = np.degrees(np.interp(rows, frequencies, np.angle(microphone)))
    with_phase = measurement.CalibrationCurve(rows, level, "", phase)
    flat = measurement.correction(with_phase, frequencies) * microphone
    band = (frequencies > 20) & (frequencies < 20000)
    np.testing.assert_allclose(np.angle(flat[band]), 0.0, atol=0.01)


def test_a_phase_in_some_rows_only_is_refused():
    with pytest.raises(InputError, match=r"line 2: a phase stands in some rows only"):
        measurement.parse_calibration("20 0 1\n40 0\n80 0 1\n", "mic.txt")


@pytest.mark.parametrize(
    ("heading", "serial"),
    [
        ('"Sensitivity -37.2 dB, serial 0042"', "0042"),
        ("* Serial No: AB-1234", "AB-1234"),
        ("# S/N 700123", "700123"),
        ("* sn: 55", "55"),
        ("* calibrated in 2026", None),
        ("* serial unknown", None),
    ],
)
def test_the_serial_number_in_a_heading(heading, serial):
    curve = measurement.parse_calibration(f"{heading}\n{text(' ')}", "mic.txt")
    assert measurement.stated_serial(curve) == serial
