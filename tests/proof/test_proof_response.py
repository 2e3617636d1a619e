import numpy as np
import pytest
from scipy.signal import sosfilt

from roomwright.model import Biquad
from roomwright.proof import judge
from roomwright.signals import cascade_sos, response


def verdicts(job, responses):
    return {v.criterion: v for v in judge(job, responses)}


def with_bell(samples, frequency_hz, gain_db, q=2.0):
    bell = Biquad(kind="peaking", frequency_hz=frequency_hz, gain_db=gain_db, q=q)
    return sosfilt(cascade_sos((bell,), 48000), samples)


def test_the_target_itself_passes(small_job, response_set, on_target):
    found = verdicts(small_job, response_set(np.tile(on_target, (2, 2, 1))))
    for side in ("below", "above"):
        for place in ("main_seat", "average"):
            verdict = found[f"response_{side}_{place}"]
            assert verdict.passed is True
            assert verdict.value == pytest.approx(0.0, abs=0.15)


@pytest.mark.parametrize("gain", [0.01, 40.0])
def test_the_level_itself_does_not_matter(small_job, response_set, on_target, gain):
    plain = verdicts(small_job, response_set(np.tile(on_target, (2, 2, 1))))
    other = verdicts(small_job, response_set(np.tile(gain * on_target, (2, 2, 1))))
    for name, verdict in plain.items():
        if name.startswith("response"):
            assert other[name].value == pytest.approx(verdict.value, abs=1e-3)


@pytest.mark.parametrize(
    ("frequency_hz", "gain_db", "failing", "band", "allowed_db"),
    [
        (80.0, 5.0, "below", "80 Hz", 3.0),
        (4000.0, 5.0, "above", "4 kHz", 3.0),
        (16000.0, 4.5, "above", "16 kHz", 3.0),
        # Below, the limit falls evenly over log frequency from 3 dB at 2 kHz to 7.5 dB at 16 kHz.
        (12500.0, -9.0, "above", "12.5 kHz", 3.0 + 1.5 * np.log2(12589 / 2000)),
    ],
)
def test_a_bell_fails_on_its_own_side_of_the_transition(
    small_job, response_set, on_target, frequency_hz, gain_db, failing, band, allowed_db
):
    """Limits of ITU-R BS.1116's operational room response, from memory, about the target."""
    samples = np.tile(on_target, (2, 2, 1))
    samples[1, 1] = with_bell(on_target, frequency_hz, gain_db)
    found = verdicts(small_job, response_set(samples))
    passing = {"below": "above", "above": "below"}[failing]
    bad = found[f"response_{failing}_main_seat"]
    assert bad.passed is False
    assert "M-030" in bad.reason
    assert band in bad.reason
    assert found[f"response_{passing}_main_seat"].passed is True
    outside_db = abs(third_octave_db(frequency_hz, gain_db)) - allowed_db
    assert bad.value == pytest.approx(outside_db, abs=0.15)


def third_octave_db(frequency_hz, gain_db):
    """Level of pink noise in the bell's own third octave, by plain sampling."""
    bell = Biquad(kind="peaking", frequency_hz=frequency_hz, gain_db=gain_db, q=2.0)
    within = frequency_hz * 10 ** np.linspace(-0.05, 0.05, 401)
    return 10 * np.log10(np.mean(np.abs(response(cascade_sos((bell,), 48000), within, 48000)) ** 2))


def test_a_gentle_fall_at_the_top_passes(small_job, response_set, on_target):
    """Above 2 kHz the lower limit falls by 1.5 dB an octave."""
    samples = np.tile(with_bell(on_target, 16000.0, -5.0, q=1.4), (2, 2, 1))
    assert verdicts(small_job, response_set(samples))["response_above_main_seat"].passed is True


def test_a_channel_without_a_trusted_band_is_not_passed(small_job, response_set, on_target):
    trusted_hz = np.tile([15.0, 20000.0], (2, 2, 1))
    trusted_hz[1, :, 0] = 300.0
    found = verdicts(small_job, response_set(np.tile(on_target, (2, 2, 1)), trusted_hz=trusted_hz))
    assert found["response_below_main_seat"].passed is None
    assert "M-030" in found["response_below_main_seat"].reason


@pytest.mark.parametrize(
    ("difference_db", "bass", "upper"), [(2.0, True, True), (6.4, False, False)]
)
def test_seats_that_differ_by_a_constant(
    small_job, response_set, on_target, difference_db, bass, upper
):
    """Two seats d dB apart have the variance d^2 / 4 and the standard deviation d / 2."""
    near = 10 ** (difference_db / 20) * on_target
    found = verdicts(small_job, response_set(np.tile([on_target, near], (2, 1, 1))))
    assert found["spread_below"].value == pytest.approx(difference_db**2 / 4, abs=0.01)
    assert found["spread_below"].passed is bass
    assert found["spread_above"].value == pytest.approx(difference_db / 2, abs=0.01)
    assert found["spread_above"].passed is upper


def test_stations_without_a_seat_do_not_count_as_seats(small_job, response_set, on_target):
    samples = np.tile([on_target, on_target, 4 * on_target], (2, 1, 1))
    found = verdicts(small_job, response_set(samples))
    assert found["spread_below"].value == pytest.approx(0.0, abs=0.01)


def test_where_no_station_names_a_seat_all_count_and_it_is_said(small_job, response_set, on_target):
    stations = tuple(s.model_copy(update={"seat": None}) for s in small_job.stations)
    job = small_job.model_copy(update={"stations": stations})
    found = verdicts(job, response_set(np.tile([on_target, 2 * on_target], (2, 1, 1))))
    assert "all stations count" in found["spread_below"].reason
    assert found["spread_below"].value == pytest.approx(6.02**2 / 4, abs=0.05)


def test_one_seat_has_no_spread(small_job, response_set, on_target):
    found = verdicts(small_job, response_set(np.tile(on_target, (2, 1, 1)), stations=("S-R1-2",)))
    assert found["spread_below"].passed is None
    assert found["spread_above"].passed is None
