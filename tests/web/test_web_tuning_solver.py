"""When the solver starts by itself, and when it waits until somebody edits or asks."""

from __future__ import annotations

import pytest

from roomwright._errors import InputError
from roomwright.commissioning.edits import target as edit_target
from roomwright.commissioning.tuning import modes
from roomwright.model import Take, Tuning
from roomwright.store import create_job
from roomwright.tuning import tuning_basis
from roomwright.web.session import JobSession
from roomwright.web.stages import tuning_solver


@pytest.fixture
def surveyed(small_job):
    """A job with a take, which is never read here."""
    take = Take(
        stage="survey",
        source=small_job.units[0].id,
        station=small_job.stations[0].id,
        kind="response",
        file="takes/x.wav",
        sha256="0" * 64,
        origin="rehearsal",
    )
    return small_job.model_copy(update={"takes": (take,)})


@pytest.fixture
async def open_session(tmp_path, monkeypatch):
    """Opens a job; the solver is put in place by one that answers at once."""

    def computed(_session, job, _progress):
        return Tuning(outputs=(), based_on=tuning_basis(job))

    monkeypatch.setattr(tuning_solver, "_computed", computed)
    opened = []

    def open_it(job):
        with create_job(tmp_path / "job", job):
            pass
        opened.append(JobSession(tmp_path / "job"))
        return opened[-1]

    yield open_it
    for session in opened:
        await session.close()


def targeted(job):
    return edit_target.add_point(job, (), 3000.0, 1.0)


def stale(job):
    """A job whose target changed after its tuning was computed."""
    return targeted(job.model_copy(update={"tuning": Tuning(outputs=(), based_on="before")}))


async def test_the_first_tuning_is_computed_at_once(open_session, surveyed):
    session = open_session(surveyed)
    assert tuning_solver.wanted(session)
    await tuning_solver.follow(session)
    assert session.job.tuning.based_on == tuning_basis(session.job)
    assert not tuning_solver.wanted(session)


async def test_looking_changes_nothing(open_session, surveyed):
    session = open_session(stale(surveyed))
    before = session.job
    assert tuning_solver.waits(session)
    assert not tuning_solver.wanted(session)
    await tuning_solver.follow(session)
    assert session.job == before


async def test_one_press_is_a_step_of_its_own(open_session, surveyed):
    session = open_session(surveyed.model_copy(update={"tuning": stale(surveyed).tuning}))
    session.apply(targeted, "target")
    before = session.job
    tuning_solver.ask(session)
    assert tuning_solver.wanted(session)
    assert not tuning_solver.waits(session)
    await tuning_solver.follow(session)
    assert session.job.tuning.based_on == tuning_basis(session.job)
    assert session.undoes == "bringing the tuning up to date"
    session.undo()
    assert session.job == before
    assert tuning_solver.waits(session)


async def test_an_edit_is_followed_and_undone_with_its_tuning(open_session, surveyed):
    session = open_session(stale(surveyed))
    before = session.job
    with tuning_solver.followed(session):
        session.apply(lambda job: edit_target.add_point(job, (), 5000.0, 1.0), "target")
    await tuning_solver.follow(session)
    assert session.job.tuning.based_on == tuning_basis(session.job)
    session.undo()
    assert session.job == before
    # Once it is up to date it waits again for what others change.
    session.apply(lambda job: edit_target.add_point(job, (), 6000.0, 1.0), "elsewhere")
    assert tuning_solver.waits(session)


async def test_a_refused_edit_starts_nothing(open_session, surveyed):
    session = open_session(stale(surveyed))
    with pytest.raises(InputError), tuning_solver.followed(session):
        session.apply(lambda job: edit_target.add_point(job, (), 3000.0, 1.0), "target")
    assert not tuning_solver.wanted(session)


async def test_an_edit_that_needs_no_solver_leaves_nothing_behind(open_session, surveyed):
    session = open_session(surveyed)
    await tuning_solver.follow(session)
    with tuning_solver.followed(session):
        session.apply(lambda job: modes.add_mode(job, "Late"), "mode")
    session.apply(targeted, "elsewhere")
    assert tuning_solver.waits(session)
