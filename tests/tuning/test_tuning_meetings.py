"""A tuning's main channels and their bass: figures, sections in the design, latency."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from scipy import fft
from synthetic_cinema import RATE

from roomwright.model import (
    Biquad,
    ByHand,
    CapabilitySheet,
    OutputTuning,
    Tuning,
    TuningLimits,
)
from roomwright.signals import cascade_sos, response
from roomwright.tuning import (
    channel_meetings,
    design,
    latency,
    predict,
    prepared,
    refitted,
    sections_of,
)
from roomwright.tuning.meetings import poor_meetings, wanted_sections


def turned(survey, units, *sections):
    """The survey with some units sent through all-pass sections."""
    samples = survey.samples.copy()
    length = samples.shape[-1]
    f = fft.rfftfreq(2 * length, 1 / RATE)
    chain = response(cascade_sos(sections, RATE), f, RATE)
    for unit in units:
        row = survey.sources.index(unit)
        spectra = fft.rfft(samples[row].astype(float), 2 * length) * chain
        samples[row] = fft.irfft(spectra, 2 * length)[..., :length]
    return dataclasses.replace(survey, samples=samples)


@pytest.fixture(scope="module")
def skewed(job, survey):
    """Three loudspeakers turn about 80 Hz, two do not: no delay of the subwoofers suits all."""
    turn = Biquad(kind="all_pass", frequency_hz=80.0, q=0.7)
    return turned(survey, ["M+110", "M-110", "M000"], turn)


@pytest.fixture(scope="module")
def tuned(job, skewed):
    return design(job, skewed)


def of(tuning, name):
    return next(output for output in tuning.outputs if output.drives == name)


def test_sections_save_some_of_the_sum(job, skewed, tuned):
    met = channel_meetings(job, tuned[0], skewed)
    assert [one.channel for one in met] == [c.id for c in job.channels if c.role != "lfe"]
    assert any(one.sections for one in met)
    lost = np.mean([one.loss_db for one in met])
    assert lost > np.mean([one.by_delay_db for one in met]) + 0.3
    assert all(one.least_db >= one.loss_db - 1e-9 for one in met)
    assert all(one.worst_db <= one.loss_db + 1e-9 for one in met)


def test_what_is_lost_is_what_the_prediction_lacks(job, skewed, tuned):
    """The loss of a channel against that of its own prediction, main and bass apart."""
    tuning = tuned[0]
    no_bass = tuning.model_copy(update={"bass_low_pass": None})
    silent = tuning.model_copy(
        update={
            "outputs": tuple(
                o.model_copy(update={"trim_db": -200.0}) if not o.drives.startswith("SW") else o
                for o in tuning.outputs
            )
        }
    )
    parts = [predict(job, t, skewed).samples.astype(float) for t in (tuning, no_bass, silent)]
    both, main, bass = (np.abs(fft.rfft(part, axis=-1)) for part in parts)
    f = fft.rfftfreq(skewed.samples.shape[-1], 1 / RATE)
    band = (f >= 40) & (f <= 160)
    met = channel_meetings(job, tuning, skewed)
    for row, one in enumerate(met):
        m, s, p = main[row][:, band], bass[row][:, band], both[row][:, band]
        close = np.abs(20 * np.log10(m / s)) <= 10
        # Every whole bin once, so over linear frequency; the figure is over log frequency.
        weight = np.where(close, 2 * m * s / (m**2 + s**2), 0) / f[band]
        loss = (weight * 20 * np.log10(p / (m + s))).sum(axis=-1) / weight.sum(axis=-1)
        weights = np.array([1.0, 2.0, 1.0])
        assert one.loss_db == pytest.approx(weights @ loss / 4, abs=0.25)


def test_left_and_right_share_their_sections(job, tuned):
    tuning = tuned[0]
    for left, right in (("M+030", "M-030"), ("M+110", "M-110")):
        assert sections_of(job, of(tuning, left)) == sections_of(job, of(tuning, right))


def test_sections_move_no_arrival(job, skewed, tuned):
    """Delays of the mains differ as without sections: precedence is left alone."""
    bare = design(job.model_copy(update={"limits": TuningLimits(biquads_per_output=0)}), skewed)[0]
    assert not any(output.biquads for output in bare.outputs)
    names = [unit.id for unit in job.loudspeakers]
    with_sections = np.array([of(tuned[0], name).delay_s for name in names])
    without = np.array([of(bare, name).delay_s for name in names])
    np.testing.assert_allclose(
        with_sections - with_sections[0], without - without[0], atol=job.processor.delay_step_s / 2
    )


@pytest.mark.parametrize("places", [1, 3])
def test_sections_take_places_from_the_equaliser(job, skewed, places):
    few = job.model_copy(update={"processor": CapabilitySheet(biquads_per_output=places)})
    tuning = design(few, skewed)[0]
    assert all(len(output.biquads) <= places for output in tuning.outputs)
    assert any(sections_of(few, output) for output in tuning.outputs)


def test_an_output_closed_by_hand_gets_no_section(job, skewed):
    hands = tuple(ByHand(drives=unit.id, no_more_biquads=True) for unit in (*job.loudspeakers,))
    closed = job.model_copy(update={"by_hand": hands})
    assert not any(sections_of(closed, output) for output in design(closed, skewed)[0].outputs)


def test_an_all_pass_by_hand_is_not_taken_for_the_solver_s(job):
    hand = ByHand(drives="M000", biquads=(Biquad(kind="all_pass", frequency_hz=100.0),))
    by_hand = job.model_copy(update={"by_hand": (hand,)})
    own = Biquad(kind="all_pass", frequency_hz=70.0)
    output = OutputTuning(drives="M000", biquads=(*hand.biquads, own))
    assert sections_of(by_hand, output) == (own,)
    assert sections_of(job, OutputTuning(drives="SW1", biquads=(own,))) == ()


def test_changes_by_hand_come_on_top_and_move_no_section(job, skewed, tuned):
    hands = (ByHand(drives="SW1", flipped=True), ByHand(drives="M000", delay_change_s=0.002))
    changed = design(job.model_copy(update={"by_hand": hands}), skewed)[0]
    for name in ("M+030", "M-030", "M000", "M+110", "M-110"):
        assert of(changed, name).biquads == of(tuned[0], name).biquads
    assert of(changed, "SW1").inverted != of(tuned[0], "SW1").inverted
    later = of(changed, "M000").delay_s - of(changed, "M+030").delay_s
    before = of(tuned[0], "M000").delay_s - of(tuned[0], "M+030").delay_s
    assert later - before == pytest.approx(0.002, abs=1 / RATE)


def test_a_refit_keeps_the_sections(job, skewed, tuned):
    tuning = tuned[0]
    name = next(o.drives for o in tuning.outputs if sections_of(job, o))
    again = refitted(prepared(job, skewed), job, tuning, name)
    assert sections_of(job, of(again, name)) == sections_of(job, of(tuning, name))


def test_without_a_common_time_zero_there_is_nothing_to_tell(job, survey, tuned):
    untimed = dataclasses.replace(survey, timed=False)
    assert channel_meetings(job, tuned[0], untimed) == ()
    assert wanted_sections(job, tuned[0], untimed) == {}


def test_seats_that_disagree_cost_the_sum_and_share_it(job, survey):
    """A loudspeaker half a period of 80 Hz later at two seats that count as much as the third.

    A section takes it halfway between; the bound says how much of the loss is the seats' own.
    """
    samples, steps = survey.samples.copy(), round(RATE / 160)
    row = survey.sources.index("M000")
    samples[row, [0, 2]] = np.roll(samples[row, [0, 2]], steps, axis=-1)
    apart = dataclasses.replace(survey, samples=samples)
    tuning = design(job, apart)[0]
    centre = next(one for one in channel_meetings(job, tuning, apart) if one.channel == "M000")
    assert centre.least_db < -1
    assert centre.by_delay_db - 1e-9 < centre.loss_db <= centre.least_db


def test_a_channel_that_loses_much_is_named(job, survey):
    """Reversed polarity at every seat, behind the tuning's back: nearly all of the sum is lost."""
    tuning = design(job, survey)[0]
    assert not [f for f in poor_meetings(job, tuning, survey) if f.severity == "doubt"]
    samples = survey.samples.copy()
    samples[survey.sources.index("M000")] *= -1
    found = poor_meetings(job, tuning, dataclasses.replace(survey, samples=samples))
    said = [finding for finding in found if finding.severity == "doubt"]
    assert [finding.where for finding in said] == ["M000"]
    assert "around 80 Hz" in said[0].text


