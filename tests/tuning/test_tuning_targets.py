"""Roll-offs, ranges that follow the loudspeaker, own targets, and what is set by hand."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.model import (
    Biquad,
    ByHand,
    FollowRange,
    OwnTarget,
    RollOff,
    Target,
    TargetPoint,
)
from roomwright.signals import (
    amplitude_db,
    cascade_sos,
    log_frequencies,
    response,
    roll_off_db,
    target_db,
)
from roomwright.tuning import (
    aimed_db,
    design,
    measured_roll_off,
    predict,
    prepared,
    refitted,
    tuning_basis,
)

RATE = 48000
GRID = log_frequencies(15, 20000, 24)
FLAT = Target(points=(TargetPoint(frequency_hz=1000, level_db=0),))
BAND, LEVEL = (80.0, 12000.0), (500.0, 2000.0)


def of(tuning, name):
    return next(output for output in tuning.outputs if output.drives == name)


def level_db(output, at_hz):
    return amplitude_db(response(cascade_sos(output.biquads, RATE), np.asarray(at_hz), RATE))


@pytest.fixture(scope="module")
def designed(job, survey):
    return design(job, survey)[0]


@pytest.mark.parametrize("order", [1, 2, 4, 8])
def test_a_roll_off_is_3_db_down_at_its_frequency_and_falls_6_db_an_octave_and_order(order):
    low = RollOff(side="low", frequency_hz=40, order=order)
    at = roll_off_db(low, np.array([40.0, 1.25, 0.625, 4000.0]))
    assert at[0] == pytest.approx(-10 * np.log10(2))
    # Five octaves out the asymptote is met within (1/2)^10 of the power.
    assert at[1] - at[2] == pytest.approx(20 * np.log10(2) * order, abs=5e-3)
    assert at[3] == pytest.approx(0, abs=1e-3)
    high = RollOff(side="high", frequency_hz=40, order=order)
    np.testing.assert_allclose(
        roll_off_db(high, 40**2 / GRID), roll_off_db(low, GRID), rtol=1e-9, atol=1e-12
    )


def test_a_target_with_a_roll_off_is_the_sum_of_both():
    roll = RollOff(side="low", frequency_hz=35)
    rolled = Target(roll_offs=(roll,))
    np.testing.assert_allclose(
        target_db(rolled, GRID), target_db(Target(), GRID) + roll_off_db(roll, GRID)
    )


@pytest.mark.parametrize(("side", "at_hz", "order"), [("low", 38.0, 4), ("high", 9000.0, 2)])
def test_a_measured_roll_off_gives_back_the_filter_that_made_it(side, at_hz, order):
    """The grid has 24 points an octave, so the frequency is met within 1.5 percent."""
    made = RollOff(side=side, frequency_hz=at_hz, order=order)
    level = 7.0 + target_db(Target(), GRID) + roll_off_db(made, GRID)
    found = measured_roll_off(GRID, level, side, (200.0, 2000.0), Target())
    assert found.order == order
    assert found.frequency_hz == pytest.approx(at_hz, rel=0.015)


def test_a_response_that_does_not_fall_has_no_roll_off():
    with pytest.raises(InputError, match="does not roll off down to 15 Hz"):
        measured_roll_off(GRID, np.zeros(GRID.size), "low", (200.0, 2000.0), FLAT)


def test_a_followed_range_keeps_the_shape_and_joins_the_target_at_both_ends():
    ripple = 2 * np.sin(3 * np.log(GRID)) * ((GRID > 4000) & (GRID < 8000))
    tilted = 6 + 0.5 * np.log2(GRID / 1000) + ripple
    target = Target(points=FLAT.points, follows=(FollowRange(low_hz=4000, high_hz=8000),))
    aimed = aimed_db(target, GRID, tilted, BAND, LEVEL)
    inside = (GRID >= 4000) & (GRID <= 8000)
    np.testing.assert_array_equal(aimed[~inside], 0)
    # The tilt is taken out by the joining line, the ripple stays; the joints are means over a
    # third of an octave beside the range, whose middles lie 1/6 octave, 0.08 dB, further out.
    np.testing.assert_allclose(aimed[inside], ripple[inside], atol=0.1)


def test_a_followed_range_in_the_level_band_lies_on_the_target_there():
    level = 5 + 3 * np.sin(2 * np.log(GRID))
    target = Target(points=FLAT.points, follows=(FollowRange(low_hz=300, high_hz=20000),))
    aimed = aimed_db(target, GRID, level, BAND, LEVEL)
    within = (GRID >= 500) & (GRID <= 2000)
    assert aimed[within].mean() == pytest.approx(0, abs=1e-9)
    inside = GRID >= 300
    np.testing.assert_allclose(np.diff(aimed[inside]), np.diff(level[inside]), atol=1e-9)


def test_filters_do_not_bend_a_response_that_is_followed(job, survey, designed):
    """Their sum may vary by half a decibel either way of what joins the range to the target."""
    follows = (FollowRange(low_hz=1500, high_hz=12000),)
    tuning, _ = design(job.model_copy(update={"target": Target(follows=follows)}), survey)
    at = log_frequencies(1600, 11500, 12)
    for loudspeaker in job.loudspeakers:
        assert np.ptp(level_db(of(tuning, loudspeaker.id), at)) <= 1.0
    assert of(tuning, "M+030").biquads != of(designed, "M+030").biquads


def test_an_own_target_changes_its_channel_alone_and_by_what_it_says(job, survey, designed):
    bright = Target(
        points=(
            *Target().points[:-1],
            TargetPoint(frequency_hz=4000, level_db=3.0),
            TargetPoint(frequency_hz=20000, level_db=3.0),
        )
    )
    own = job.model_copy(update={"own_targets": (OwnTarget(channels=("M+110",), target=bright),)})
    tuning = design(own, survey)[0]
    assert tuning_basis(own) != tuning_basis(job)
    assert of(tuning, "M-110").biquads == of(designed, "M-110").biquads
    at = np.array([5000.0, 6300.0, 8000.0])
    added = level_db(of(tuning, "M+110"), at) - level_db(of(designed, "M+110"), at)
    at_1k = level_db(of(tuning, "M+110"), [1000.0]) - level_db(of(designed, "M+110"), [1000.0])
    asked = target_db(bright, at) - target_db(Target(), at)
    np.testing.assert_allclose(added - at_1k, asked, atol=1.5)


def test_a_target_lifted_as_a_whole_lifts_its_channel(job, survey, designed):
    """Trims are steps of 0.1 dB, and others may be lowered to keep gains under 0 dB."""
    points = tuple(
        TargetPoint(frequency_hz=p.frequency_hz, level_db=p.level_db + 2) for p in Target().points
    )
    own = job.model_copy(
        update={"own_targets": (OwnTarget(channels=("M+110",), target=Target(points=points)),)}
    )
    tuning = design(own, survey)[0]
    moved = {
        name: of(tuning, name).trim_db - of(designed, name).trim_db for name in ("M+110", "M-110")
    }
    assert moved["M+110"] - moved["M-110"] == pytest.approx(2.0, abs=0.11)


def test_filters_by_hand_stand_first_and_the_solver_counts_them(job, survey, designed):
    held = Biquad(kind="peaking", frequency_hz=3000, gain_db=-6, q=2)
    hand = ByHand(drives="M+030", biquads=(held,))
    tuning = design(job.model_copy(update={"by_hand": (hand,)}), survey)[0]
    output = of(tuning, "M+030")
    assert output.biquads[0] == held
    assert len(output.biquads) <= job.limits.biquads_per_output
    # The solver does not work against it: the sum stays well below what it was there.
    there = level_db(output, [3000.0]) - level_db(of(designed, "M+030"), [3000.0])
    assert there[0] < -3
    assert of(tuning, "M-030").biquads == of(designed, "M-030").biquads


def test_a_filter_by_hand_in_a_followed_range_does_not_stop_the_solver_beside_it(
    job, survey, designed
):
    """Below the range it still does most of what it did without."""
    held = Biquad(kind="peaking", frequency_hz=2400, gain_db=-6, q=0.8)
    changed = job.model_copy(
        update={
            "target": Target(follows=(FollowRange(low_hz=500, high_hz=12000),)),
            "by_hand": tuple(ByHand(drives=s.id, biquads=(held,)) for s in job.loudspeakers),
        }
    )
    tuning, _ = design(changed, survey)
    solved = sum(len(of(tuning, s.id).biquads) - 1 for s in job.loudspeakers)
    before = [b for s in job.loudspeakers for b in of(designed, s.id).biquads]
    assert solved >= sum(b.frequency_hz < 300 for b in before) / 2 > 0


def test_the_solver_adds_nothing_where_it_may_not(job, survey):
    held = Biquad(kind="low_shelf", frequency_hz=200, gain_db=-2)
    hands = (
        ByHand(drives="M+030", biquads=(held,), no_more_biquads=True),
        ByHand(drives="M-030", no_more_biquads=True),
    )
    tuning, findings = design(job.model_copy(update={"by_hand": hands}), survey)
    assert of(tuning, "M+030").biquads == (held,)
    assert of(tuning, "M-030").biquads == ()
    assert any("set by hand" in finding.text for finding in findings)


def test_a_subwoofer_keeps_its_own_filter_and_shares_the_rest(job, survey):
    held = Biquad(kind="peaking", frequency_hz=50, gain_db=-5, q=4)
    one = job.model_copy(update={"by_hand": (ByHand(drives="SW1", biquads=(held,)),)})
    tuning = design(one, survey)[0]
    assert of(tuning, "SW1").biquads[0] == held
    assert of(tuning, "SW1").biquads[1:] == of(tuning, "SW2").biquads


def test_trims_delays_and_polarity_change_by_what_is_set(job, survey, designed):
    hands = (
        ByHand(drives="M000", trim_change_db=-1.5, delay_change_s=0.002),
        ByHand(drives="SW1", flipped=True),
    )
    tuning = design(job.model_copy(update={"by_hand": hands}), survey)[0]
    center, before = of(tuning, "M000"), of(designed, "M000")
    assert center.trim_db - before.trim_db == pytest.approx(-1.5)
    later = {o.drives: o.delay_s - of(designed, o.drives).delay_s for o in tuning.outputs}
    # All may be moved alike, to keep the shortest at 0; a step of the delay is 1/48000 s.
    assert later["M000"] - later["M+030"] == pytest.approx(0.002, abs=1.1 / RATE)
    assert of(tuning, "SW1").inverted != of(designed, "SW1").inverted
    assert of(tuning, "SW2").inverted == of(designed, "SW2").inverted


def test_a_trim_raised_by_hand_lowers_the_others_rather_than_clipping(job, survey, designed):
    raised = job.model_copy(update={"by_hand": (ByHand(drives="M+030", trim_change_db=20.0),)})
    tuning = design(raised, survey)[0]
    moved = {o.drives: o.trim_db - of(designed, o.drives).trim_db for o in tuning.outputs}
    assert moved["M+030"] - moved["M-030"] == pytest.approx(20.0)
    grid = log_frequencies(15, 20000, 48)
    for output in tuning.outputs:
        assert output.trim_db + max(level_db(output, grid).max(), 0) <= 0.01


def test_one_channel_refitted_comes_to_what_the_whole_design_gives(job, survey, designed):
    target = Target(points=(*Target().points[:-1], TargetPoint(frequency_hz=9000, level_db=2)))
    changed = job.model_copy(
        update={"own_targets": (OwnTarget(channels=("M+030",), target=target),)}
    )
    quick = refitted(prepared(job, survey), changed, designed, "M+030")
    whole = design(changed, survey)[0]
    assert of(quick, "M+030").biquads == of(whole, "M+030").biquads
    assert of(quick, "M-030") == of(designed, "M-030")
    # Trims: the quick one reads the average on its own grid, the design each bin at the main seat.
    apart = [of(t, "M+030").trim_db - of(t, "M-030").trim_db for t in (quick, whole)]
    assert apart[0] == pytest.approx(apart[1], abs=0.3)


def test_refitting_the_subwoofers_leaves_their_level_where_it_is(job, survey, designed):
    quick = refitted(prepared(job, survey), job, designed, "LFE1")
    for name in ("SW1", "SW2"):
        assert of(quick, name).biquads == of(designed, name).biquads
        assert of(quick, name).trim_db == pytest.approx(of(designed, name).trim_db, abs=0.11)
    before, after = (predict(job, tuning, survey).samples for tuning in (designed, quick))
    assert np.abs(after - before).max() <= 0.02 * np.abs(before).max()
