"""A job that is open: what is saved, undone, run, and what other programs do to it."""

from __future__ import annotations

import asyncio
import os
import shutil
import threading
import time

import pytest

from roomwright import store
from roomwright._errors import Cancelled, InputError, JobError
from roomwright.commissioning import rehearse
from roomwright.model import Sweep
from roomwright.web.jobs import Jobs
from roomwright.web.session import JobSession


@pytest.fixture
async def session(jobs):
    session = JobSession(jobs / "small")
    yield session
    await session.close()


def renamed(name):
    return lambda job: job.model_copy(update={"name": name})


def written(session):
    """Read what the disk says the job is."""
    document = session.path / "job.json"
    return store.load_job(document.read_text("utf-8"), str(document))


def write_aside(session, job):
    """Write the document as another program would, past the lock; each time another file."""
    aside = session.path / "aside.json"
    aside.write_text(store.dump_job(job), "utf-8")
    aside.replace(session.path / "job.json")


async def test_a_change_is_on_disk_and_told_to_every_window(session):
    told = []
    session.listen(lambda: told.append("first"))
    leave = session.listen(lambda: told.append("second"))
    session.apply(renamed("One"), "rename")
    assert written(session).name == session.job.name == "One"
    assert told == ["first", "second"]
    leave()
    session.apply(renamed("Two"), "rename")
    assert told == ["first", "second", "first"]


async def test_a_refused_change_changes_nothing(session):
    before = session.job
    told = []
    session.listen(lambda: told.append(True))
    with pytest.raises(JobError) as refused:
        session.apply(
            lambda job: job.model_copy(update={"main_seat": "nowhere", "loudspeaker_models": ()}),
            "break",
        )
    assert len(refused.value.problems) > 1
    with pytest.raises(InputError, match="resize: input should be greater than 0"):
        session.apply(
            lambda job: job.model_copy(
                update={"room": job.room.model_validate(job.room.model_dump() | {"height_m": -1})}
            ),
            "resize",
        )
    assert session.job == before == written(session)
    assert session.undoes is None
    assert not told


async def test_undo_and_redo_go_step_by_step(session):
    first = session.job.name
    assert (session.undoes, session.redoes) == (None, None)
    with pytest.raises(JobError, match="nothing to undo"):
        session.undo()
    session.apply(renamed("One"), "call it One")
    session.apply(renamed("Two"), "call it Two")
    assert session.undoes == "call it Two"
    session.undo()
    assert (session.job.name, session.undoes, session.redoes) == (
        "One",
        "call it One",
        "call it Two",
    )
    session.undo()
    assert written(session).name == first
    session.redo()
    session.redo()
    assert (written(session).name, session.undoes) == ("Two", "call it Two")
    with pytest.raises(JobError, match="nothing to redo"):
        session.redo()
    session.undo()
    session.apply(renamed("Three"), "call it Three")
    assert session.redoes is None


async def test_undo_survives_a_restart(session):
    session.apply(renamed("One"), "rename")
    await session.close()
    again = JobSession(session.path)
    assert again.undoes == "the last change"
    again.undo()
    assert again.job.name == "Small room"
    await again.close()


async def test_long_work_is_one_step_and_holds_the_job(session):
    release = threading.Event()
    asked = threading.Event()

    def work(progress):
        progress(0.25, "waiting")
        asked.set()
        release.wait(10)
        session.folder.save(renamed("Half")(session.job))
        session.folder.save(renamed("Whole")(session.job))
        return "result"

    running = asyncio.create_task(session.run("Long work", work))
    await asyncio.to_thread(asked.wait, 10)
    assert (session.work.task.fraction, session.work.task.doing) == (0.25, "waiting")
    with pytest.raises(InputError, match="Long work is running; wait for it or stop it"):
        session.apply(renamed("No"), "rename")
    with pytest.raises(InputError, match="Long work is running"):
        session.undo()
    with pytest.raises(InputError, match="Long work is running"):
        await session.run("Other work", work)
    release.set()
    assert await running == "result"
    assert session.work.task is None
    assert session.undoes == "Long work"
    session.undo()
    assert session.job.name == "Small room"
    session.redo()
    assert session.job.name == "Whole"


async def test_work_that_only_computes_gives_way(session):
    asked = threading.Event()

    def forever(progress):
        while True:
            progress(0.1, "computing")
            asked.set()
            time.sleep(0.01)

    running = asyncio.create_task(session.run("Guess", forever, yields=True))
    await asyncio.to_thread(asked.wait, 10)
    session.apply(renamed("Meanwhile"), "rename")
    assert await session.run("Real work", lambda progress: 7) == 7
    with pytest.raises(Cancelled):
        await running
    assert session.job.name == "Meanwhile"
    assert not session.notes


async def test_work_goes_on_when_its_window_is_closed(session):
    release = threading.Event()

    def work(progress):
        release.wait(10)
        session.folder.save(renamed("Done")(session.job))

    window = asyncio.create_task(session.run("Long work", work))
    await asyncio.sleep(0.05)
    window.cancel()
    await asyncio.sleep(0.05)
    assert session.work.task is not None
    release.set()
    await session.close()  # waits for it
    assert written(session).name == "Done"


async def test_a_stopped_rehearsal_keeps_its_takes(session):
    short = Sweep(duration_s=1.0, level_dbfs=-12.0, tail_s=0.5)
    session.apply(lambda job: job.model_copy(update={"sweep": short}), "shorten the sweep")

    def stop_half_way(progress):
        def report(fraction, doing):
            if fraction >= 0.5:
                session.work.task.cancel()
            progress(fraction, doing)

        return rehearse(session.folder, progress=report)

    with pytest.raises(Cancelled):
        await session.run("Rehearsal", stop_half_way)
    sweeps = [take for take in written(session).takes if take.kind == "take"]
    units, stations = len(session.job.units), len(session.job.stations)
    assert 0 < len(sweeps) < units * stations
    assert session.notes[-1][1].startswith("Rehearsal was stopped")
    assert session.survey().sources
    session.undo()
    assert session.survey() is None


