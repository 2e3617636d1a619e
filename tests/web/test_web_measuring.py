"""A survey that asks for the microphone: answered, skipped, stopped from anywhere."""

from __future__ import annotations

import asyncio
import contextlib

import pytest

from roomwright import commissioning
from roomwright._errors import Cancelled
from roomwright.web.live import live
from roomwright.web.measuring import measuring
from roomwright.web.session import JobSession

LOOKS = 400


class Rig:
    """A rig whose microphone somebody carries."""

    def __init__(self, ask):
        self.ask, self.stopped = ask, False

    def watch(self):
        return None

    def stop(self):
        self.stopped = True


@pytest.fixture
async def session(jobs):
    session = JobSession(jobs / "small")
    yield session
    await session.close()


@pytest.fixture
def asking(monkeypatch):
    """Has a survey ask for every station of the job and return the answers; the rigs used."""
    rigs = []

    @contextlib.contextmanager
    def open_rig(_job, _kind, ask):
        rigs.append(Rig(ask))
        yield rigs[-1]

    def measure(folder, rig, *_, **__):
        return [rig.ask(station) for station in folder.job.stations[:2]]

    monkeypatch.setattr(commissioning, "open_rig", open_rig)
    monkeypatch.setattr(commissioning, "measure", measure)
    return rigs


async def until(true):
    for _ in range(LOOKS):
        if true():
            return
        await asyncio.sleep(0.02)
    raise AssertionError("it did not come about")


def begun(session):
    state = measuring(session)
    work = session.run("Survey", lambda progress: state.work(None, progress, lambda _take: None))
    return state, asyncio.create_task(work)


async def test_it_waits_for_the_microphone_and_takes_both_answers(session, asking):
    state, work = begun(session)
    first, second = session.job.stations[:2]
    await until(lambda: state.asks == first)
    state.answer(stands=True)
    state.answer(stands=True)  # pressed twice: that is no answer to the next question
    await until(lambda: state.asks == second)
    state.answer(stands=False)
    assert await work == [True, False]
    assert state.asks is None
    assert not live(session).sounds


@pytest.mark.parametrize("by", ["stop", "task"])
async def test_a_stop_ends_the_waiting(session, asking, by):
    state, work = begun(session)
    await until(lambda: state.asks is not None)
    assert live(session).sounds
    if by == "stop":
        live(session).stop_sound()
        assert asking[0].stopped
    else:
        session.work.task.cancel()
    with pytest.raises(Cancelled):
        await work
    assert state.asks is None
    assert not live(session).sounds
