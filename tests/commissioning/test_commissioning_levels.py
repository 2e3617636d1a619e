"""The level assistant in the rehearsal room, checked by a meter that knows nothing of it."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright._errors import Cancelled, InputError
from roomwright.commissioning.edits.levels import (
    group_of,
    sweep_of,
    with_group_offset,
    with_level_trim,
    with_levels,
)
from roomwright.commissioning.levels.bench import LevelBench
from roomwright.commissioning.levels.reference import (
    as_stored,
    compare_with_reference,
    return_to_reference,
    store_reference,
)
from roomwright.commissioning.levels.set_levels import (
    check_levels,
    level_bench,
    rehearsal_bench,
    set_levels,
)
from roomwright.commissioning.tuning.compose import rehearsal_device
from roomwright.measurement.metering import SoundLevelMeter
from roomwright.model import Fault
from roomwright.signals import from_amplitude_db, pink_noise
from roomwright.store import create_job


@pytest.fixture
def folder(quick_job, tmp_path):
    with create_job(tmp_path / "job", with_group_offset(quick_job, "subwoofers", 3.0)) as made:
        yield made


@pytest.fixture
def bench(folder):
    return rehearsal_bench(folder)


def meter_db(job, drives, gain_db, seconds):
    """What a C-weighted meter shows of noise of another kind: random, from the same levels."""
    device = rehearsal_device(job)
    device.place_microphone(job.station("S-R1-1").position_m)
    band = job.levels.subwoofers if group_of(job, drives) == "subwoofers" else job.levels.mains
    rate = job.sampling_rate_hz
    noise = pink_noise(
        round((seconds + 1) * rate), rate, np.random.default_rng(77), band.low_hz, band.high_hz
    )
    level = job.levels.noise_dbfs + gain_db
    played = (noise * from_amplitude_db(level) / np.sqrt(2)).astype(np.float32)
    number = next(output.number for output in job.outputs if output.drives == drives)
    recorded = device.play_and_record({number: played}).microphone
    meter = SoundLevelMeter(rate, job.microphone.sensitivity_pa)
    meter.follow(recorded[:rate])
    meter.restart()
    meter.follow(recorded[rate : round((seconds + 1) * rate)])
    return meter.show().equivalent_db


def test_the_assistant_sets_all_trims_and_a_meter_agrees(folder, bench):
    benched, job, station = bench
    found = set_levels(folder, benched, job, station.id)
    assert found.station == "S-R1-1"
    assert [row.drives for row in found.rows] == [output.drives for output in job.outputs]
    assert all(row.reached for row in found.rows)
    assert folder.job.levels.trims == found.job.levels.trims
    for row in found.rows:
        is_bass = row.group == "subwoofers"
        assert row.wanted_db == (78.0 if is_bass else 75.0)
        # A step of the processor is 0.1 dB.
        assert row.level_db == pytest.approx(row.wanted_db, abs=0.1)
        # The meter's noise is random: 4.34 / sqrt(BT) is 0.06 dB in 4 s from 500 to 2000 Hz and
        # 0.18 dB in 12 s from 30 to 80 Hz. Three times that, a step, and for the bass the
        # background, which the meter hears too at all frequencies.
        shown = meter_db(folder.job, row.drives, row.trim_db, 12 if is_bass else 4)
        assert shown == pytest.approx(row.wanted_db, abs=0.7 if is_bass else 0.3)


def test_checking_changes_nothing_and_asks_for_what_setting_sets(folder, bench):
    benched, job, station = bench
    before = folder.job
    asked = check_levels(job, benched, station.id)
    assert folder.job == before
    done = set_levels(folder, benched, job, station.id)
    for one, other in zip(asked.rows, done.rows, strict=True):
        assert one.trim_db == 0.0
        assert not one.reached
        # Loudspeakers bend a little at the higher level: two steps at most.
        assert one.asked_db == pytest.approx(other.trim_db, abs=0.21)


class Watched:
    """A device that keeps the loudest sample of every signal it was given."""

    def __init__(self, inner):
        self.inner = inner
        self.peaks = []

    def __getattr__(self, name):
        return getattr(self.inner, name)

    def play_and_record(self, signals):
        self.peaks.append(max(float(np.abs(signal).max()) for signal in signals.values()))
        return self.inner.play_and_record(signals)


def watched_bench(folder, job):
    device = rehearsal_device(job)
    station = job.station("S-R1-1")
    device.place_microphone(station.position_m)
    watched = Watched(device)
    return level_bench(folder, job, watched, station), watched


def test_it_starts_softly_and_never_passes_the_ceiling(folder, bench):
    _, job, station = bench
    benched, watched = watched_bench(folder, job)
    set_levels(folder, benched, job, station.id, only=("M+000",))
    soft = watched.peaks[0]
    assert soft == pytest.approx(10 ** ((-30 - 15 + 6.6) / 20), rel=0.05)
    assert max(watched.peaks) <= 10 ** (job.levels.ceiling_dbfs / 20)
    assert max(watched.peaks) > soft


def test_what_the_digital_ceiling_does_not_allow_is_said_and_not_played(folder, bench):
    _, job, station = bench
    low = with_levels(job, ceiling_dbfs=-36.0, noise_dbfs=-50.0)
    benched, watched = watched_bench(folder, low)
    found = set_levels(folder, benched, low, station.id, only=("M+030",))
    row = found.rows[0]
    assert "at the digital ceiling it reaches" in row.says
    assert row.trim_db == 0.0
    assert not row.reached
    assert max(watched.peaks) <= 10 ** (-36 / 20) * 1.0000001


def test_a_dead_output_is_named_and_the_others_are_set(folder, bench):
    _, job, station = bench
    fault = Fault(kind="dead", output=1)
    broken = job.model_copy(
        update={"rehearsal": job.rehearsal.model_copy(update={"faults": (fault,)})}
    )
    benched, watched = watched_bench(folder, broken)
    found = set_levels(folder, benched, broken, station.id, only=("M+030", "M-030"))
    dead, alive = found.rows[0], found.rows[1]
    assert "not heard" in dead.says
    assert dead.trim_db == 0.0
    assert alive.reached
    # However long nothing is heard, it is not raised by more than 10 dB over what it was.
    assert max(watched.peaks) <= 10 ** ((-30 + 10 + 6.7) / 20)


def test_stopping_keeps_the_trims_set_so_far(folder, bench):
    benched, job, station = bench

    def stop(fraction, doing):
        if "M+000" in doing:
            raise Cancelled("stop")

    with pytest.raises(Cancelled):
        set_levels(folder, benched, job, station.id, stop)
    assert [trim.drives for trim in folder.job.levels.trims] == ["M+030", "M-030"]


def test_a_later_visit_returns_to_the_reference(folder, bench):
    """The same room with its amplifiers turned down by 3.4 dB."""
    benched, job, station = bench
    levelled = set_levels(folder, benched, job, station.id, only=("M+000",)).job
    stored = store_reference(folder, benched, levelled, station)
    reference = stored.levels.reference
    assert reference.drives == "M+000"
    assert reference.level_db == pytest.approx(75.0, abs=0.1)

    def turned(one):
        models = tuple(
            model.model_copy(update={"sensitivity_db": model.sensitivity_db - 3.4})
            for model in one.loudspeaker_models
        )
        return one.model_copy(update={"loudspeaker_models": models})

    def later(one):
        device = rehearsal_device(turned(one))
        device.place_microphone(station.position_m)
        return level_bench(folder, one, device, station)

    found = compare_with_reference(as_stored(stored), later(as_stored(stored)), station)
    assert found.change_db == pytest.approx(3.4, abs=0.11)
    assert "raised by 3.4 dB" in found.says or "raised by 3.3 dB" in found.says
    assert "was not calibrated again" in found.says
    back = return_to_reference(folder, stored, found)
    assert back.levels.playback_db == found.change_db
    again = later(back).level("M+000", back.levels.playback_db + reference.trim_db)
    assert again.level_db == pytest.approx(reference.level_db, abs=0.1)


def test_another_microphone_gain_is_allowed_for_once_it_is_calibrated(folder, bench):
    benched, job, station = bench
    stored = store_reference(folder, benched, job, station)
    half = job.microphone.sensitivity_pa / 2
    later = stored.model_copy(
        update={"microphone": stored.microphone.model_copy(update={"sensitivity_pa": half})}
    )
    device = rehearsal_device(later)
    device.place_microphone(station.position_m)
    found = compare_with_reference(later, level_bench(folder, later, device, station), station)
    assert found.change_db == 0.0
    assert "nothing is to be changed" in found.says


def test_what_is_missing_is_said(folder, bench, quick_job):
    benched, job, station = bench
    with pytest.raises(InputError, match="no reference level is stored"):
        as_stored(job)
    stored = store_reference(folder, benched, job, station)
    with pytest.raises(InputError, match="put the microphone there"):
        compare_with_reference(stored, benched, job.stations[1])
    with pytest.raises(InputError, match="need the microphone's sensitivity"):
        LevelBench(rehearsal_device(quick_job), quick_job)
    with pytest.raises(InputError, match="no output drives sofa"):
        benched.level("sofa", 0.0)
    with pytest.raises(InputError, match="no output drives sofa"):
        with_level_trim(job, "sofa", 1.0)
    with pytest.raises(InputError, match="there is no group 'sofa'"):
        with_group_offset(job, "sofa", 1.0)
    with pytest.raises(InputError, match="above the ceiling"):
        with_levels(job, reference_db=95.0)


def test_the_sweep_of_an_output_has_its_level(quick_job):
    job = with_level_trim(with_levels(quick_job, playback_db=1.0), "SW1", 4.0)
    assert sweep_of(job, "SW1").level_dbfs == quick_job.sweep.level_dbfs + 5.0
    assert sweep_of(job, "M+000").level_dbfs == quick_job.sweep.level_dbfs + 1.0
    loud = with_level_trim(job, "SW1", 50.0)
    assert sweep_of(loud, "SW1").level_dbfs == job.levels.ceiling_dbfs
    assert sweep_of(loud, "SW1").model_copy(
        update={"level_dbfs": 0.0}
    ) == quick_job.sweep.model_copy(update={"level_dbfs": 0.0})
