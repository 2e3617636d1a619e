from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from roomwright._errors import InputError
from roomwright.commissioning.desk.curves import (
    QUANTITIES,
    Line,
    Reading,
    Window,
    average,
    line,
    spread,
    trusted_hz,
)
from roomwright.commissioning.desk.decay_map import decay_map
from roomwright.commissioning.desk.distortion import harmonic_lines
from roomwright.commissioning.desk.scales import scale_of, x_scale_of
from roomwright.commissioning.desk.view import MEAN_ALL, MOST_LINES, Choice, desk_view
from roomwright.commissioning.desk.waterfall import MOMENTS_MS, waterfall
from roomwright.measurement import (
    OCTAVES_HZ,
    ResponseSet,
    deconvolve,
    inverse_spectrum,
    transform_length,
)
from roomwright.model import Sweep
from roomwright.signals import excitation, timeline

RATE = 48000
LENGTH = 24000
ARRIVAL = 480  # samples: 10 ms

#: Sound pressure level of a sine 20 dB below full scale through 1 pascal per full scale:
#: 20 lg(0.1 / sqrt 2 / 20e-6).
SPL_OF_ONE_DB = 70.969


def together(responses, *, absolute=True, sources=("L",)):
    """Response set of samples (S, P, n)."""
    samples = np.asarray(responses, np.float32)
    pairs = samples.shape[:2]
    return ResponseSet(
        sources=sources,
        stations=tuple(f"P{n}" for n in range(pairs[1])),
        samples=samples,
        present=np.ones(pairs, bool),
        sampling_rate_hz=RATE,
        absolute=absolute,
        timed=True,
        trusted_hz=np.tile([30.0, 20000.0], (*pairs, 1)),
        noise_rms=np.full(pairs, 1e-6),
        signal_to_noise_db=np.full((*pairs, OCTAVES_HZ.size), 60.0),
        distortion_db=np.full((*pairs, 4), np.nan),
        background_db=np.full((pairs[1], OCTAVES_HZ.size), np.nan),
        clock_error_ppm=np.full(pairs, np.nan),
    )


def pulse(height=1.0, at=ARRIVAL):
    samples = np.zeros(LENGTH)
    samples[at] = height
    return samples


def between(curve: Line, low=50.0, high=10000.0):
    return curve.y[(curve.x >= low) & (curve.x <= high)]


def filtered(sos, samples=None):
    return signal.sosfilt(sos, pulse() if samples is None else samples)


def test_a_pulse_of_one_pascal_reads_the_level_of_its_sine_everywhere():
    level = line(together([[pulse()]]), "L", "P0", Reading())
    # Single-precision samples of a unit pulse are exact; the figure is rounded to 0.001 dB.
    assert between(level) == pytest.approx(SPL_OF_ONE_DB, abs=0.001)


def test_relative_responses_read_re_one():
    level = line(together([[pulse(0.1)]], absolute=False), "L", "P0", Reading())
    assert between(level) == pytest.approx(-20.0, abs=0.001)


def test_the_mean_is_of_power_and_the_spread_reaches_from_lowest_to_highest():
    responses = together([[pulse(1.0), pulse(2.0)]])
    mean = average(responses, "L", responses.stations, Reading())
    assert between(mean) == pytest.approx(SPL_OF_ONE_DB + 10 * np.log10(2.5), abs=0.001)
    _, low, high = spread(responses, "L", responses.stations, Reading())
    assert low == pytest.approx(SPL_OF_ONE_DB, abs=0.001)
    assert high - low == pytest.approx(20 * np.log10(2.0), abs=0.001)


def test_a_station_that_was_not_measured_does_not_count_in_the_mean():
    whole = together([[pulse(), pulse(8.0)]])
    fields = {name: getattr(whole, name) for name in ResponseSet.__dataclass_fields__}
    responses = ResponseSet(**fields | {"present": np.array([[True, False]])})
    mean = average(responses, "L", responses.stations, Reading())
    assert between(mean) == pytest.approx(SPL_OF_ONE_DB, abs=0.001)
    with pytest.raises(InputError, match="not measured at P1"):
        line(responses, "L", "P1", Reading())


