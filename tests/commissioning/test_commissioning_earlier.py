"""The tunings a job had before, found among the kept revisions."""

from __future__ import annotations

import os
from datetime import datetime

import pytest

from roomwright.commissioning.desk.earlier import MOST, earlier_tunings
from roomwright.commissioning.edits import crossover as edit_crossover
from roomwright.commissioning.edits import target as edit_target
from roomwright.model import Tuning, digest
from roomwright.store import create_job
from roomwright.tuning import tuning_basis


def tuned(job, gain_db=10.0):
    tuning = Tuning(outputs=(), lfe_gain_db=gain_db, based_on=tuning_basis(job))
    return job.model_copy(update={"tuning": tuning})


@pytest.fixture
def folder(tmp_path, quick_job):
    """Tuned; then the target changed and tuned; then a crossover changed and tuned."""
    with create_job(tmp_path / "job", quick_job) as opened:
        opened.save(tuned(opened.job))
        for change in (
            lambda job: edit_target.add_point(job, (), 3000.0, 1.0),
            lambda job: edit_crossover.set_crossover(job, ("M+000",), frequency_hz=100.0),
        ):
            opened.save(change(opened.job))
            opened.save(opened.job.model_copy(update={"name": f"{opened.job.name}."}))
            opened.save(tuned(opened.job))
        for minute, kept in enumerate(sorted((opened.path / "revisions").glob("*.json"))):
            at = datetime(2026, 11, 24, 14, minute).astimezone().timestamp()
            os.utime(kept, (at, at))
        yield opened


def test_each_is_told_of_once_with_when_and_what_changed(folder):
    """Revisions that a change was waiting in for its tuning have the tuning from before it."""
    assert [one.says for one in earlier_tunings(folder)] == [
        "24 Nov 14:06, before crossovers of single channels changed",
        "24 Nov 14:03, before the target changed",
    ]


def test_they_are_the_tunings_that_were(folder):
    present = digest(folder.job.tuning)
    earlier = earlier_tunings(folder)
    assert len({present, *(one.id for one in earlier)}) == 3
    for one in earlier:
        assert digest(one.tuning) == one.id
    while folder.can_undo:
        folder.undo()
        if folder.job.tuning is not None:
            assert digest(folder.job.tuning) in {present, *(one.id for one in earlier)}


def test_the_same_job_tuned_otherwise_is_said_to_be_computed_anew(folder):
    folder.save(tuned(folder.job, gain_db=9.0))
    assert earlier_tunings(folder)[0].says.endswith("before it was computed anew")


def test_no_tuning_before_the_first(tmp_path, quick_job):
    with create_job(tmp_path / "job", quick_job) as folder:
        assert earlier_tunings(folder) == ()
        folder.save(tuned(folder.job))
        assert earlier_tunings(folder) == ()


def test_a_dozen_at_most_the_newest(tmp_path, quick_job):
    with create_job(tmp_path / "job", quick_job) as folder:
        for number in range(20):
            folder.save(tuned(folder.job, gain_db=float(number)))
        gains = [one.tuning.lfe_gain_db for one in earlier_tunings(folder)]
    assert gains == [float(18 - number) for number in range(MOST)]


def test_without_a_present_tuning_the_earlier_ones_are_still_there(folder):
    gone = folder.job.model_copy(update={"tuning": None})
    last = digest(folder.job.tuning)
    folder.save(gone)
    first, *others = earlier_tunings(folder)
    assert first.id == last
    assert len(others) == 2
