"""Crossovers edited, written in a command, dragged, and heard while they move."""

from __future__ import annotations

import pytest
from synthetic_cinema import make_job, synthetic_survey

from roomwright._errors import InputError
from roomwright.commissioning import with_crossovers
from roomwright.commissioning.edits import crossover as edit_crossover
from roomwright.commissioning.edits.crossover import set_crossover
from roomwright.commissioning.edits.layout import without_unit
from roomwright.commissioning.tuning import handles as tuning_handles
from roomwright.commissioning.tuning import live
from roomwright.model import OwnCrossover, problems
from roomwright.tuning import design

MAINS = ("M+030", "M-030", "M000", "M+110", "M-110")


@pytest.fixture(scope="module")
def job():
    return make_job()


def asked(job):
    """Frequency and order of every main channel's crossover, None for full range."""
    return {
        name: crossover and (crossover.frequency_hz, crossover.order)
        for name in MAINS
        for crossover in [job.crossover_of(name)]
    }


def test_one_channel_a_group_or_all(job):
    one = set_crossover(job, ("M000",), frequency_hz=100.0)
    assert asked(one) == {**dict.fromkeys(MAINS, (80.0, 4)), "M000": (100.0, 4)}
    some = set_crossover(one, ("M000", "M+110"), order=8)
    assert asked(some) == {**asked(one), "M000": (100.0, 8), "M+110": (100.0, 8)}
    every = set_crossover(some, (), frequency_hz=60.0)
    assert every.limits.crossover_hz == 60.0
    assert asked(every)["M-110"] == (60.0, 4)
    assert asked(every)["M000"] == (100.0, 8)
    assert edit_crossover.channels_with_own(every, ()) == ("M000", "M+110")
    assert edit_crossover.channels_with_own(every, ("M-030", "M000")) == ("M000",)
    assert set_crossover(job, MAINS, frequency_hz=60.0) == set_crossover(job, (), frequency_hz=60.0)
    back = edit_crossover.follow_job_crossover(every, ("M000",))
    assert asked(back)["M000"] == (60.0, 4)
    assert edit_crossover.follow_job_crossover(every, ()).own_crossovers == ()


def test_full_range_and_back(job):
    kept = set_crossover(job, ("M000",), full_range=True)
    assert asked(kept)["M000"] is None
    assert asked(set_crossover(kept, ("M000",), frequency_hz=70.0))["M000"] == (70.0, 4)
    every = set_crossover(job, (), full_range=True)
    assert set(asked(every).values()) == {None}
    assert set_crossover(every, (), order=4) == job


@pytest.mark.parametrize(
    ("channels", "change", "says"),
    [
        (("M000",), {"frequency_hz": 5.0}, "the crossover of 5 Hz; allowed are 20 to 300 Hz"),
        (("M000",), {"order": 3}, "the order of a crossover is 3; allowed are 2, 4, 8"),
        (("LFE1",), {"frequency_hz": 80.0}, "the LFE goes to the subwoofers whole"),
    ],
)
def test_wrong_input_is_answered_with_what_is_allowed(job, channels, change, says):
    with pytest.raises(InputError, match=says):
        set_crossover(job, channels, **change)


def test_written_in_a_command(job):
    written = with_crossovers(job, ("70", "M000=100", "front=90", "M+110=full"))
    assert asked(written) == {**dict.fromkeys(MAINS, (90.0, 4)), "M000": (100.0, 4), "M+110": None}
    assert asked(with_crossovers(job, ("full",))) == dict.fromkeys(MAINS)
    assert asked(with_crossovers(with_crossovers(job, ("full",)), ("75",)))["M000"] == (75.0, 4)
    for text, says in (
        ("M000=loud", "allowed are a frequency in hertz"),
        ("M999=80", "there is no channel or role M999; there are front, lfe, M"),
        ("M000=5", "allowed are 20 to 300 Hz"),
        ("5", "allowed is 20 to 300"),
    ):
        with pytest.raises(InputError, match=says):
            with_crossovers(job, (text,))


def test_a_channel_that_leaves_takes_its_crossover_along(job):
    own = set_crossover(job, ("M000", "M+110"), frequency_hz=100.0)
    gone = without_unit(own, "M000")
    assert gone.own_crossovers == (OwnCrossover(channels=("M+110",), frequency_hz=100.0),)
    stray = job.model_copy(
        update={
            "own_crossovers": (
                OwnCrossover(channels=("M000", "LFE1")),
                OwnCrossover(channels=("M000",)),
            )
        }
    )
    found = " | ".join(problems(stray))
    assert "a crossover of its own is given to LFE1, which is not a main channel" in found
    assert "channel M000 has 2 crossovers of its own; one is allowed" in found


def test_its_handle_stands_at_the_channels_own_and_moves_that(job):
    own = set_crossover(job, ("M000",), frequency_hz=100.0)

    def handle(of, channels, channel):
        every = tuning_handles.level_handles(of, channels, channel)
        return next((h for h in every if h.id == "crossover"), None)

    assert handle(own, ("M000",), "M000").frequency_hz == 100.0
    assert handle(own, ("M-030",), "M-030").frequency_hz == 80.0
    assert handle(own, ("LFE1",), "LFE1") is None
    assert handle(own, (), "LFE1").frequency_hz == 80.0
    assert handle(set_crossover(job, ("M000",), full_range=True), ("M000",), "M000") is None
    dragged = tuning_handles.with_handle_at(own, ("M-030",), "crossover", 400.0, 0.0)
    assert asked(dragged)["M-030"] == (300.0, 4)
    assert asked(dragged)["M000"] == (100.0, 4)


def test_own_crossovers_are_heard_before_the_solver_is_done(job):
    """Filters stay until then; the crossovers are those of the solver at once."""
    survey = synthetic_survey(job)
    tuned, _ = design(job, survey)
    ready = live.prepare(job, survey)
    changed = set_crossover(job, ("M000",), frequency_hz=120.0)
    changed = set_crossover(changed, ("M-110",), full_range=True)
    quick = live.retouched(ready, job, changed, tuned)
    whole, _ = design(changed, survey)
    assert [o.crossovers for o in quick.outputs] == [o.crossovers for o in whole.outputs]
    assert quick.own_low_passes == whole.own_low_passes
    assert live.crossover_hz(ready, changed, "M000") == 120.0
    assert live.crossover_hz(ready, changed, "M-110") is None
    assert live.prepared_from(changed) != live.prepared_from(job)
    f, *_ = live.limits_band(live.prepare(changed, survey), changed, "M-110")
    assert f[0] < 80.0