@pytest.mark.parametrize("quantity", ["phase", "excess phase", "group delay", "excess group delay"])
def test_pure_delay_has_no_phase_and_no_delay_beyond_the_direct_sound(quantity):
    curve = line(together([[pulse()]]), "L", "P0", Reading(quantity))
    # The arrival of a pulse on a sample is found to a hundredth of a sample: 1.3 degrees at
    # 10 kHz; 0.01 is milliseconds or degrees at most times hundreds.
    assert np.abs(between(curve)).max() < (2.0 if "phase" in quantity else 0.01)


def test_an_all_pass_shows_its_delay_in_excess_and_nothing_in_level():
    """A first-order all-pass (1 - s/w) / (1 + s/w) delays low frequencies by 2 / w."""
    corner = 200.0
    tangent = np.tan(np.pi * corner / RATE)
    a = (tangent - 1) / (tangent + 1)
    samples = signal.lfilter([a, 1.0], [1.0, a], pulse())
    responses = together([[samples]])
    level = line(responses, "L", "P0", Reading("level", 48))
    # Smoothing leaves the level of an all-pass as it is; the rest is the cut tail.
    assert between(level) == pytest.approx(SPL_OF_ONE_DB, abs=0.01)
    delay = line(responses, "L", "P0", Reading("excess group delay", 48))
    at = np.argmin(np.abs(delay.x - 50.0))
    expected_ms = 1000 * 2 / (2 * np.pi * corner) / (1 + (delay.x[at] / corner) ** 2)
    # The direct sound is found within 0.02 ms of the pulse under the all-pass's slow tail.
    assert delay.y[at] == pytest.approx(expected_ms, abs=0.05)


def test_group_delay_of_a_minimum_phase_filter_is_all_minimum():
    samples = filtered(signal.butter(2, 1000.0, fs=RATE, output="sos"))
    excess = line(together([[samples]]), "L", "P0", Reading("excess group delay", 24))
    # A constant remains: the crest of the filtered pulse comes later than the pulse, by about
    # 0.3 ms. Above, where the filter has cut 30 dB, rounding begins.
    inside = between(excess, 100.0, 5000.0)
    assert np.ptp(inside) < 0.02


def test_a_time_window_takes_a_reflection_out():
    """Pulse plus half of it 10 ms later: a comb of 20 lg 1.5 - 20 lg 0.5 = 9.5 dB, then none."""
    samples = pulse() + pulse(0.5, ARRIVAL + 480)
    whole = line(together([[samples]]), "L", "P0", Reading("level", 48))
    short = line(together([[samples]]), "L", "P0", Reading("level", 48, Window("time", 0.005)))
    # At 150 Hz 1/48 octave is 2 Hz of the comb's 100 Hz: next to nothing is smoothed away.
    assert np.ptp(between(whole, 90.0, 210.0)) == pytest.approx(9.54, abs=0.1)
    assert np.ptp(between(short)) < 0.001


def test_a_window_in_periods_lets_low_frequencies_see_more():
    samples = pulse() + pulse(0.5, ARRIVAL + 480)
    reading = Reading("level", 48, Window("cycles", 4.0))
    level = line(together([[samples]]), "L", "P0", reading)
    # 4 periods are 10 ms at 400 Hz: above, the reflection is gone.
    assert np.ptp(between(level, 420.0, 10000.0)) < 0.01
    assert np.ptp(between(level, 60.0, 160.0)) > 3.0


@pytest.mark.parametrize("quantity", ["group delay", "impulse", "energy-time"])
def test_a_window_in_periods_says_what_it_cannot_give(quantity):
    reading = Reading(quantity, 12, Window("cycles", 6.0))
    with pytest.raises(InputError, match="level and phase only"):
        line(together([[pulse()]]), "L", "P0", reading)


