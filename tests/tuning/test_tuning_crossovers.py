"""Crossovers of single channels: complementary filters, doubts, alignment of several at once."""

from __future__ import annotations

import numpy as np
import pytest
from synthetic_cinema import make_job, response_set

from roomwright.model import Channel, Crossover, Job, OwnCrossover, Tuning, TuningLimits, digest
from roomwright.signals import amplitude_db, crossover_sos, response
from roomwright.tuning import align, design, predict, tuning_basis
from roomwright.tuning.crossovers import bass_crossovers, highest_crossover_hz
from roomwright.tuning.design import main_channels, starting_outputs
from roomwright.tuning.sources import measured_sources

RATE = 48000
BINS = np.arange(0, 801.0)


def with_own(job: Job, *own: OwnCrossover, **changes) -> Job:
    return job.model_copy(update={"own_crossovers": own, **changes})


def crossed(job: Job, survey) -> tuple[Tuning, str]:
    """Crossovers alone, loaded into a tuning without any other setting; and what was found."""
    sources, _ = measured_sources(job, survey)
    channels = main_channels(job, sources)
    subwoofers = [sources[s.id] for s in job.subwoofers if s.id in sources]
    crossovers, found = bass_crossovers(job, channels, subwoofers)
    outputs = tuple(starting_outputs(job, crossovers).values())
    tuning = crossovers.loaded(Tuning(outputs=outputs, based_on="none"))
    return tuning, " | ".join(f"{f.where}: {f.text}" for f in found)


@pytest.fixture(scope="module")
def one_subwoofer():
    """Loudspeakers and one subwoofer that are all wires to every seat."""
    job = make_job()
    job = job.model_copy(
        update={"subwoofers": job.subwoofers[:1], "outputs": job.outputs[:6]},
    )
    units = [unit.id for unit in job.units]
    click = np.ones(1)
    return job, response_set({(u, s.id): click for u in units for s in job.stations})


OWN = (
    OwnCrossover(channels=("M000", "M+030"), frequency_hz=120.0),
    OwnCrossover(channels=("M+110",), frequency_hz=50.0, order=8),
    OwnCrossover(channels=("M-110",), full_range=True),
)


def test_each_channel_adds_up_to_an_all_pass_at_its_own_crossover(one_subwoofer):
    """Linkwitz-Riley of order 4 and 8: the two sides sum to magnitude 1 (Linkwitz 1976).

    The prediction is stored in float32: 1e-4 is 0.001 dB.
    """
    job, survey = one_subwoofer
    job = with_own(job, *OWN)
    tuning, _ = crossed(job, survey)
    predicted = predict(job, tuning, survey)
    for row, channel in enumerate(job.channels):
        if channel.role != "lfe":
            magnitude = np.abs(np.fft.rfft(predicted.samples[row, 0].astype(float)))
            np.testing.assert_allclose(magnitude, 1.0, atol=1e-4)
    asked = {c: low and (low.frequency_hz, low.order) for c, low in low_passes(job, tuning).items()}
    assert asked == {
        "M000": (120.0, 4),
        "M+030": (120.0, 4),
        "M-030": (80.0, 4),
        "M+110": (50.0, 8),
        "M-110": None,
    }


def low_passes(job, tuning):
    return {c.id: tuning.low_pass_of(c.id) for c in job.channels if c.role != "lfe"}


def test_one_low_pass_for_all_leaves_the_dip_of_theory(one_subwoofer):
    """Analogue Linkwitz-Riley, high-pass at a, low-pass at b: (s^4 + b^4)-like sum in closed form.

    H = s^2 s^2/(s^2 + sqrt2 a s + a^2)^2 + b^4/(s^2 + sqrt2 b s + b^2)^2; the bilinear transform
    at 48 kHz changes it by less than 0.01 dB below 1 kHz.
    """
    job, survey = one_subwoofer
    processor = job.processor.model_copy(update={"one_bass_low_pass": True})
    own = OwnCrossover(channels=("M000",), frequency_hz=160.0)
    tuning, found = crossed(with_own(job, own, processor=processor), survey)
    assert tuning.low_pass_of("M000") == tuning.low_pass_of("M-030")
    assert "has one low-pass for the bass of all channels; it stands at 80 Hz" in found
    assert "does not complete the crossovers of M000:" in found
    row = [c.id for c in job.channels].index("M000")
    predicted = predict(job, tuning, survey)
    f = predicted.frequencies_hz()
    part = (f >= 20) & (f <= 1000)
    s = 1j * f[part]
    a, b = 160.0, 80.0
    high = (s**2 / (s**2 + np.sqrt(2) * a * s + a**2)) ** 2
    low = (b**2 / (s**2 + np.sqrt(2) * b * s + b**2)) ** 2
    level = amplitude_db(np.fft.rfft(predicted.samples[row, 0].astype(float)))[part]
    np.testing.assert_allclose(level, amplitude_db(high + low), atol=0.05)
    assert level.min() < -6


