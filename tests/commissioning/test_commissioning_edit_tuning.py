"""Changes of targets, filters, levels and limits."""

from __future__ import annotations

import pytest
from synthetic_cinema import band_passed, make_job, response_set, synthetic_survey

from roomwright._errors import InputError
from roomwright.commissioning.edits import target as edit_target
from roomwright.commissioning.edits import tuning as edit
from roomwright.commissioning.tuning import handles as tuning_handles
from roomwright.commissioning.tuning import live
from roomwright.commissioning.tuning import scope as tuning_scope
from roomwright.commissioning.tuning.tune import can_be_tuned, solved
from roomwright.model import Biquad, Job, Take, Target, problems
from roomwright.tuning import design

PEAK = Biquad(kind="peaking", frequency_hz=1000.0, gain_db=-3.0, q=1.0)


@pytest.fixture(scope="module")
def job() -> Job:
    return make_job()


@pytest.fixture(scope="module")
def survey(job):
    return synthetic_survey(job)


@pytest.fixture(scope="module")
def tuned(job, survey) -> Job:
    return job.model_copy(update={"tuning": design(job, survey)[0]})


def frequencies(target: Target) -> list[float]:
    return [point.frequency_hz for point in target.points]


# Whom an edit is for


def test_an_edit_of_all_channels_is_one_of_the_jobs_target(job):
    names = tuple(channel.id for channel in job.channels)
    for channels in ((), names):
        moved = edit_target.move_point(job, channels, 0, 25.0, 3.0)
        assert not moved.own_targets
        assert moved.target.points[0].frequency_hz == 25.0


def test_an_edit_of_a_group_gives_it_a_target_of_its_own(job):
    assert tuning_scope.group_of(job, "M000") == tuple(
        c.id for c in job.channels if c.role == "front"
    )
    group = ("M+110", "M-110")
    moved = edit_target.move_point(job, group, 0, 25.0, 3.0)
    assert moved.target == job.target
    assert moved.target_of("M-110").points[0].level_db == 3.0
    assert moved.target_of("M000") == job.target
    assert not problems(moved)


def test_a_channel_leaves_the_target_of_its_group_for_its_own(job):
    group = ("M+110", "M-110")
    moved = edit_target.move_point(job, group, 0, 25.0, 3.0)
    single = edit_target.move_point(moved, ("M+110",), 0, 30.0, 1.0)
    assert single.target_of("M+110").points[0].frequency_hz == 30.0
    assert single.target_of("M-110").points[0].frequency_hz == 25.0
    back = edit_target.follow_job_target(single, group)
    assert back.own_targets == ()
    assert not problems(single)


def test_the_lfe_stands_for_the_subwoofers(job):
    assert tuning_scope.units_of(job, ("LFE1",)) == ("SW1", "SW2")
    assert set(tuning_scope.units_of(job, ())) == {unit.id for unit in job.units}
    rolled = edit_target.set_roll_off(job, ("LFE1",), "low", 25.0, 4)
    assert rolled.bass_target.roll_offs[0].frequency_hz == 25.0
    assert job.bass_target == job.target


# Points, roll-offs, ranges


def test_a_point_stays_between_its_neighbours(job):
    before = frequencies(job.target)
    moved = frequencies(edit_target.move_point(job, (), 2, 5000.0, 0.0).target)
    assert before[1] < moved[2] < before[3]
    assert moved == sorted(moved)
    moved = frequencies(edit_target.move_point(job, (), 2, 1.0, 99.0).target)
    assert moved == sorted(moved)


def test_points_come_and_go(job):
    more = edit_target.add_point(job, (), 3000.0, 1.0)
    assert 3000.0 in frequencies(more.target)
    at = frequencies(more.target).index(3000.0)
    assert edit_target.remove_point(more, (), at) == job
    with pytest.raises(InputError, match="has a point at 3000 Hz already"):
        edit_target.add_point(more, (), 3010.0, 1.0)
    with pytest.raises(InputError, match="allowed are 10 to 24000 Hz"):
        edit_target.add_point(job, (), 5.0, 1.0)
    with pytest.raises(InputError, match="there are 6"):
        edit_target.remove_point(job, (), 6)
    one = edit_target.with_target(job, (), Target(points=job.target.points[:1]))
    with pytest.raises(InputError, match="one point at least"):
        edit_target.remove_point(one, (), 0)