def test_over_time_a_pulse_stands_at_its_arrival():
    responses = together([[pulse(-3.0)]])
    impulse = line(responses, "L", "P0", Reading("impulse"))
    assert impulse.x[np.argmin(impulse.y)] == pytest.approx(10.0)
    assert impulse.y.min() == pytest.approx(-100.0)
    step = line(responses, "L", "P0", Reading("step"))
    assert step.y[step.x < 9.99].max() == 0.0
    assert step.y[step.x > 10.01] == pytest.approx(-100.0)
    energy = line(responses, "L", "P0", Reading("energy-time"))
    assert energy.x[np.argmax(energy.y)] == pytest.approx(10.0, abs=0.1)
    assert energy.y.max() == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_every_quantity_has_rising_x_and_a_scale_that_shows_it(quantity):
    rng = np.random.default_rng(1)
    decay = pulse() + np.exp(-np.arange(LENGTH) / 2000) * rng.normal(0, 0.1, LENGTH)
    decay[:ARRIVAL] = 0.0
    curve = line(together([[decay]]), "L", "P0", Reading(quantity))
    scale, x_scale = scale_of(quantity, [curve], absolute=True), x_scale_of(quantity, 10.0)
    assert np.all(np.diff(curve.x) > 0)
    seen = curve.y[(curve.x >= x_scale.low) & (curve.x <= x_scale.high)]
    inside = (seen >= scale.low) & (seen <= scale.high)
    assert seen.size > 100
    # Peaks of the group delay lie outside, and of an energy-time curve the silence before the
    # direct sound and what has died away: three quarters of 300 ms are left of a decay that
    # falls 60 dB in 290 ms.
    assert inside.mean() > (0.7 if quantity == "energy-time" else 0.9)


def test_scales_of_nothing_are_finite():
    for quantity in QUANTITIES:
        scale = scale_of(quantity, [], absolute=False)
        assert scale.low < scale.high
        assert np.isfinite([scale.low, scale.high]).all()


def test_the_trusted_band_is_that_of_all_stations():
    whole = together([[pulse(), pulse()]])
    fields = {name: getattr(whole, name) for name in ResponseSet.__dataclass_fields__}
    bands = np.array([[[20.0, 10000.0], [40.0, 20000.0]]])
    responses = ResponseSet(**fields | {"trusted_hz": bands})
    assert trusted_hz(responses, "L", ("P0", "P1")) == (40.0, 10000.0)
    nowhere = ResponseSet(**fields | {"trusted_hz": np.zeros((1, 2, 2))})
    assert trusted_hz(nowhere, "L", ("P0", "P1")) is None


def test_the_decay_map_falls_as_fast_as_the_response():
    """White noise under exp(-t / tau): 60 dB in 6.91 tau, here 0.345 s."""
    tau_s = 0.05
    rng = np.random.default_rng(2)
    time_s = np.arange(LENGTH) / RATE
    samples = np.concatenate(
        (
            np.zeros(ARRIVAL),
            rng.normal(0, 0.1, LENGTH - ARRIVAL) * np.exp(-time_s[ARRIVAL:] / tau_s),
        )
    )
    samples[ARRIVAL] = 3.0
    found = decay_map(together([[samples]]), "L", "P0")
    assert found.level_db.max() == 0.0
    rows = (found.time_ms >= 60.0) & (found.time_ms <= 260.0)
    columns = (found.frequency_hz > 500.0) & (found.frequency_hz < 8000.0)
    levels = found.level_db[np.ix_(rows, columns)].mean(axis=1)
    slope_db_s = np.polyfit(found.time_ms[rows] / 1000, levels, 1)[0]
    # Averages over thousands of bins of noise: some per cent.
    assert -60.0 / slope_db_s == pytest.approx(6.91 * tau_s, rel=0.05)


