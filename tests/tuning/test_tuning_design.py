"""The whole tuning, on a synthetic cinema."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from roomwright._errors import Cancelled
from roomwright.analysis import arrival_s, band_level_db
from roomwright.model import (
    Take,
    Tuning,
    TuningLimits,
)
from roomwright.signals import amplitude_db, log_frequencies, power_db, smooth_power, target_db
from roomwright.tuning import design, output_response, predict, sections_of, tuning_basis

RATE = 48000


@pytest.fixture(scope="module")
def designed(job, survey):
    return design(job, survey)


@pytest.fixture(scope="module")
def predicted(job, survey, designed):
    return predict(job, designed[0], survey)


def of(tuning: Tuning, name: str):
    return next(output for output in tuning.outputs if output.drives == name)


def texts(findings):
    return " | ".join(f"{finding.where}: {finding.text}" for finding in findings)


def average_level_db(responses, channel, at_hz, fraction=3):
    power = np.abs(responses.spectra()[responses.sources.index(channel)].astype(complex)) ** 2
    mean = np.array([0.25, 0.5, 0.25]) @ power
    return power_db(smooth_power(mean, responses.frequencies_hz(), fraction, at_hz))


def test_every_output_has_its_settings_and_the_tuning_its_basis(job, designed):
    tuning, _ = designed
    assert [o.drives for o in tuning.outputs] == [o.drives for o in job.outputs]
    assert tuning.based_on == tuning_basis(job)
    assert tuning.bass_low_pass is not None
    assert tuning.bass_low_pass.frequency_hz == job.limits.crossover_hz
    for loudspeaker in job.loudspeakers:
        assert of(tuning, loudspeaker.id).crossovers[0].side == "high_pass"


def test_main_channels_play_at_one_level_at_the_main_seat(predicted):
    """Rounding of the trims to 0.1 dB leaves 0.05 dB either way; the bass adds a little more."""
    levels = band_level_db(predicted.samples[:5, 1], RATE, 500, 2000)
    assert np.ptp(levels) <= 0.11


def test_main_channels_arrive_together_at_the_main_seat(predicted):
    """Delays are rounded to one sample, 21 us; filters move the crest by little."""
    arrivals = arrival_s(predicted.samples[:5, 1], RATE, (500, 8000))
    assert np.ptp(arrivals) < 50e-6


def test_the_average_over_the_stations_comes_closer_to_the_target(job, survey, predicted):
    at = log_frequencies(125, 8000, 3)
    target = target_db(job.target, at)
    for loudspeaker in job.loudspeakers:
        before = average_level_db(survey, loudspeaker.id, at) - target
        after = average_level_db(predicted, loudspeaker.id, at) - target
        assert np.std(after) < 0.75 * np.std(before)
        assert np.std(after) < 1.3


def test_the_subwoofers_continue_the_target(job, predicted):
    """From 25 Hz to an octave under the crossover, where they play alone."""
    at = log_frequencies(25, 50, 6)
    middle = log_frequencies(500, 2000, 6)
    errors = []
    for channel in job.channels[:5]:
        offset = np.mean(
            average_level_db(predicted, channel.id, middle) - target_db(job.target, middle)
        )
        errors.append(
            average_level_db(predicted, channel.id, at) - target_db(job.target, at) - offset
        )
    assert abs(np.median(errors)) < 1.0
    assert np.std(np.mean(errors, axis=0)) < 1.0


def test_subwoofers_share_their_filters_and_polarity(job, designed):
    first, second = (of(designed[0], s.id) for s in job.subwoofers)
    assert first.biquads == second.biquads
    assert first.biquads
    assert first.inverted == second.inverted
    # The nearer one waits for the farther: both arrive within the crest's reading.
    assert first.delay_s != second.delay_s


def test_lfe_lies_10_db_over_the_redirected_bass(predicted):
    at = np.array([30.0, 35.0, 40.0])
    lfe = average_level_db(predicted, "LFE1", at)
    bass = average_level_db(predicted, "M000", at)
    np.testing.assert_allclose(lfe - bass, 10, atol=0.8)


def test_settings_keep_to_the_capability_sheet_and_the_limits(job, designed):
    sheet, limits = job.processor, job.limits
    f = log_frequencies(15, 20000, 24)
    for output in designed[0].outputs:
        assert len(output.biquads) <= min(sheet.biquads_per_output, limits.biquads_per_output)
        assert 0 <= output.delay_s <= sheet.maximum_delay_s
        steps = output.delay_s / sheet.delay_step_s
        assert steps == pytest.approx(round(steps), abs=1e-4)
        trims = output.trim_db / sheet.gain_step_db
        assert trims == pytest.approx(round(trims), abs=1e-6)
        # No output amplifies at any frequency.
        assert amplitude_db(output_response(output, f, RATE)).max() <= 1e-6
    assert min(output.delay_s for output in designed[0].outputs) == 0


@pytest.mark.parametrize(("late_s", "sign"), [(4.2e-3, 1), (4.2e-3, -1), (-3e-3, -1)])
def test_subwoofers_made_later_are_moved_by_as_much(job, survey, designed, late_s, sign):
    """A known change of the subwoofers' timing and polarity comes out again, to 0.1 ms."""

    def lead_s(tuning):
        return of(tuning, "SW1").delay_s - of(tuning, "M000").delay_s

    f = survey.frequencies_hz()
    samples = survey.samples.copy()
    for name in ("SW1", "SW2"):
        row = survey.sources.index(name)
        turned = sign * np.fft.rfft(samples[row]) * np.exp(-2j * np.pi * f * late_s)
        samples[row] = np.fft.irfft(turned)
    moved, _ = design(job, replace(survey, samples=samples))
    assert lead_s(moved) - lead_s(designed[0]) == pytest.approx(-late_s, abs=0.1e-3)
    assert (of(moved, "SW1").inverted != of(designed[0], "SW1").inverted) == (sign < 0)


