"""Exposure over a day: meter and surveys together, over restarts, anew at midnight."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from roomwright import commissioning
from roomwright.commissioning.levels.exposure_today import ExposureToday
from roomwright.commissioning.levels.live_meter import LiveMeter
from roomwright.commissioning.survey.rigs import RehearsalRig
from roomwright.measurement.exposure import exposure
from roomwright.store import create_job, open_job

MONDAY, TUESDAY = date(2026, 3, 2), date(2026, 3, 3)
HALF_A_DAY = exposure(85.0, 4 * 3600.0)


@pytest.fixture
def folder(tmp_path, quick_job):
    with create_job(tmp_path / "cinema", quick_job) as opened:
        yield opened


def test_a_day_goes_on_after_a_restart_and_another_day_starts_anew(folder, tmp_path):
    today = ExposureToday(folder, lambda: MONDAY)
    today.add(HALF_A_DAY)
    today.keep()
    again = ExposureToday(folder, lambda: MONDAY)
    again.add(HALF_A_DAY)
    assert again.total.dose_percent == pytest.approx(100.0)
    assert again.total.over
    assert ExposureToday(folder, lambda: TUESDAY).total.dose_percent == 0.0


def test_midnight_passes_while_it_runs(folder):
    days = [MONDAY]
    today = ExposureToday(folder, lambda: days[-1])
    today.add(HALF_A_DAY)
    days.append(TUESDAY)
    today.add(exposure(85.0, 3600.0))
    assert today.total.dose_percent == pytest.approx(12.5)
    assert folder.kept_exposure().day == TUESDAY


def test_undo_does_not_forget_what_was_heard(folder):
    today = ExposureToday(folder, lambda: MONDAY)
    folder.save(folder.job.model_copy(update={"name": "renamed"}))
    today.add(HALF_A_DAY)
    folder.undo()
    assert ExposureToday(folder, lambda: MONDAY).total.dose_percent == pytest.approx(50.0)


def test_a_damaged_file_counts_as_none(folder):
    (folder.path / "exposure.json").write_text("{")
    assert ExposureToday(folder, lambda: MONDAY).total.dose_percent == 0.0


class Device(RehearsalRig):
    """The simulated room taken for a real one."""

    origin = "device"


def test_a_meter_and_a_survey_add_up(folder):
    tone = 0.5 * np.sin(2 * np.pi * 1000.0 * np.arange(48000) / 48000).astype(np.float32)
    today = ExposureToday(folder, lambda: MONDAY)
    meter = LiveMeter(48000, 20.0, today=today)
    for _ in range(12):
        meter.follow(tone)
    by_meter = meter.show().exposure
    # 10 Pa peak, 111 dBA: 12 s of the 75 s that are a day's dose.
    assert by_meter.dose_percent == pytest.approx(12 / 75 * 100, rel=0.15)
    today.keep()

    states = []
    with open_job(folder.path) as plain:
        assert plain.kept_exposure().dose_percent == pytest.approx(by_meter.dose_percent)
    survey = folder.job.outputs[0].drives, folder.job.stations[0].id
    known = folder.job.microphone.model_copy(update={"sensitivity_pa": 20.0})
    folder.save(folder.job.model_copy(update={"microphone": known}))
    job_rig = Device(folder.job)
    before = ExposureToday(folder).total
    commissioning.measure(folder, job_rig, [survey], on_state=states.append)
    after = states[-1].exposure
    assert after.duration_s > before.duration_s + 5
    assert folder.kept_exposure().duration_s == pytest.approx(after.duration_s)


def test_what_is_rehearsed_was_heard_by_nobody(folder):
    survey = folder.job.outputs[0].drives, folder.job.stations[0].id
    commissioning.measure(folder, RehearsalRig(folder.job), [survey])
    assert folder.kept_exposure() is None