def test_a_waterfall_is_the_decay_at_its_moments():
    """One mode under exp(-t / tau): each slice lies below the one before by 8.69 dB a tau.

    At the mode itself; the rise of 50 ms lets the slice begin earlier for all alike.
    """
    tau_s, mode_hz = 0.1, 62.5
    time_s = np.arange(LENGTH - ARRIVAL) / RATE
    ringing = np.exp(-time_s / tau_s) * np.sin(2 * np.pi * mode_hz * time_s)
    samples = np.concatenate((np.zeros(ARRIVAL), ringing))
    samples[ARRIVAL] += 3.0
    shown = decay_map(together([[samples]]), "L", "P0")
    cuts = waterfall(shown)
    assert [cut.time_ms for cut in cuts] == list(MOMENTS_MS)
    at = np.argmin(np.abs(cuts[0].frequency_hz - mode_hz))
    levels = np.array([cut.level_db[at] for cut in cuts])
    moments_s = np.array(MOMENTS_MS) / 1000
    part = (moments_s >= 0.06) & (moments_s <= 0.3)
    slope_db_s = np.polyfit(moments_s[part], levels[part], 1)[0]
    # The response ends after 0.49 s, 8 dB above nothing: some per cent at the end.
    assert slope_db_s == pytest.approx(-20 * np.log10(np.e) / tau_s, rel=0.03)


def test_a_squarer_makes_a_second_harmonic_of_known_level():
    """x + a x^2 of a sine of amplitude A: second harmonic a A / 2 re the fundamental."""
    sweep = Sweep(start_hz=20.0, stop_hz=20000.0, duration_s=3.0, level_dbfs=-6.0)
    places = timeline(sweep, RATE)
    played = excitation(sweep, RATE).astype(np.float64)[places.sweep_start :]
    amplitude, bend = 10 ** (-6 / 20), 0.02
    inverse = inverse_spectrum(sweep, RATE, transform_length(sweep, RATE))
    heard = (played + bend * played**2)[: places.pilot_2 - places.sweep_start]
    lines = harmonic_lines(deconvolve(heard.astype(np.float32), inverse), sweep, RATE)
    expected_db = 20 * np.log10(bend * amplitude / 2)
    inside = (lines[2].x > 100.0) & (lines[2].x < 5000.0)
    # The responses are cut where those of the band edge at 20 Hz still ring: 0.2 dB of ripple.
    assert lines[2].y[inside] == pytest.approx(expected_db, abs=0.3)
    assert lines[3].y[(lines[3].x > 100.0) & (lines[3].x < 3000.0)].max() < expected_db - 30.0


def test_the_desk_shows_each_kind_source_and_place_once(demo_desk):
    job, survey = demo_desk
    choice = Choice(
        kinds=("before", "predicted"),
        sources=(survey.sources[0], survey.sources[1]),
        places=(MEAN_ALL, survey.stations[0]),
        lower="phase",
        spread=True,
    )
    view = desk_view(job, {"before": survey}, choice)
    assert len([one for one in view.lines if one.panel == 0]) == 4
    assert len([one for one in view.lines if one.panel == 1]) == 4
    assert len(view.ranges) == 2
    assert view.lower is not None
    assert view.lower.turns
    for words in ("1/12 octave", "whole response", "mean power of", "phase has no mean"):
        assert words in view.caption


def test_the_desk_says_what_is_missing_and_refuses_too_many(demo_desk):
    job, survey = demo_desk
    choice = Choice(sources=("LFE1",), places=(MEAN_ALL,))
    view = desk_view(job, {"before": survey}, choice)
    assert view.lines == ()
    assert view.missing == ("LFE1: nothing before",)
    nothing = desk_view(job, {}, choice)
    assert nothing.lines == ()
    assert nothing.missing == ("nothing is measured yet",)
    many = Choice(sources=survey.sources[:1] * (MOST_LINES + 1))
    with pytest.raises(InputError, match="choose fewer"):
        desk_view(job, {"before": survey}, many)


@pytest.fixture(name="demo_desk")
def _demo_desk():
    from roomwright.commissioning import demo_job

    job = demo_job()
    sources = tuple(unit.id for unit in job.units)
    responses = np.tile(pulse(), (len(sources), len(job.stations) or 2, 1))
    return job, together(responses, sources=sources)
