"""What a tuning does to a signal, and the prediction made from it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import fft, signal

from roomwright.model import Biquad, Channel, Crossover, FirCurve, OutputTuning, OwnLowPass, Tuning
from roomwright.signals import amplitude_db, cascade_sos, crossover_sos, fir_taps
from roomwright.tuning import output_response, predict

RATE = 48000
BINS = fft.rfftfreq(RATE, 1 / RATE)
LOW_PASS = Crossover(side="low_pass", frequency_hz=80.0)
OWN_LOW_PASS = Crossover(side="low_pass", frequency_hz=130.0, order=8)
HIGH_PASS = Crossover(side="high_pass", frequency_hz=80.0)
BELL = Biquad(kind="peaking", frequency_hz=40.0, gain_db=-6.0, q=5.0)
CURVE = FirCurve(
    taps=1024, frequencies_hz=(100.0, 1000.0, 4000.0, 20000.0), level_db=(0.0, 3.0, -4.0, 0.0)
)


def ringing_tuning(job) -> Tuning:
    """Every kind of setting at once, with delays of whole samples."""
    outputs = [
        OutputTuning(
            drives=unit.id,
            trim_db=-1.5 * k,
            delay_s=(17 * k + 3) / RATE,
            inverted=bool(k % 2),
            crossovers=(HIGH_PASS,),
            biquads=(BELL, Biquad(kind="high_shelf", frequency_hz=5000.0, gain_db=2.0)),
            fir=CURVE if k == 1 else None,
        )
        for k, unit in enumerate(job.loudspeakers)
    ]
    outputs += [
        OutputTuning(drives=unit.id, trim_db=-2.0, delay_s=333 / RATE, biquads=(BELL,))
        for unit in job.subwoofers
    ]
    return Tuning(
        outputs=tuple(outputs),
        bass_low_pass=LOW_PASS,
        own_low_passes=(
            OwnLowPass(channels=("M000",), low_pass=OWN_LOW_PASS),
            OwnLowPass(channels=("M+110",)),
        ),
        based_on="0" * 64,
    )


def filtered(samples, output):
    """One output in the time domain: recursive filters, convolution, shift."""
    out = np.asarray(samples, np.float64)
    for crossover in output.crossovers:
        out = signal.sosfilt(crossover_sos(crossover, RATE), out)
    if output.biquads:
        out = signal.sosfilt(cascade_sos(output.biquads, RATE), out)
    if output.fir is not None:
        out = signal.fftconvolve(out, fir_taps(output.fir, RATE))[: out.size]
    shift = round(output.delay_s * RATE)
    gain = 10 ** (output.trim_db / 20) * (-1 if output.inverted else 1)
    return gain * np.concatenate([np.zeros(shift), out])[: out.size]


def test_prediction_is_filtering_in_the_time_domain(job, survey):
    """Against recursive filters and convolution, an independent path; -90 dB of the peak.

    The survey's float32 samples carry -150 dB; the prediction is stored in float32 again.
    """
    tuning = ringing_tuning(job)
    settings = {output.drives: output for output in tuning.outputs}
    predicted = predict(job, tuning, survey)
    for row, channel in enumerate(job.channels):
        for place in range(len(survey.stations)):
            by_name = dict(zip(survey.sources, survey.samples[:, place], strict=True))
            total = np.zeros(survey.samples.shape[-1])
            for unit in channel.loudspeakers:
                total += filtered(by_name[unit], settings[unit])
            for unit in job.subwoofers:
                feed = np.asarray(by_name[unit.id], np.float64)
                if channel.role == "lfe":
                    feed = feed * 10 ** (10 / 20)
                elif channel.id == "M+110":
                    continue
                else:
                    low_pass = OWN_LOW_PASS if channel.id == "M000" else LOW_PASS
                    feed = signal.sosfilt(crossover_sos(low_pass, RATE), feed)
                total += filtered(feed, settings[unit.id])
            error = np.abs(predicted.samples[row, place] - total).max()
            assert amplitude_db(error / np.abs(total).max()) < -90


def test_prediction_is_what_the_rehearsal_processor_plays(job, survey):
    """The rehearsal's processor is written apart from the prediction."""
    from roomwright.rehearsal import render

    tuning = ringing_tuning(job)
    loaded = job.model_copy(update={"tuning": tuning})
    click = np.zeros(survey.samples.shape[-1], np.float32)
    click[0] = 1.0
    predicted = predict(job, tuning, survey)
    drives = {output.number: output.drives for output in job.outputs}
    for row, channel in enumerate(job.channels):
        total = sum(
            signal.fftconvolve(played, survey.samples[survey.sources.index(drives[number]), 0])
            for number, played in render(loaded, channel.id, click).items()
        )[: click.size]
        error = np.abs(predicted.samples[row, 0] - total).max()
        assert amplitude_db(error / np.abs(total).max()) < -90


