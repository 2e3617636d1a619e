"""How long the survey of a job takes, and what is left of it."""

from __future__ import annotations

import pytest

from roomwright.commissioning.survey.duration import job_window_s, survey_duration
from roomwright.measurement import duration_s
from roomwright.measurement.survey_time import BETWEEN_S, MOVE_S
from roomwright.model import Sweep, Take


def test_the_whole_and_what_is_left(quick_job):
    job = quick_job.model_copy(update={"sweep": Sweep(duration_s=5.0)})
    found = survey_duration(job)
    each = len(job.outputs) * (duration_s(job.sweep) + BETWEEN_S)
    # The noise, 4 s, is recorded once.
    wanted = 3 * (MOVE_S + each) + 4.0 + BETWEEN_S
    assert found.whole.one_after_another_s == pytest.approx(wanted)
    assert found.left == found.whole
    assert found.whole.overlapped_s < found.whole.one_after_another_s
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
    part = survey_duration(job.model_copy(update={"takes": made}))
    assert part.left.one_after_another_s == pytest.approx(wanted - MOVE_S - each)
    assert "are left" in part.says


def test_a_response_lasts_longer_in_a_barer_room(quick_job):
    bare = tuple(
        wall.model_copy(update={"absorption": (0.05,) * 8}) for wall in quick_job.room.walls
    )
    barer = quick_job.model_copy(update={"room": quick_job.room.model_copy(update={"walls": bare})})
    assert job_window_s(barer) > job_window_s(quick_job) > 0.1
    assert (
        survey_duration(barer).whole.one_after_another_s
        == survey_duration(quick_job).whole.one_after_another_s
    )


def test_a_short_sweep_cannot_overlap_and_that_is_said(quick_job):
    short = quick_job.model_copy(update={"sweep": Sweep(duration_s=0.2)})
    found = survey_duration(short)
    assert found.whole.overlapped_s is None
    assert "sweeps cannot overlap: the sweep lasts 0.2 s" in found.says
