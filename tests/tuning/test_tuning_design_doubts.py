"""The tuning where something is missing, faulty, alike or against a limit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.analysis import band_level_db
from roomwright.model import (
    CapabilitySheet,
    Channel,
    LoudspeakerModel,
    Target,
    TargetPoint,
    Tuning,
    TuningLimits,
)
from roomwright.signals import amplitude_db, log_frequencies, power_db
from roomwright.tuning import design, output_response, predict, sections_of

RATE = 48000


def of(tuning: Tuning, name: str):
    return next(output for output in tuning.outputs if output.drives == name)


def only(survey, names):
    """The survey without the sources not named."""
    rows = [survey.sources.index(name) for name in names]
    fields = ("present", "trusted_hz", "noise_rms", "signal_to_noise_db", "distortion_db")
    return replace(
        survey,
        sources=tuple(names),
        samples=survey.samples[rows],
        clock_error_ppm=survey.clock_error_ppm[rows],
        **{field: getattr(survey, field)[rows] for field in fields},
    )


def texts(findings):
    return " | ".join(f"{finding.where}: {finding.text}" for finding in findings)


def test_without_subwoofers_the_mains_keep_their_bass(job, survey):
    mains = [loudspeaker.id for loudspeaker in job.loudspeakers]
    tuning, findings = design(job.model_copy(update={"subwoofers": ()}), only(survey, mains))
    assert tuning.bass_low_pass is None
    assert all(output.crossovers == () for output in tuning.outputs)
    assert "no measured subwoofer" in texts(findings)


def test_loudspeakers_that_reach_low_keep_their_bass(job, survey):
    models = (
        job.loudspeaker_models[0].model_copy(update={"low_hz": 25.0}),
        job.loudspeaker_models[1],
    )
    tuning, findings = design(job.model_copy(update={"loudspeaker_models": models}), survey)
    assert tuning.bass_low_pass is None
    assert "keeps its bass" in texts(findings)


def test_a_small_loudspeaker_under_a_low_crossover_is_doubted(job, survey):
    models = (
        LoudspeakerModel(
            name="main", sensitivity_db=87, maximum_level_db=100, low_hz=130, high_hz=18000
        ),
        job.loudspeaker_models[1],
    )
    _, findings = design(job.model_copy(update={"loudspeaker_models": models}), survey)
    assert "reaches down to 130 Hz only" in texts(findings)


def test_only_subwoofers(job, survey):
    only_bass = job.model_copy(
        update={"loudspeakers": (), "channels": (Channel(id="LFE1", role="lfe"),)}
    )
    tuning, _ = design(only_bass, only(survey, ["SW1", "SW2"]))
    assert {output.drives for output in tuning.outputs} == {"SW1", "SW2"}
    assert all(output.biquads for output in tuning.outputs)
    gains = [
        amplitude_db(output_response(output, log_frequencies(15, 400, 24), RATE)).max()
        for output in tuning.outputs
    ]
    assert max(gains) == pytest.approx(0, abs=0.2)
    assert max(gains) <= 0


def test_an_untimed_survey_gets_no_delays_and_says_so(job, survey):
    tuning, findings = design(job, replace(survey, timed=False))
    assert all(output.delay_s == 0 and not output.inverted for output in tuning.outputs)
    assert "no common time zero" in texts(findings)
    assert of(tuning, "M000").trim_db < 0


def test_an_unmeasured_loudspeaker_is_named_and_left_with_its_crossover(job, survey):
    rest = [name for name in survey.sources if name != "M+110"]
    tuning, findings = design(job, only(survey, rest))
    assert "M+110: was not measured" in texts(findings)
    assert of(tuning, "M+110").biquads == ()
    assert of(tuning, "M+110").crossovers[0].side == "high_pass"
    assert of(tuning, "M+110").trim_db == min(
        output.trim_db for output in tuning.outputs if output.drives[0] == "M"
    )
    assert of(tuning, "M+030").biquads


def test_a_channel_without_loudspeakers_of_its_own_is_named(job, survey):
    channels = (*job.channels, Channel(id="M+060", role="front", loudspeakers=("M+030",)))
    tuning, findings = design(job.model_copy(update={"channels": channels}), survey)
    assert "M+060: plays only through loudspeakers that belong to other channels" in texts(findings)
    assert of(tuning, "M+030").biquads


def test_a_limit_below_the_crossover_leaves_the_mains_alone(job, survey):
    low = job.model_copy(update={"limits": TuningLimits(highest_hz=70.0)})
    tuning, findings = design(low, survey)
    assert "M000: nothing is left to equalise from 80 to 70 Hz" in texts(findings)
    assert of(tuning, "M000").biquads == sections_of(low, of(tuning, "M000"))
    assert max(biquad.frequency_hz for biquad in of(tuning, "SW1").biquads) <= 70.0


def test_missing_stations_are_left_out_and_named(job, survey):
    present = survey.present.copy()
    present[0, 1] = False
    samples = survey.samples.copy()
    samples[0, 1] = 0
    tuning, findings = design(job, replace(survey, present=present, samples=samples))
    assert "M+030: was not measured at S-R1-2" in texts(findings)
    assert of(tuning, "M+030").biquads


def test_a_main_seat_without_station_is_doubted(job, survey):
    stations = tuple(s for s in job.stations if s.seat != job.main_seat)
    tuning, findings = design(job.model_copy(update={"stations": stations}), survey)
    assert "no station stands for the main seat" in texts(findings)
    # Levels are then equal in the average over the stations, which all count alike.
    after = predict(job, tuning, survey)
    power = 10 ** (band_level_db(after.samples[:5], RATE, 500, 2000) / 10)
    assert np.ptp(power_db(power.mean(axis=1))) <= 0.11


def test_what_the_boost_limit_leaves_missing_is_said_once(job, survey):
    tight = job.model_copy(update={"limits": TuningLimits(maximum_boost_db=0.0)})
    tuning, findings = design(tight, survey)
    said = [finding for finding in findings if "leaves some under the target" in finding.text]
    assert len(said) == 2
    assert "M000 by" in said[0].text
    assert "subwoofers by" in said[1].text
    filters = [biquad for output in tuning.outputs for biquad in output.biquads]
    assert all(biquad.gain_db < 0 for biquad in filters if biquad.kind != "all_pass")


def test_a_quiet_subwoofer_is_named(job, survey):
    samples = survey.samples.copy()
    samples[survey.sources.index("SW2")] *= 0.05
    _, findings = design(job, replace(survey, samples=samples))
    assert "the middle one of the subwoofers" in texts(findings)


def test_quiet_subwoofers_lower_the_mains_and_then_cannot_reach(job, survey):
    samples = survey.samples.copy()
    for name in ("SW1", "SW2"):
        samples[survey.sources.index(name)] *= 0.01
    tuning, findings = design(job, replace(survey, samples=samples))
    assert "subwoofers: stay" in texts(findings)
    assert of(tuning, "M000").trim_db < -10


def test_a_short_delay_line_is_named(job, survey):
    short = CapabilitySheet(maximum_delay_s=0.001)
    tuning, findings = design(job.model_copy(update={"processor": short}), survey)
    assert max(output.delay_s for output in tuning.outputs) <= 0.001
    assert "would need a delay of" in texts(findings)


def test_a_faulty_channel_is_named(job, survey):
    samples = survey.samples.copy()
    samples[survey.sources.index("M000")] *= 0.01
    _, findings = design(job, replace(survey, samples=samples))
    assert "M000: stays" in texts(findings)


def test_identical_sources_at_one_station_do_not_crash(job, survey):
    """Everything alike: no spread over stations, no difference in level or arrival."""
    samples = np.zeros((len(survey.sources), 1, survey.samples.shape[-1]), np.float32)
    samples[:, 0, 100] = 1.0
    pairs = slice(None), slice(0, 1)
    alike = replace(
        survey,
        stations=survey.stations[1:2],
        samples=samples,
        background_db=survey.background_db[:1],
        **{
            name: getattr(survey, name)[pairs]
            for name in (
                "present",
                "trusted_hz",
                "noise_rms",
                "signal_to_noise_db",
                "distortion_db",
                "clock_error_ppm",
            )
        },
    )
    flat = Target(points=(TargetPoint(frequency_hz=1000, level_db=0),))
    tuning, _ = design(job.model_copy(update={"target": flat}), alike)
    assert all(output.biquads == () for output in tuning.outputs)
    assert {output.delay_s for output in tuning.outputs if output.drives[0] == "M"} == {0.0}
    trims = {output.trim_db for output in tuning.outputs if output.drives[0] == "M"}
    assert len(trims) == 1
    # Two alike subwoofers sum to +6 dB, so each is trimmed by that.
    assert of(tuning, "SW1").trim_db == pytest.approx(trims.pop() - 6.0, abs=0.11)


def test_an_array_is_levelled_as_one_channel(job, survey):
    channels = (
        Channel(id="M+030", role="front", loudspeakers=("M+030",)),
        Channel(id="M+110", role="surround", loudspeakers=("M+110", "M-110")),
        Channel(id="LFE1", role="lfe"),
    )
    array = job.model_copy(update={"channels": channels})
    tuning, _ = design(array, survey)
    responses = predict(array, tuning, survey)
    levels = band_level_db(responses.samples[:2, 1], RATE, 500, 2000)
    assert np.ptp(levels) <= 0.11


def test_another_sampling_rate_is_refused(job, survey):
    with pytest.raises(InputError, match="44100 Hz and the job runs at 48000 Hz"):
        design(job, replace(survey, sampling_rate_hz=44100))


def test_an_empty_survey_is_refused(job, survey):
    with pytest.raises(InputError, match="holds no response"):
        design(job, replace(survey, samples=np.zeros_like(survey.samples)))


def test_a_processor_without_fir_gets_biquads_and_says_so(job, survey):
    no_fir = job.model_copy(
        update={
            "limits": TuningLimits(method="fir"),
            "processor": CapabilitySheet(fir_taps_per_output=0),
        }
    )
    tuning, findings = design(no_fir, survey)
    assert "too few FIR taps" in texts(findings)
    assert all(output.fir is None for output in tuning.outputs)
    assert of(tuning, "M000").biquads
