"""Quick answers while the tuning is drawn, against the whole computation."""

from __future__ import annotations

import numpy as np
import pytest
from synthetic_cinema import make_job, synthetic_survey

from roomwright.commissioning import edit_target, edit_tuning, live
from roomwright.model import ByHand, Channel, TuningLimits
from roomwright.signals import power_db, target_db
from roomwright.tuning import average_power, design, predict


@pytest.fixture(scope="module")
def job():
    return make_job()


@pytest.fixture(scope="module")
def survey(job):
    return synthetic_survey(job)


@pytest.fixture(scope="module")
def tuned(job, survey):
    return design(job, survey)[0]


@pytest.fixture(scope="module")
def ready(job, survey):
    return live.prepare(job, survey)


def whole_levels_db(job, tuning, survey, ready, channel):
    """Levels (P, G) of the whole prediction, smoothed alike."""
    predicted = predict(job, tuning, survey)
    spectra = predicted.spectra()[predicted.sources.index(channel)].astype(complex)
    power = average_power(
        np.abs(spectra) ** 2,
        predicted.frequencies_hz(),
        ready.ready.transition_hz,
        ready.grid_hz,
    )
    return power_db(power)


@pytest.mark.parametrize("channel", ["M+030", "M-110"])
def test_a_quick_prediction_is_the_whole_one(job, survey, tuned, ready, channel):
    """Below 1 kHz it is the same sum; above, filters of Q 1.5 at most vary little in a third
    octave: half a decibel at their steepest. Up to 16 kHz: near half the rate they warp."""
    quick = live.predict(ready, job, tuned, channel, "R1-2")
    whole = whole_levels_db(job, tuned, survey, ready, channel)
    at = ready.seats["R1-2"]
    f = ready.grid_hz
    low, high = (f > 20) & (f < 900), (f >= 900) & (f < 16000)
    np.testing.assert_allclose(quick.seat_db[low], whole[at, low], atol=0.05)
    np.testing.assert_allclose(quick.seat_db[high], whole[at, high], atol=0.5)
    seats = whole[list(ready.seats.values())]
    np.testing.assert_allclose(quick.low_db[low], seats.min(axis=0)[low], atol=0.05)
    np.testing.assert_allclose(quick.high_db[low], seats.max(axis=0)[low], atol=0.05)
    below = (f >= 20) & (f < ready.ready.transition_hz)
    assert quick.spread_below_db == pytest.approx(seats.std(axis=0)[below].mean(), abs=0.05)


def test_the_lfe_is_shown_without_its_gain_and_below_the_split_only(job, survey, tuned, ready):
    quick = live.predict(ready, job, tuned, "LFE1", "R1-2")
    whole = whole_levels_db(job, tuned, survey, ready, "LFE1")[ready.seats["R1-2"]]
    low = (ready.grid_hz > 20) & (ready.grid_hz < 200)
    np.testing.assert_allclose(quick.seat_db[low], (whole - tuned.lfe_gain_db)[low], atol=0.05)
    assert np.isnan(quick.seat_db[ready.grid_hz > 1000]).all()


def test_two_loudspeakers_of_one_channel_add_up_in_full_in_the_bass(job, survey, tuned):
    pair = job.model_copy(
        update={
            "channels": (
                Channel(id="M+110", role="surround", loudspeakers=("M+110", "M-110")),
                *(c for c in job.channels if c.id not in {"M+110", "M-110"}),
            )
        }
    )
    ready = live.prepare(pair, survey)
    quick = live.predict(ready, pair, tuned, "M+110", "R1-2")
    whole = whole_levels_db(pair, tuned, survey, ready, "M+110")[ready.seats["R1-2"]]
    low = (ready.grid_hz > 20) & (ready.grid_hz < 900)
    np.testing.assert_allclose(quick.seat_db[low], whole[low], atol=0.05)


