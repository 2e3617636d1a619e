"""What made a tuning out of date, found among the kept revisions."""

from __future__ import annotations

import pytest

from roomwright.commissioning.edits import crossover as edit_crossover
from roomwright.commissioning.edits import target as edit_target
from roomwright.commissioning.edits import tuning as edit_tuning
from roomwright.commissioning.tuning.changes import changes_between, says_changed, tuned_job
from roomwright.model import Tuning
from roomwright.store import create_job
from roomwright.tuning import tuning_basis


def tuned(job):
    return job.model_copy(update={"tuning": Tuning(outputs=(), based_on=tuning_basis(job))})


CHANGES = {
    "the target": lambda job: edit_target.add_point(job, (), 3000.0, 1.0),
    "targets of single channels": lambda job: edit_target.add_point(job, ("M+000",), 3000.0, 1.0),
    "the crossover": lambda job: edit_crossover.set_crossover(job, (), frequency_hz=100.0),
    "crossovers of single channels": lambda job: edit_crossover.set_crossover(
        job, ("M+000",), full_range=True
    ),
    "the solver's limits": lambda job: edit_tuning.set_limits(job, maximum_boost_db=1.0),
    "what is set by hand": lambda job: edit_tuning.flip(job, ("M+000",)),
    "the stations": lambda job: job.model_copy(update={"stations": job.stations[:-1]}),
    "the processor": lambda job: edit_crossover.set_one_bass_low_pass(job, only_one=True),
    "the loudspeakers": lambda job: job.model_copy(
        update={
            "loudspeakers": (
                job.loudspeakers[0].model_copy(update={"aim_m": (1.0, 1.0, 1.0)}),
                *job.loudspeakers[1:],
            )
        }
    ),
}


@pytest.mark.parametrize("name", CHANGES)
def test_each_change_is_named_and_is_one_that_counts(quick_job, name):
    changed = CHANGES[name](quick_job)
    assert changes_between(quick_job, changed) == (name,)
    assert tuning_basis(changed) != tuning_basis(quick_job)


def test_what_does_not_count_is_not_named(quick_job):
    renamed = quick_job.model_copy(update={"name": "Other"})
    assert changes_between(quick_job, renamed) == ()
    assert tuning_basis(renamed) == tuning_basis(quick_job)


def test_the_job_that_was_tuned_is_found_again(tmp_path, quick_job):
    with create_job(tmp_path / "job", quick_job) as folder:
        assert tuned_job(folder) is None
        fresh = tuned(folder.job)
        folder.save(fresh)
        assert tuned_job(folder) == fresh
        folder.save(CHANGES["the target"](folder.job))
        folder.save(CHANGES["the stations"](folder.job))
        assert tuned_job(folder) == fresh
        says = says_changed(tuned_job(folder), folder.job)
        assert says == "the stations and the target changed since"


def test_a_tuning_of_unknown_origin_is_said_in_general(tmp_path, quick_job):
    lost = quick_job.model_copy(update={"tuning": Tuning(outputs=(), based_on="elsewhere")})
    with create_job(tmp_path / "job", lost) as folder:
        assert tuned_job(folder) is None
        assert says_changed(None, folder.job).startswith("measurements, channels, targets")