def test_ranges_that_touch_become_one_and_dragged_ones_stay_apart(job):
    two = edit_target.add_follow(edit_target.add_follow(job, (), 4000.0, 8000.0), (), 300.0, 600.0)
    assert [(r.low_hz, r.high_hz) for r in two.target.follows] == [(300, 600), (4000, 8000)]
    dragged = edit_target.move_follow(two, (), 0, 300.0, 9000.0)
    assert dragged.target.follows[0].high_hz == 4000.0
    crossed = edit_target.move_follow(two, (), 1, 9000.0, 8000.0)
    assert crossed.target.follows[1].low_hz < crossed.target.follows[1].high_hz
    assert not problems(crossed)
    joined = edit_target.add_follow(two, (), 500.0, 5000.0)
    assert [(r.low_hz, r.high_hz) for r in joined.target.follows] == [(300, 8000)]
    assert edit_target.remove_follow(joined, (), 0).target == job.target
    with pytest.raises(InputError, match="must end above where it begins"):
        edit_target.add_follow(job, (), 500.0, 500.0)


def test_a_roll_off_is_taken_from_the_measurement(job):
    """Loudspeakers without a room: second order, 3 dB down at 55 Hz. Smoothing over 1/12 octave
    and the grid of 24 points an octave leave a few percent."""
    own = band_passed(0.005, 55.0, 20000.0)
    samples = {(unit.id, s.id): own for unit in job.units for s in job.stations}
    ready = live.prepare(job, response_set(samples))
    taken = edit_target.take_roll_off(job, ready, ("M+030", "M000"), "low")
    assert len(taken.own_targets) == 2
    flat = edit_target.with_target(job, (), Target(points=job.target.points[4:5]))
    plain = edit_target.take_roll_off(flat, ready, ("M+030",), "low")
    roll = plain.target_of("M+030").roll_offs[0]
    assert roll.frequency_hz == pytest.approx(55, rel=0.05)
    assert roll.order == 2
    assert edit_target.remove_roll_off(plain, ("M+030",), "low").target_of("M+030") == flat.target
    with pytest.raises(InputError, match="M000: the measured response does not roll off up"):
        edit_target.take_roll_off(job, ready, ("M000",), "high")


# Handles


def test_every_handle_dragged_to_where_it_stands_changes_nothing(job):
    full = edit_target.set_roll_off(job, (), "low", 40.0, 4)
    full = edit_target.add_follow(full, (), 3000.0, 9000.0)
    handles = [
        *tuning_handles.target_handles(full, (), -20.0),
        *tuning_handles.level_handles(full, (), "M+030"),
    ]
    assert {handle.id.split(":")[0] for handle in handles} == {
        "point",
        "roll",
        "follow",
        "trim",
        "crossover",
    }
    for handle in handles:
        dragged = tuning_handles.with_handle_at(
            full, (), handle.id, handle.frequency_hz, handle.level_db
        )
        assert dragged == full, handle.id


def test_handles_go_where_they_are_dragged(job):
    full = edit_target.add_follow(
        edit_target.set_roll_off(job, (), "low", 40.0, 4), (), 3000.0, 9000.0
    )

    def drag(handle, frequency_hz, level_db=0.0):
        return tuning_handles.with_handle_at(full, (), handle, frequency_hz, level_db)

    assert drag("roll:low", 55.0).target.roll_offs[0].frequency_hz == 55.0
    assert drag("follow:0:high", 7000.0).target.follows[0].high_hz == 7000.0
    assert drag("crossover", 400.0).limits.crossover_hz == 300.0
    assert drag("trim", 1000.0, -2.0).hand("M000").trim_change_db == -2.0
    for gone in ("point:9", "roll:high", "follow:3:low"):
        with pytest.raises(InputError):
            drag(gone, 1000.0)


def test_removing_a_handle_removes_what_it_stands_for(job):
    full = edit_target.add_follow(
        edit_target.set_roll_off(job, (), "low", 40.0, 4), (), 3000.0, 9000.0
    )
    assert not tuning_handles.without_handle(full, (), "roll:low").target.roll_offs
    assert not tuning_handles.without_handle(full, (), "follow:0:low").target.follows
    assert len(tuning_handles.without_handle(full, (), "point:1").target.points) == 5
    with pytest.raises(InputError, match="not taken away"):
        tuning_handles.without_handle(full, (), "crossover")


# Filters


def test_a_filter_of_the_solver_is_taken_over_by_dragging_it(tuned, survey):
    points = tuning_handles.filter_points(tuned, tuned.tuning, "M+030")
    assert points
    assert not any(point.by_hand for point in points)
    moved = points[0].biquad.model_copy(update={"gain_db": -1.0})
    held = tuning_handles.with_filter_at(tuned, ("M+030",), "M+030", points[0].id, moved)
    assert held.hand("M+030").biquads == (moved,)
    again = held.model_copy(update={"tuning": design(held, survey)[0]})
    points = tuning_handles.filter_points(again, again.tuning, "M+030")
    assert points[0].by_hand
    assert points[0].biquad == moved
    assert not points[-1].by_hand
    back = tuning_handles.without_filter(again, ("M+030",), "M+030", points[0].id)
    assert back.by_hand == ()
    with pytest.raises(InputError, match="the solver places this filter"):
        tuning_handles.without_filter(again, ("M+030",), "M+030", points[-1].id)