def test_tuned_main_channels_lie_on_the_target_at_the_reference(job, tuned, ready):
    """Within what the design's own tests allow of the average, in the band of the levels."""
    reference = live.reference_db(ready, job, tuned)
    band = (ready.grid_hz > 500) & (ready.grid_hz < 2000)
    for channel in ("M+030", "M000", "M-110"):
        shown = live.predict(ready, job, tuned, channel, "R1-2", reference)
        off = shown.mean_db[band] - target_db(job.target, ready.grid_hz[band])
        assert abs(off.mean()) < 1.0


def test_the_measured_average_lies_on_the_target_where_levels_are_read(job, ready):
    shown = live.measured(ready, job, "M+030")
    f = shown.frequency_hz
    within = (f >= shown.level_hz[0]) & (f <= shown.level_hz[1])
    assert (shown.level_db - shown.target_db)[within].mean() == pytest.approx(0, abs=1e-9)
    np.testing.assert_array_equal(shown.aimed_db, shown.target_db)


def test_a_refit_follows_a_dragged_point(job, tuned, ready):
    last = len(job.target.points) - 1
    moved = edit_target.move_point(job, ("M+030",), last, 8000.0, 3.0)
    fitted = live.refit(ready, moved, tuned, "M+030")
    before = live.predict(ready, job, tuned, "M+030", "R1-2").mean_db
    after = live.predict(ready, moved, fitted, "M+030", "R1-2").mean_db
    at = int(np.argmin(np.abs(ready.grid_hz - 7000)))
    asked = target_db(moved.target_of("M+030"), 7000.0) - target_db(job.target, 7000.0)
    assert after[at] - before[at] == pytest.approx(asked, abs=1.5)


def test_levels_by_hand_are_heard_before_the_solver_is_done(job, survey, tuned, ready):
    """The same as the design gives, for what it only adds on top."""
    hands = (
        ByHand(drives="M000", trim_change_db=-2.0, delay_change_s=-0.001),
        ByHand(drives="SW2", flipped=True),
    )
    changed = job.model_copy(update={"by_hand": hands})
    quick = live.retouched(ready, job, changed, tuned)
    whole = design(changed, survey)[0]
    for one, other in zip(quick.outputs, whole.outputs, strict=True):
        assert one.trim_db == pytest.approx(other.trim_db)
        assert one.delay_s == pytest.approx(other.delay_s, abs=1 / 48000)
        assert one.inverted == other.inverted
    assert live.predict(ready, changed, quick, "M000", "R1-2") is not None


def test_a_crossover_is_heard_before_the_solver_is_done(job, ready, tuned):
    moved = job.model_copy(update={"limits": TuningLimits(crossover_hz=110, crossover_order=8)})
    quick = live.retouched(ready, job, moved, tuned)
    assert quick.bass_low_pass.frequency_hz == 110
    assert {c.frequency_hz for o in quick.outputs for c in o.crossovers} == {110}
    assert {c.order for o in quick.outputs for c in o.crossovers} == {8}


def test_an_unmeasured_channel_shows_nothing(job, survey, tuned):
    more = job.model_copy(
        update={"channels": (*job.channels, Channel(id="U+045", role="height", loudspeakers=()))}
    )
    ready = live.prepare(more, survey)
    assert live.predict(ready, more, tuned, "U+045", "R1-2") is None
    assert live.measured(ready, more, "U+045") is None
    assert live.limits_band(ready, more, "U+045") is None


def test_limits_are_drawn_where_the_channel_is_corrected(job, ready):
    f, low, high = live.limits_band(ready, job, "M+030")
    assert f[0] >= job.limits.crossover_hz
    assert f[-1] <= job.limits.highest_hz
    assert set(low) == {-job.limits.maximum_cut_db}
    assert set(high) == {job.limits.maximum_boost_db}


def test_a_change_of_target_needs_no_new_preparation(job):
    changed = edit_target.add_point(job, (), 3000.0, 1.0)
    changed = edit_tuning.set_limits(changed, maximum_boost_db=2.0)
    assert live.prepared_from(changed) == live.prepared_from(job)
    moved = edit_tuning.set_limits(job, crossover_hz=100.0)
    assert live.prepared_from(moved) != live.prepared_from(job)