async def test_what_is_computed_is_kept_until_it_depends_on_something_new(session):
    calls = []

    def compute():
        calls.append(True)
        return len(calls)

    values = [session.remembered("name", inputs, compute) for inputs in [(1,), (1,), (2,)]]
    assert values == [1, 1, 2]
    results = await asyncio.gather(
        *(
            asyncio.to_thread(session.remembered, "slow", (3,), lambda: calls.append(1))
            for _ in "ab"
        )
    )
    assert (results, len(calls)) == ([None, None], 3)


async def test_nothing_is_measured_at_first(session):
    assert session.survey() is session.measured() is session.predicted() is None


async def test_another_program_cannot_change_an_open_job(session):
    with (
        pytest.raises(JobError, match="being changed by another program"),
        store.open_job(session.path, write=True),
    ):
        pass


async def test_a_job_held_by_another_program_is_shown_and_later_taken_over(jobs):
    path = jobs / "small"
    with store.open_job(path, write=True) as other:
        session = JobSession(path)
        told = []
        session.listen(lambda: told.append(session.trouble))
        with pytest.raises(JobError, match="being changed by another program"):
            session.apply(renamed("Mine"), "rename")
        other.save(renamed("Theirs")(other.job))
        session.look()
        assert session.job.name == "Theirs"
        assert "being changed by another program" in told[-1]
    session.look()
    assert session.trouble == ""
    session.apply(renamed("Mine"), "rename")
    assert written(session).name == "Mine"
    await session.close()


async def test_a_document_changed_outside_is_taken_in_as_a_step(session):
    before = session.job.name
    write_aside(session, renamed("By hand")(session.job))
    session.look()
    assert session.job.name == "By hand"
    assert "changed by another program" in session.notes[-1][1]
    assert session.undoes == "the change made by another program"
    session.undo()
    assert written(session).name == before


async def test_a_change_outside_is_never_overwritten_unseen(session):
    write_aside(session, renamed("By hand")(session.job))
    session.apply(lambda job: job.model_copy(update={"layout": job.layout + " "}), "touch")
    assert written(session).name == "By hand"


async def test_a_damaged_document_is_said_and_can_be_put_back(session):
    before = session.job
    (session.path / "job.json").write_text('{"schema_version": 1')
    session.look()
    assert "cannot be used" in session.trouble
    assert "not readable JSON" in session.trouble
    with pytest.raises(JobError, match="cannot be used"):
        session.apply(renamed("No"), "rename")
    session.put_back()
    assert session.trouble == ""
    assert written(session) == before


async def test_a_deleted_folder_is_said_and_found_again(session):
    session.apply(renamed("Kept"), "rename")
    elsewhere = session.path.with_name("elsewhere")
    shutil.copytree(session.path, elsewhere)
    shutil.rmtree(session.path)
    session.look()
    assert "is gone" in session.trouble
    assert session.job.name == "Kept"
    with pytest.raises(JobError, match="is gone"):
        session.apply(renamed("No"), "rename")
    elsewhere.rename(session.path)
    session.look()
    assert session.trouble == ""
    session.apply(renamed("On"), "rename")
    assert written(session).name == "On"


async def test_a_removed_document_can_be_put_back(session):
    (session.path / "job.json").unlink()
    session.look()
    assert "is gone" in session.trouble
    session.put_back()
    assert session.trouble == ""
    assert written(session) == session.job


async def test_touching_the_document_is_no_change(session):
    os.utime(session.path / "job.json")
    session.look()
    assert not session.notes
    assert session.undoes is None


async def test_jobs_are_reached_by_name_alone(jobs, small_job):
    library = Jobs([jobs])
    name = library.create(small_job)
    assert name == "small-room"
    assert library.create(small_job) == "small-room-2"
    assert sorted(library.folders()) == ["small", "small-room", "small-room-2"]
    assert library.session(name) is library.session(name)
    for bad in ("../small", str(jobs / "small"), "", ".", "nothing"):
        with pytest.raises(InputError, match="there is no job called"):
            library.session(bad)
    await library.close()


async def test_jobs_with_wild_names_stay_in_their_folder(jobs, small_job):
    library = Jobs([jobs])
    for name in ("../../etc", "..", "/", "a/b\\c", "x" * 300):
        made = library.create(renamed(name)(small_job))
        assert library.folders()[made].parent == jobs.resolve()


async def test_new_jobs_need_a_folder_of_jobs(jobs, small_job):
    single = Jobs([jobs / "small"])
    assert single.library is None
    with pytest.raises(InputError, match="start with a folder of jobs"):
        single.create(small_job)
    with pytest.raises(InputError, match="is not a folder"):
        Jobs([jobs / "missing"])


async def test_a_job_nobody_looks_at_is_let_go(jobs, monkeypatch):
    monkeypatch.setattr("roomwright.web.jobs._LOOK_S", 0.01)
    monkeypatch.setattr("roomwright.web.jobs._HELD_S", 0.05)
    library = Jobs([jobs])
    leave = library.session("small").listen(lambda: None)
    watching = asyncio.create_task(library.watch())
    await asyncio.sleep(0.15)
    with pytest.raises(JobError), store.open_job(jobs / "small", write=True):
        pass
    leave()
    await asyncio.sleep(0.2)
    with store.open_job(jobs / "small", write=True):
        pass
    watching.cancel()
