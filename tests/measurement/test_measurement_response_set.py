"""Single measurements put together, and the checks on the way."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright import measurement
from roomwright._errors import InputError
from roomwright.model import Finding

RATE = 48000


def measured(samples, *, rate=RATE, absolute=True, timed=True, findings=()):
    response = measurement.ImpulseResponse(
        samples=np.asarray(samples, dtype=float),
        sampling_rate_hz=rate,
        absolute=absolute,
        timed=timed,
        noise_rms=1e-6,
        trusted_hz=(30.0, 18000.0),
    )
    return measurement.MeasuredResponse(
        response=response,
        signal_to_noise_db=np.arange(10.0),
        distortion_db=np.array([-40.0, -50.0, -60.0, np.nan]),
        clock_error_ppm=12.0,
        latency_s=0.02,
        findings=findings,
    )


def test_collecting():
    note = Finding(severity="note", where="a", text="b")
    first = Finding(severity="doubt", where="set", text="c")
    levels = np.linspace(40, 10, 10)
    together = measurement.collect(
        {
            ("L", "S2"): measured([1.0, 2.0, 3.0], findings=(note,)),
            ("R", "S1"): measured([4.0, 5.0], timed=False),
        },
        sources=("L", "R"),
        stations=("S1", "S2"),
        background={"S2": levels, "elsewhere": levels},
        findings=(first,),
    )
    assert together.samples.dtype == np.float32
    np.testing.assert_array_equal(together.present, [[False, True], [True, False]])
    np.testing.assert_array_equal(together.samples[0, 1], [1, 2, 3])
    np.testing.assert_array_equal(together.samples[1, 0], [4, 5, 0])
    np.testing.assert_array_equal(together.samples[0, 0], 0)
    assert together.absolute
    assert not together.timed
    assert together.findings == (first, note)
    assert together.index("R", "S1") == (1, 0)
    assert np.isnan(together.clock_error_ppm[0, 0])
    assert np.isnan(together.background_db[0]).all()
    np.testing.assert_array_equal(together.background_db[1], levels)
    np.testing.assert_array_equal(together.signal_to_noise_db[0, 1], np.arange(10.0))
    np.testing.assert_array_equal(together.trusted_hz[1, 0], [30, 18000])
    np.testing.assert_allclose(together.octave_hz, measurement.OCTAVES_HZ)


def test_spectra():
    together = measurement.collect(
        {("L", "S1"): measured(np.eye(1, 480, 3)[0])}, sources=("L",), stations=("S1",)
    )
    frequencies = together.frequencies_hz()
    assert frequencies[-1] == RATE / 2
    expected = np.exp(-2j * np.pi * frequencies * 3 / RATE)
    np.testing.assert_allclose(together.spectra()[0, 0], expected, atol=1e-6)


def test_arrays_cannot_be_written():
    together = measurement.collect({("L", "S1"): measured([1.0])}, sources=("L",), stations=("S1",))
    with pytest.raises(ValueError, match="read-only"):
        together.samples[0, 0, 0] = 2.0
    with pytest.raises(ValueError, match="read-only"):
        measured([1.0]).response.samples[0] = 2.0


def test_what_cannot_be_collected():
    one = measured([1.0])
    with pytest.raises(InputError, match="no response"):
        measurement.collect({}, sources=("L",), stations=("S1",))
    with pytest.raises(InputError, match="L at S9"):
        measurement.collect({("L", "S9"): one}, sources=("L",), stations=("S1",))
    with pytest.raises(InputError, match="44100 Hz, 48000 Hz"):
        measurement.collect(
            {("L", "S1"): one, ("R", "S1"): measured([1.0], rate=44100)},
            sources=("L", "R"),
            stations=("S1",),
        )


def test_what_is_not_there_is_named():
    together = measurement.collect(
        {("L", "S1"): measured([1.0])}, sources=("L", "R"), stations=("S1",)
    )
    with pytest.raises(InputError, match="no source X; there are L, R"):
        together.index("X", "S1")
    with pytest.raises(InputError, match="no station X"):
        together.index("L", "X")
    with pytest.raises(InputError, match="R was not measured at S1"):
        together.index("R", "S1")


def test_shapes_are_checked():
    with pytest.raises(InputError, match=r"present .* \(1, 1\)"):
        measurement.ResponseSet(
            sources=("L",),
            stations=("S1",),
            samples=np.zeros((1, 1, 4), np.float32),
            present=np.ones((2, 1), bool),
            sampling_rate_hz=RATE,
            absolute=True,
            timed=True,
            trusted_hz=np.zeros((1, 1, 2)),
            noise_rms=np.zeros((1, 1)),
            signal_to_noise_db=np.zeros((1, 1, 10)),
            distortion_db=np.zeros((1, 1, 4)),
            background_db=np.zeros((1, 10)),
            clock_error_ppm=np.zeros((1, 1)),
        )


def test_impulse_responses_are_checked():
    with pytest.raises(InputError, match="one row"):
        measured(np.zeros((2, 2)))
    with pytest.raises(InputError, match="not a number at index 1"):
        measured([0.0, np.nan])
    with pytest.raises(InputError, match="inputs, samples"):
        measurement.Recording(np.zeros(4, np.float32), RATE)