def test_the_same_survey_gives_the_same_tuning(job, survey, designed):
    assert design(job, survey) == designed


def test_a_fir_tuning_holds_curves_for_the_mains_and_biquads_for_the_subwoofers(job, survey):
    fir = job.model_copy(update={"limits": TuningLimits(method="fir")})
    tuning, _ = design(fir, survey)
    for loudspeaker in job.loudspeakers:
        assert of(tuning, loudspeaker.id).fir.taps == 4096
        # Biquads only where they align a main channel with the bass.
        output = of(tuning, loudspeaker.id)
        assert output.biquads == sections_of(fir, output)
    assert of(tuning, "SW1").biquads
    at = log_frequencies(250, 8000, 3)
    after = predict(fir, tuning, survey)
    for channel in job.channels[:5]:
        error = average_level_db(after, channel.id, at) - target_db(job.target, at)
        assert np.std(error) < 1.0


def test_a_deep_null_is_left_alone_and_named(job, survey):
    """All stations lack 1/6 octave around 200 Hz in the centre loudspeaker, by 40 dB."""
    row = survey.sources.index("M000")
    samples = survey.samples.copy()
    spectrum = np.fft.rfft(samples[row])
    f = survey.frequencies_hz()
    spectrum *= 1 - 0.99 * np.exp(-((np.log2(np.maximum(f, 1) / 200) / 0.11) ** 2))
    samples[row] = np.fft.irfft(spectrum)
    wide = job.model_copy(
        update={"room": job.room.model_copy(update={"outline_m": ((0, 0), (3, 0), (3, 3), (0, 3))})}
    )
    tuning, findings = design(wide, replace(survey, samples=samples))
    assert "M000: has a null at" in texts(findings)
    at = 200 * 2 ** np.linspace(-0.15, 0.15, 9)
    filters = of(tuning, "M000").model_copy(
        update={"trim_db": 0.0, "delay_s": 0.0, "crossovers": ()}
    )
    # 0.5 dB is what skirts of other filters may add, held on a grid of 1/48 octave.
    assert amplitude_db(output_response(filters, at, RATE)).max() <= 0.51


def test_progress_rises_to_1_and_can_stop_the_work(job, survey):
    told = []
    design(job, survey, lambda fraction, _: told.append(fraction))
    assert told == sorted(told)
    assert told[-1] == 1.0

    def stop(fraction, _):
        if fraction > 0.3:
            raise Cancelled

    with pytest.raises(Cancelled):
        design(job, survey, stop)


def test_the_basis_changes_with_what_a_tuning_comes_from_and_not_with_the_proof(job):
    basis = tuning_basis(job)
    take = Take(
        stage="survey",
        source="M000",
        station="S-R1-1",
        kind="response",
        file="takes/a.wav",
        sha256="0" * 64,
    )
    proof = take.model_copy(update={"stage": "proof"})
    assert tuning_basis(job.model_copy(update={"takes": (take,)})) != basis
    assert tuning_basis(job.model_copy(update={"takes": (proof,)})) == basis
    assert tuning_basis(job.model_copy(update={"limits": TuningLimits(crossover_hz=90)})) != basis
    assert tuning_basis(job.model_copy(update={"main_seat": "R1-1"})) != basis
    assert tuning_basis(job.model_copy(update={"name": "other"})) == basis