def test_one_low_pass_is_no_doubt_where_all_channels_agree(one_subwoofer):
    job, survey = one_subwoofer
    processor = job.processor.model_copy(update={"one_bass_low_pass": True})
    full = OwnCrossover(channels=("M000",), full_range=True)
    _, found = crossed(with_own(job, full, processor=processor), survey)
    assert "low-pass" not in found


def test_a_full_range_channel_is_doubted_below_its_loudspeaker(one_subwoofer):
    job, survey = one_subwoofer
    tuning, found = crossed(with_own(job, *OWN), survey)
    assert "M-110: is full range by choice and reaches down to 55 Hz only" in found
    assert "M+110: reaches down to 55 Hz only, and the crossover stands at 50 Hz" in found
    low = OwnCrossover(channels=("M000",), frequency_hz=250.0)
    assert (
        "SW1: reaches up to 200 Hz only, and a crossover stands at 250 Hz"
        in (crossed(with_own(job, low), survey)[1])
    )
    assert tuning.bass_low_pass.frequency_hz == 120.0


def test_all_full_range_is_no_bass_management(one_subwoofer):
    job, survey = one_subwoofer
    job = job.model_copy(update={"limits": TuningLimits(full_range=True)})
    tuning, _ = crossed(job, survey)
    assert tuning.bass_low_pass is None
    assert tuning.own_low_passes == ()
    assert all(output.crossovers == () for output in tuning.outputs)
    back = OwnCrossover(channels=("M000",), frequency_hz=90.0)
    tuning, _ = crossed(with_own(job, back), survey)
    assert low_passes(job, tuning) == {
        **dict.fromkeys(("M+030", "M-030", "M+110", "M-110")),
        "M000": Crossover(side="low_pass", frequency_hz=90.0),
    }


def test_a_channel_on_anothers_loudspeakers_has_their_crossover(one_subwoofer):
    """Their outputs have one high-pass each, so only its low-pass adds up with it."""
    job, survey = one_subwoofer
    guests = (
        Channel(id="B000", role="front", loudspeakers=("M000",)),
        Channel(id="B+030", role="front", loudspeakers=("M000", "M+110")),
    )
    job = with_own(job, *OWN, channels=(*job.channels, *guests))
    tuning, found = crossed(job, survey)
    assert tuning.low_pass_of("B000") == tuning.low_pass_of("M000")
    assert "B+030: also plays through M+110, which has the crossover of another channel" in found


def test_the_design_gives_each_channel_its_crossover(job, survey):
    own = (
        OwnCrossover(channels=("M000",), frequency_hz=110.0),
        OwnCrossover(channels=("M-110",), full_range=True),
    )
    changed = with_own(job, *own)
    tuning, _ = design(changed, survey)
    settings = {output.drives: output for output in tuning.outputs}
    assert settings["M000"].crossovers == (Crossover(side="high_pass", frequency_hz=110.0),)
    assert tuning.low_pass_of("M000") == settings["M000"].crossovers[0].other_side
    assert settings["M-110"].crossovers == ()
    assert tuning.low_pass_of("M-110") is None
    assert tuning.low_pass_of("M-030").frequency_hz == job.limits.crossover_hz
    assert tuning.based_on == tuning_basis(changed) != tuning_basis(job)
    # What is corrected begins where the channel begins to play.
    assert min(b.frequency_hz for b in settings["M000"].biquads) >= 110.0
    assert highest_crossover_hz(changed) == 110.0


@pytest.mark.parametrize("late_s", [4.2e-3, -3.1e-3])
def test_a_known_offset_is_found_over_channels_with_different_crossovers(late_s):
    """As for one crossover: what was put in comes out, to a tenth of a millisecond."""

    def side(name, at_hz):
        sos = crossover_sos(Crossover(side=name, frequency_hz=at_hz), RATE)
        return response(sos, BINS, RATE)

    at_hz = np.array([60.0, 60.0, 120.0])
    mains = np.stack([np.tile(side("high_pass", f), (5, 1)) for f in at_hz])
    delayed = np.exp(-2j * np.pi * BINS * late_s)
    bass = np.stack([np.tile(-side("low_pass", f) * delayed, (5, 1)) for f in at_hz])
    found = align(mains, bass, BINS, np.ones(5), at_hz, 0.05)
    assert found.inverted
    assert found.delay_s == pytest.approx(-late_s, abs=0.1e-3)
    assert found.loss_db.min() > -0.02


def test_jobs_from_before_keep_their_digests(job, survey):
    """A document written before there were these fields: nothing made of it is out of date."""
    tuning, _ = design(job, survey)
    written = job.model_copy(update={"tuning": tuning}).model_dump()
    del written["own_crossovers"], written["tuning"]["own_low_passes"]
    del written["limits"]["full_range"], written["processor"]["one_bass_low_pass"]
    again = Job.model_validate(written)
    assert digest(again.tuning) == digest(tuning)
    assert low_passes(again, again.tuning) == dict.fromkeys(
        (c.id for c in job.channels if c.role != "lfe"), tuning.bass_low_pass
    )
