"""A microphone that is listened to all the time, and what a meter says of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from roomwright import commissioning
from roomwright._errors import DeviceError, InputError
from roomwright.commissioning.edits import levels as edit_levels
from roomwright.commissioning.levels import assistant as level_assistant
from roomwright.commissioning.levels import set_levels
from roomwright.commissioning.levels.live_input import RehearsalInput, live_input
from roomwright.commissioning.levels.live_meter import LiveMeter
from roomwright.commissioning.levels.meter_words import meter_reading
from roomwright.measurement.metering import SoundLevelMeter
from roomwright.store import create_job

RATE = 48000


@pytest.fixture
def folder(tmp_path, quick_job):
    with create_job(tmp_path / "cinema", quick_job) as opened:
        yield opened


class Clock:
    """Seconds that pass when a test says so."""

    def __init__(self):
        self.now_s = 100.0

    def __call__(self):
        return self.now_s


def heard_db(source, clock, seconds):
    """C-weighted level of the next seconds, dB SPL."""
    clock.now_s += seconds
    meter = SoundLevelMeter(source.sampling_rate_hz, source.sensitivity_pa)
    meter.follow(source.read())
    return meter.show().equivalent_db


def test_the_rehearsal_room_is_heard_in_real_time(folder):
    clock = Clock()
    source = RehearsalInput(folder, clock)
    assert source.read().size == 0
    clock.now_s += 0.25
    assert source.read().size == 12000
    assert source.read().size == 0
    clock.now_s += 60.0
    assert source.read().size == source.sampling_rate_hz  # no more than a second is kept


def test_noise_rises_to_the_level_that_a_take_measures_and_falls_when_stopped(folder):
    clock = Clock()
    source = RehearsalInput(folder, clock)
    drives = folder.job.outputs[0].drives
    quiet = heard_db(source, clock, 1.0)
    source.play(drives)
    first = heard_db(source, clock, 0.05)
    heard_db(source, clock, folder.job.levels.ramp_s)
    steady = [heard_db(source, clock, 1.0) for _ in range(2)]
    bench, job, _ = source.bench()
    taken = bench.level(drives, job.levels.playback_db + job.levels.trim_db(drives))
    assert first < taken.level_db - 20.0
    # One period of the loop lasts two seconds; half of it may differ from all by a few tenths.
    assert np.mean(steady) == pytest.approx(taken.level_db, abs=1.0)
    source.stop()
    heard_db(source, clock, 0.2)
    assert heard_db(source, clock, 1.0) == pytest.approx(quiet, abs=3.0)


def test_a_stop_while_the_sound_is_made_ready_wins(folder):
    clock = Clock()
    source = RehearsalInput(folder, clock)
    quiet = heard_db(source, clock, 1.0)
    bench = source.bench

    def stopped_meanwhile(job=None):
        source.stop()
        return bench(job)

    source.bench = stopped_meanwhile
    source.play(folder.job.outputs[0].drives)
    heard_db(source, clock, 1.0)
    assert heard_db(source, clock, 1.0) == pytest.approx(quiet, abs=3.0)


def test_without_an_interface_it_is_said_in_a_sentence(folder):
    with pytest.raises(DeviceError, match="interface"):
        live_input(folder, "interface")


def tone(level_db, seconds=2.0, hz=1000.0):
    """A sine of a level in dB SPL for a microphone with 1 Pa (peak) at full scale."""
    peak_pa = 2**0.5 * 20e-6 * 10 ** (level_db / 20)
    return peak_pa * np.sin(2 * np.pi * hz * np.arange(round(seconds * RATE)) / RATE)


def test_a_tone_reads_the_same_by_every_weighting_at_a_kilohertz():
    for name in ("LAF", "LCS"):
        meter = LiveMeter(RATE, 1.0, name)
        meter.follow(tone(80.0, 8.0))
        view = meter.show()
        # A tenth of a decibel: onset of the weighting filters, tail of the slow average.
        assert view.level.level_db == pytest.approx(80.0, abs=0.1)
        assert view.mid_hz[np.argmax(view.bands_db)] == pytest.approx(1000.0)
        reading = meter_reading(view)
        assert (reading.figure, reading.unit) == (f"{view.level.level_db:.1f}", f"dB {name}")


def test_a_low_tone_is_weighted_by_the_level_chosen():
    meter = LiveMeter(RATE, 1.0, "LZS")
    meter.choose("LAF")
    meter.follow(tone(80.0, 4.0, 100.0))
    assert meter.show().level.level_db == pytest.approx(80.0 - 19.1, abs=0.2)  # IEC 61672-1
    with pytest.raises(InputError, match="LCS"):
        meter.choose("LQS")


def test_exposure_adds_up_by_the_niosh_rule():
    meter = LiveMeter(RATE, 1.0)
    for _ in range(6):
        meter.follow(tone(88.0, 1.0))
    dose = meter.show().exposure.dose_percent
    assert dose == pytest.approx(100.0 * 6.0 / (4 * 3600.0), rel=0.05)  # 88 dBA: four hours a day
    meter.restart()
    assert meter.show().exposure.dose_percent == dose
    assert LiveMeter(RATE, None).show().exposure is None


def test_what_passes_the_ceiling_or_clips_is_noticed():
    meter = LiveMeter(RATE, 20.0)
    meter.follow(tone(70.0) / 20.0)
    assert not meter.passes(75.0)
    meter.follow(tone(80.0) / 20.0)
    assert meter.passes(75.0)
    unknown = LiveMeter(RATE, None)
    unknown.follow(np.full(4800, 0.5))
    assert not unknown.passes(75.0)
    unknown.follow(np.ones(4800))
    assert unknown.passes(75.0)


def test_silence_and_full_scale_are_written_so():
    meter = LiveMeter(RATE, None)
    meter.follow(np.zeros(4800))
    reading = meter_reading(meter.show())
    assert reading.figure == "–"
    assert set(reading.bands_db) == {None}
    assert reading.unit.startswith("dB re full scale")
    meter.follow(np.ones(480))
    assert meter_reading(meter.show()).clipped


def test_rows_follow_trims_and_offsets_set_by_hand(quick_job):
    row = set_levels.level_rows(quick_job)[0]
    found = {row.drives: replace(row, level_db=70.0, asked_db=5.0, uncertainty_db=0.1)}
    step = quick_job.processor.gain_step_db
    louder = edit_levels.with_trim_stepped(quick_job, row.drives, 3)
    assert level_assistant.rows_now(louder, found)[0].level_db == pytest.approx(70.0 + 3 * step)
    offset = edit_levels.with_group_offset(quick_job, row.group, 3.0)
    assert level_assistant.rows_now(offset, found)[0].asked_db == pytest.approx(8.0)
    assert level_assistant.rows_now(quick_job, found)[1].level_db is None
    accepted = level_assistant.accepted(quick_job, found[row.drives])
    assert accepted.levels.trim_db(row.drives) == 5.0
    assert level_assistant.rows_now(accepted, found)[0].reached
    with pytest.raises(InputError, match="measure it first"):
        level_assistant.accepted(quick_job, row)


def test_every_take_of_a_survey_has_a_verdict(folder):
    stations = folder.job.stations[:1]
    outputs = folder.job.outputs[:2]
    folder.save(folder.job.model_copy(update={"stations": stations, "outputs": outputs}))
    said = []
    with commissioning.open_rig(folder.job, "rehearsal") as rig:
        commissioning.measure(folder, rig, on_verdict=said.append)
    named = {(one.source, one.station): one for one in said}
    wanted = set(commissioning.all_pairs(folder.job))
    assert set(named) == wanted
    survey = commissioning.responses(folder, "survey")
    view = commissioning.survey_view(folder.job, survey)
    made = [take for row in view.rows for take in row.takes if take.worth != "missing"]
    assert len(made) == 2
    for take in made:
        # What all takes together show can only add doubts.
        assert take.worth in (named[take.source, take.station].worth, "doubtful")
