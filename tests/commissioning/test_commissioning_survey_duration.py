"""How long the survey of a job takes, and what is left of it."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright.commissioning.survey.duration import BETWEEN_S, MOVE_S, survey_duration
from roomwright.commissioning.survey.passes import planned_takes, window_s
from roomwright.model import Sweep, Take


def with_interface(job, **changes):
    return job.model_copy(update={"interface": job.interface.model_copy(update=changes)})


@pytest.fixture
def timed_job(quick_job):
    """With a loop-back and a sweep that is long enough to overlap."""
    job = quick_job.model_copy(update={"sweep": Sweep(duration_s=5.0)})
    return with_interface(job, loop_back_output=10, loop_back_input=2)


def made_at_first_station(job):
    made = tuple(
        Take(
            stage="survey",
            source=output.drives,
            station=job.stations[0].id,
            kind="take",
            file="takes/a.wav",
            sha256="0" * 64,
            sweep=job.sweep,
        )
        for output in job.outputs
    )
    return job.model_copy(update={"takes": made})


def test_one_after_another_is_counted_by_hand(timed_job):
    # 0.1 + 0.1 + 0.3 s before the sweep and 1 + 0.1 + 0.3 s after it; the sweep passes an octave
    # in 5 s / log2(22000 / 10), and each output plays those of its declared band.
    lows_hz = [timed_job.model_of(timed_job.unit(o.drives)).low_hz for o in timed_job.outputs]
    highs_hz = [timed_job.model_of(timed_job.unit(o.drives)).high_hz for o in timed_job.outputs]
    octaves = np.log2(np.array(highs_hz) / np.array(lows_hz))
    each_s = 1.9 + 5.0 / np.log2(22000.0 / 10.0) * octaves
    # The noise, 4 s, is recorded once.
    wanted = 3 * (MOVE_S + each_s.sum() + each_s.size * BETWEEN_S) + 4.0 + BETWEEN_S
    found = survey_duration(timed_job)
    assert found.whole.one_after_another_s == pytest.approx(wanted, abs=0.01)
    assert found.whole.moving_s == 3 * MOVE_S
    assert found.left == found.whole


def test_overlapped_lasts_as_long_as_what_is_played(timed_job):
    sources = [output.drives for output in timed_job.outputs]
    windows = {source: window_s(timed_job, source) for source in sources}
    planned = planned_takes(timed_job, dict.fromkeys(sources, -12.0), "loop-back", windows)
    played_s = [
        max(signal.size for signal in take.signals(timed_job).values()) / timed_job.sampling_rate_hz
        for take in planned
    ]
    assert len(played_s) < len(sources)
    wanted = 3 * (MOVE_S + sum(played_s) + len(played_s) * BETWEEN_S) + 4.0 + BETWEEN_S
    assert survey_duration(timed_job).whole.overlapped_s == pytest.approx(wanted, abs=0.01)


def test_what_is_left(timed_job):
    whole = survey_duration(timed_job).whole
    part = survey_duration(made_at_first_station(timed_job))
    station_s = (whole.one_after_another_s - 4.0 - BETWEEN_S) / 3
    # The noise is still to come.
    assert part.left.one_after_another_s == pytest.approx(whole.one_after_another_s - station_s)
    assert part.left.moving_s == 2 * MOVE_S
    assert "are left" in part.says


def test_a_barer_room_takes_longer_where_sweeps_overlap(timed_job):
    bare = tuple(
        wall.model_copy(update={"absorption": (0.05,) * 8}) for wall in timed_job.room.walls
    )
    barer = timed_job.model_copy(update={"room": timed_job.room.model_copy(update={"walls": bare})})
    longer, whole = survey_duration(barer).whole, survey_duration(timed_job).whole
    assert longer.overlapped_s > whole.overlapped_s
    assert longer.one_after_another_s == whole.one_after_another_s


def test_without_a_time_reference_it_is_said_what_overlapping_needs(timed_job):
    untimed = with_interface(timed_job, loop_back_output=None, loop_back_input=None)
    assert untimed.interface.timing == "none"
    found = survey_duration(made_at_first_station(untimed))
    assert "they need a loop-back or an acoustic reference" in found.says
    rest_min = round(found.left.one_after_another_s / 60.0)
    assert f"{rest_min} min are left" in found.says


def test_a_short_sweep_cannot_overlap_and_that_is_said(timed_job):
    short = timed_job.model_copy(update={"sweep": Sweep(duration_s=0.2)})
    found = survey_duration(short)
    assert found.whole.overlapped_s == found.whole.one_after_another_s
    assert "sweeps of 0.2 s are too short for this room's decay to overlap" in found.says