def test_prediction_carries_what_was_measured(job, survey):
    predicted = predict(job, ringing_tuning(job), survey)
    assert predicted.sources == tuple(channel.id for channel in job.channels)
    assert predicted.stations == survey.stations
    assert predicted.present.all()
    assert predicted.timed is survey.timed
    assert predicted.absolute is survey.absolute
    assert np.isnan(predicted.distortion_db).all()
    np.testing.assert_array_equal(predicted.background_db, survey.background_db)
    np.testing.assert_array_equal(predicted.trusted_hz[..., 0], 10.0)


def test_a_channel_with_an_unmeasured_part_is_not_present(job, survey):
    channels = (*job.channels, Channel(id="U+045", role="height", loudspeakers=("U+045",)))
    predicted = predict(job.model_copy(update={"channels": channels}), ringing_tuning(job), survey)
    assert not predicted.present[-1].any()
    assert not predicted.samples[-1].any()
    assert predicted.present[:-1].all()


def test_nothing_wraps_around(job, survey):
    """Delayed by most of the response's length, the first samples stay silent."""
    late = Tuning(
        outputs=tuple(OutputTuning(drives=s, delay_s=0.4) for s in survey.sources),
        based_on="0" * 64,
    )
    predicted = predict(job, late, survey)
    assert (
        np.abs(predicted.samples[:, :, : int(0.4 * RATE)]).max()
        < 1e-6 * np.abs(survey.samples).max()
    )


def test_linkwitz_riley_fourth_order_sums_flat_and_with_the_tabulated_group_delay():
    """Ideal loudspeaker and subwoofer; table of Linkwitz 1976 / Lipshitz & Vanderkooy.

    Group delay in ms of the sum at 80 Hz: DC 5.627, 40 Hz 6.620, 80 Hz 5.627, 160 Hz 1.655.
    """
    high = output_response(OutputTuning(drives="M000", crossovers=(HIGH_PASS,)), BINS, RATE)
    low = output_response(OutputTuning(drives="SW1", crossovers=(LOW_PASS,)), BINS, RATE)
    # The bilinear transform keeps the sum an all-pass: an identity.
    np.testing.assert_allclose(np.abs(high + low), 1.0, atol=1e-9)
    assert amplitude_db(high[80]) == pytest.approx(-6.021, abs=0.01)
    assert amplitude_db(low[80]) == pytest.approx(-6.021, abs=0.01)
    assert amplitude_db(low[40]) == pytest.approx(-0.527, abs=0.01)
    assert amplitude_db(low[160]) == pytest.approx(-24.609, abs=0.05)
    delay_ms = -1e3 * np.gradient(np.unwrap(np.angle(high + low)), 2 * np.pi)
    for hertz, expected in ((20, 5.955), (40, 6.620), (80, 5.627), (160, 1.655)):
        # Central differences over 2 Hz of a curve that bends over 80 Hz.
        assert delay_ms[hertz] == pytest.approx(expected, abs=0.01)


def test_an_empty_output_is_a_wire():
    np.testing.assert_array_equal(output_response(OutputTuning(drives="M000"), BINS, RATE), 1.0)


def test_trim_polarity_and_delay():
    output = OutputTuning(drives="M000", trim_db=-20.0, delay_s=1e-3, inverted=True)
    expected = -0.1 * np.exp(-2j * np.pi * BINS * 1e-3)
    np.testing.assert_allclose(output_response(output, BINS, RATE), expected, atol=1e-15)


def test_a_fir_reads_the_same_on_any_grid():
    output = OutputTuning(drives="M000", fir=CURVE)
    at = BINS[[50, 400, 1000, 7000, 20000]]
    np.testing.assert_allclose(
        output_response(output, at, RATE),
        output_response(output, BINS, RATE)[[50, 400, 1000, 7000, 20000]],
        atol=1e-12,
    )


def test_a_fir_follows_its_curve():
    """0.1 dB wherever the taps allow: from 4 rate / taps up; the corners of the curve are soft."""
    output = OutputTuning(drives="M000", fir=CURVE.model_copy(update={"taps": 8192}))
    at = np.geomspace(30, 18000, 200)
    level = amplitude_db(output_response(output, at, RATE))
    asked = np.interp(np.log(at), np.log(CURVE.frequencies_hz), CURVE.level_db)
    np.testing.assert_allclose(level, asked, atol=0.1)
