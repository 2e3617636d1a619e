"""The one live input of a job: shared, stopped, closed, and never open twice."""

from __future__ import annotations

import asyncio

import numpy as np
import pytest

from roomwright._errors import DeviceError, InputError
from roomwright.web import live as live_module
from roomwright.web.live import live
from roomwright.web.session import JobSession

LOOKS = 400


class Input:
    """An input whose samples are a constant tone; it notes what is done to it."""

    name, sampling_rate_hz, sensitivity_pa = "bench", 48000, 1.0

    def __init__(self):
        self.done, self.level, self.error = [], 1e-4, None

    def read(self):
        if self.error is not None:
            raise self.error
        return self.level * np.sin(np.arange(2400) * 0.13).astype(np.float32)

    def play(self, drives):
        self.done.append(f"play {drives}")

    def stop(self):
        self.done.append("stop")

    def close(self):
        self.done.append("close")


@pytest.fixture
def opened(monkeypatch):
    """Every input that was opened, oldest first."""
    inputs = []

    def make(_folder, _kind):
        inputs.append(Input())
        return inputs[-1]

    monkeypatch.setattr(live_module, "live_input", make)
    return inputs


@pytest.fixture
async def session(jobs):
    session = JobSession(jobs / "small")
    yield session
    await session.close()


async def until(true):
    for _ in range(LOOKS):
        if true():
            return
        await asyncio.sleep(0.02)
    raise AssertionError("it did not come about")


async def test_windows_share_one_input_that_closes_with_the_job(session, opened):
    state = live(session)
    assert state is live(session)
    await asyncio.gather(state.open(), state.open())
    assert len(opened) == 1
    await until(lambda: state.view is not None)
    await session.close()
    assert opened[0].done == ["close"]
    assert not state.on


async def test_a_stop_reaches_the_input_at_once(session, opened):
    leave = session.listen(lambda: None)
    state = live(session)
    await state.play("M+030")
    assert state.sounds
    state.stop_sound()
    assert opened[0].done == ["play M+030", "stop"]
    assert not state.sounds
    leave()


async def test_sound_above_the_ceiling_is_stopped(session, opened):
    leave = session.listen(lambda: None)
    state = live(session)
    await state.play("M+030")
    opened[0].level = 0.9  # 91 dB for a sine of 1 Pa at full scale; the job's ceiling is 90
    await until(lambda: "ceiling" in state.trouble)
    assert opened[0].done[-1] == "stop"
    assert not state.plays
    leave()


async def test_sound_that_no_window_shows_is_stopped(session, opened):
    leave = session.listen(lambda: None)
    state = live(session)
    await state.play("M+030")
    leave()
    await until(lambda: not state.plays)
    assert opened[0].done[-1] == "stop"


async def test_an_input_that_goes_away_is_said_and_can_come_back(session, opened):
    state = live(session)
    await state.open()
    opened[0].error = DeviceError("bench went away")
    await until(lambda: not state.on)
    assert state.trouble == "bench went away"
    await state.open()
    assert len(opened) == 2
    assert state.trouble == ""


async def test_the_interface_belongs_to_one_job_at_a_time(session, jobs, small_job, opened):
    from roomwright.store import create_job

    with create_job(jobs / "other", small_job):
        pass
    other = JobSession(jobs / "other")
    first, second = live(session), live(other)
    await first.use("interface")
    await second.use("interface")
    await first.open()
    with pytest.raises(InputError, match="in use by Small room"):
        await second.open()
    await first.close()
    await second.open()
    await other.close()
    assert opened[-1].done == ["close"]


async def test_another_interface_is_opened_anew(session, opened):
    state = live(session)
    await state.use("interface")
    await state.open()
    session.apply(
        lambda job: job.model_copy(
            update={"interface": job.interface.model_copy(update={"microphone_input": 2})}
        ),
        "another input",
    )
    await state.renew()
    assert len(opened) == 2
    assert opened[0].done == ["close"]
    await state.renew()
    assert len(opened) == 2


async def test_a_window_that_is_gone_with_its_graphs_listens_no_more(session, monkeypatch):
    from nicegui import Client, core
    from nicegui.page import page

    from roomwright.web import desk
    from roomwright.web.page import JobPage
    from roomwright.web.preferences import Preferences

    monkeypatch.setattr(core, "loop", asyncio.get_running_loop())
    with Client(page("/window"), request=None) as client:
        desk.show(JobPage(session, Preferences(), lambda _stage: None))
    assert session.listened
    client.delete()
    assert not session.listened