def test_a_filter_shared_by_a_group_moves_in_those_that_have_the_same(job):
    group = ("M+110", "M-110")
    shared = edit.add_filter(job, tuning_scope.units_of(job, group), PEAK)
    other = edit.add_filter(job, ("M-110",), PEAK.model_copy(update={"q": 3.0}))
    lower = PEAK.model_copy(update={"gain_db": -5.0})
    moved = tuning_handles.with_filter_at(shared, group, "M+110", "hand:0", lower)
    assert {moved.hand(unit).biquads for unit in group} == {(lower,)}
    mixed = edit.add_filter(other, ("M+110",), PEAK)
    moved = tuning_handles.with_filter_at(mixed, group, "M+110", "hand:0", lower)
    assert moved.hand("M-110") == mixed.hand("M-110")


def test_filters_keep_to_what_is_allowed(job):
    with pytest.raises(InputError, match="allowed are -24 to 12 dB"):
        edit.add_filter(job, ("M+030",), PEAK.model_copy(update={"gain_db": 15.0}))
    with pytest.raises(InputError, match=r"allowed are 10 to 21600 Hz"):
        edit.add_filter(job, ("M+030",), PEAK.model_copy(update={"frequency_hz": 23000.0}))
    full = job
    for number in range(8):
        more = PEAK.model_copy(update={"frequency_hz": 500.0 + number})
        full = edit.add_filter(full, ("M+030",), more)
    with pytest.raises(InputError, match="allow 8 in all"):
        edit.add_filter(full, ("M+030",), PEAK)
    assert edit.leave_filters_to_solver(full, ("M+030",)) == job


def test_filters_held_as_they_are_come_out_of_the_solver_unchanged(tuned, survey):
    held = edit.hold_filters(tuned, tuning_scope.units_of(tuned, ()))
    again = design(held, survey)[0]
    for before, after in zip(tuned.tuning.outputs, again.outputs, strict=True):
        assert after.biquads == before.biquads
    assert edit.leave_to_solver(held, tuning_scope.units_of(held, ())) == tuned


# Levels and limits


def test_a_typed_trim_and_delay_come_out_of_the_solver(tuned, survey):
    typed = edit.set_trim(tuned, "M000", tuned.tuning.outputs[2].trim_db - 1.3)
    later = tuned.tuning.outputs[2].delay_s + 0.003
    typed = edit.set_delay(typed, "M000", later)
    output = design(typed, survey)[0].outputs[2]
    assert output.drives == "M000"
    assert output.trim_db == pytest.approx(tuned.tuning.outputs[2].trim_db - 1.3)
    assert output.delay_s == pytest.approx(later, abs=1.1 / 48000)
    # Typing what is shown already changes nothing more.
    same = typed.model_copy(update={"tuning": design(typed, survey)[0]})
    assert edit.set_trim(same, "M000", output.trim_db) == same


def test_levels_refuse_what_cannot_be(tuned, job):
    with pytest.raises(InputError, match="the processor can do 0 to 100 ms"):
        edit.set_delay(tuned, "M000", 0.4)
    with pytest.raises(InputError, match="allowed are -40 to 40 dB"):
        edit.change_trim(job, ("M000",), 50.0)
    with pytest.raises(InputError, match="no tuning yet"):
        edit.set_trim(job, "M000", 0.0)
    flipped = edit.flip(job, ("SW1",))
    assert flipped.hand("SW1").flipped
    assert edit.flip(flipped, ("SW1",)) == job


def test_limits_are_checked(job):
    assert edit.set_limits(job, maximum_boost_db=2.0).limits.maximum_boost_db == 2.0
    with pytest.raises(InputError, match="maximum boost db: must be greater than"):
        edit.set_limits(job, maximum_boost_db=-1.0)
    with pytest.raises(InputError, match="the crossover of 5 Hz; allowed are 20 to 300 Hz"):
        edit.set_limits(job, crossover_hz=5.0)


# What is computed


def test_a_tuning_is_wanted_while_a_survey_is_ahead_of_it(job, survey):
    take = Take(
        stage="survey",
        source="M000",
        station="S-R1-2",
        kind="response",
        file="takes/1.wav",
        sha256="0" * 64,
    )
    assert not can_be_tuned(job)
    surveyed = job.model_copy(update={"takes": (take,)})
    assert can_be_tuned(surveyed)
    tuned = edit.with_tuning(surveyed, solved(surveyed, survey))
    assert not can_be_tuned(tuned)
    assert tuned.tuning.findings
    moved = edit_target.move_point(tuned, ("M000",), 0, 25.0, 3.0)
    assert can_be_tuned(moved)
    with pytest.raises(InputError, match="changed while its tuning was computed"):
        edit.with_tuning(moved, tuned.tuning)