def test_late_bass_makes_the_mains_and_the_picture_wait(job, survey):
    """30 ms more in every subwoofer's way are 30 ms in every main channel's and the picture's."""
    late = survey.samples.copy()
    steps = round(0.030 * RATE)
    for subwoofer in job.subwoofers:
        row = survey.sources.index(subwoofer.id)
        late[row] = np.roll(late[row], steps, axis=-1)
        late[row, :, :steps] = 0
    early_tuning = design(job, survey)[0]
    late_tuning = design(job, dataclasses.replace(survey, samples=late))[0]
    before, after = latency(job, early_tuning), latency(job, late_tuning)
    # To the period's tenth that the search may move with the lost end of the responses.
    lead = [of(early_tuning, s.id).delay_s for s in job.subwoofers]
    gained = after.sound_after_picture_s - before.sound_after_picture_s
    assert gained == pytest.approx(0.030 - min(lead), abs=1.3e-3)
    assert after.waiting_s == pytest.approx(before.waiting_s + gained, abs=1e-6)


def test_latency_is_delay_and_way(job):
    """3.4 m at 344 m/s and 5 ms, of the one loudspeaker there is in the tuning."""

    seat, place = job.seat(job.main_seat).position_m, job.loudspeakers[0].position_m
    way = float(np.linalg.norm(np.subtract(seat, place)))
    tuning = Tuning(outputs=(OutputTuning(drives="M+030", delay_s=0.005),), based_on="none")
    found = latency(job, tuning)
    # 331.3 sqrt(1 + 21 / 273.15) = 343.8 m/s.
    assert found.sound_after_picture_s == pytest.approx(0.005 + way / 343.8, abs=1e-5)
    assert found.settings_s == found.waiting_s == 0.005
    assert latency(job, Tuning(outputs=(), based_on="none")) is None
