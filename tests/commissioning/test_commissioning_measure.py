"""The survey procedure on the rehearsal room: passes, cancelling, refusals, the ceiling."""

from __future__ import annotations

import errno
from dataclasses import replace

import numpy as np
import pytest

from roomwright import commissioning
from roomwright._errors import Cancelled, DeviceError, InputError
from roomwright.commissioning.desk.distortion import distortion_lines
from roomwright.commissioning.edits.levels import with_level_trim, with_levels
from roomwright.commissioning.survey.rigs import CeilingPassed, RehearsalRig
from roomwright.model import Fault, Finding
from roomwright.store import create_job
from roomwright.store import folder as folder_module


@pytest.fixture
def small(quick_job):
    """Two fronts and two surrounds at two stations; sweeps so long that they overlap."""
    outputs = (*quick_job.outputs[:2], *quick_job.outputs[3:5])
    sweep = quick_job.sweep.model_copy(update={"duration_s": 6.0})
    changes = {"outputs": outputs, "stations": quick_job.stations[:2], "sweep": sweep}
    # Nobody sits in a simulated room: its noise is to be far below.
    return with_levels(quick_job.model_copy(update=changes), ceiling_db=110.0)


@pytest.fixture
def folder(tmp_path, small):
    with create_job(tmp_path / "cinema", small) as opened:
        yield opened


class Rig(RehearsalRig):
    """A rehearsal room that does to its recordings what a test wants."""

    def __init__(self, job, spoil=lambda count, recording: recording):
        super().__init__(job)
        self.played, self._spoil = [], spoil

    def play(self, signals, ceiling_dbfs=0.0):
        recording = super().play(signals, ceiling_dbfs)
        self.played.append(signals)
        return self._spoil(len(self.played), recording)


def difference_db(one, other, source, station):
    """Energy of the difference re the response, within the band and length that both hold."""
    at, there = one.index(source, station), other.index(source, station)
    n = min(one.samples.shape[-1], other.samples.shape[-1]) // 3
    low = max(one.trusted_hz[at][0], other.trusted_hz[there][0]) * 1.4
    high = min(one.trusted_hz[at][1], other.trusted_hz[there][1]) / 1.4
    frequency = np.fft.rfftfreq(n, 1 / one.sampling_rate_hz)
    inside = (frequency > low) & (frequency < high)
    spectra = [np.fft.rfft(r.samples[k][:n]) for r, k in ((one, at), (other, there))]
    left = np.sum(np.abs(spectra[0] - spectra[1])[inside] ** 2)
    # Those measured alone in both are the same samples.
    return 10 * np.log10(max(left / np.sum(np.abs(spectra[0])[inside] ** 2), 1e-20))


def test_passes_give_what_single_sweeps_give(folder):
    passes = commissioning.measure(folder, RehearsalRig(folder.job))
    takes = [take for take in folder.job.takes if take.kind == "take"]
    # All of the second station, and of the first those that are not the first of their band.
    assert sum(take.overlap is not None for take in takes) == 6
    assert len({take.file for take in takes}) == 4
    for take in takes:
        model = folder.job.model_of(folder.job.unit(take.source))
        assert take.sweep.start_hz >= model.low_hz
        assert take.sweep.stop_hz <= model.high_hz
    assert passes.responses.present.all()
    assert passes.responses.timed
    assert commissioning.missing_pairs(folder.job) == ()
    singles = commissioning.rehearse(folder).responses
    for source in singles.sources:
        for station in singles.stations:
            # Noise 45 dB and more below, and decays that the windows cut 60 dB down.
            assert difference_db(singles, passes.responses, source, station) < -38


def test_the_first_sweep_of_each_output_is_soft_and_alone_in_its_band(folder):
    rig = Rig(folder.job)
    commissioning.measure(folder, rig, [("M+030", "S-R1-1"), ("M-030", "S-R1-1")])
    levels = {}
    for signals in rig.played:
        for number in (1, 2):
            if number in signals:
                peak = 20 * np.log10(np.abs(signals[number]).max())
                levels.setdefault(number, []).append(round(float(peak)))
    assert levels == {1: [-40, -20], 2: [-40, -20]}


def test_a_survey_stopped_before_any_recording_is_resumed(folder):
    """Stopped after every single recording: all that was saved stays, the rest is made up for."""
    kept = ()
    for allowed in range(2, 40):
        left = allowed

        def stop(_fraction, _doing):
            nonlocal left
            left -= 1
            if left == 0:
                raise Cancelled

        before = folder.job.takes
        missing = commissioning.missing_pairs(folder.job)
        if not missing:
            break
        try:
            commissioning.measure(folder, RehearsalRig(folder.job), missing, stop)
        except Cancelled:
            assert set(before) <= set(folder.job.takes)
        kept += (len(folder.job.takes),)
    assert commissioning.missing_pairs(folder.job) == ()
    assert kept[-1] == 4 * 2 + 1
    assert commissioning.responses(folder, "survey").present.all()


def test_all_takes_of_a_survey_are_one_step_for_undo(folder):
    before = folder.job
    commissioning.measure(folder, RehearsalRig(folder.job), [("M+030", "S-R1-1")])
    assert folder.undo() == before


def test_a_refused_take_is_repeated_and_then_left_out(folder):
    refusal = Finding(severity="refusal", where="rig", text="lost samples")

    def twice(count, recording):
        return replace(recording, findings=(refusal,)) if count in (2, 3) else recording

    done = commissioning.measure(folder, Rig(folder.job, twice), [("M+030", "S-R1-1")])
    assert done.responses.present.all()

    def always(count, recording):
        return replace(recording, findings=(refusal,)) if count > 1 else recording

    rig = Rig(folder.job, always)
    done = commissioning.measure(folder, rig, [("M-030", "S-R1-1")])
    assert len(rig.played) == 1 + 3
    assert ("M-030", "S-R1-1") in commissioning.missing_pairs(folder.job)
    assert any(f.where == "M-030 at S-R1-1" and "3 times" in f.text for f in done.findings)


def test_an_output_that_does_not_show_its_band_is_not_played_louder(folder):
    dead = folder.job.rehearsal.model_copy(update={"faults": (Fault(kind="dead", output=2),)})
    folder.save(folder.job.model_copy(update={"rehearsal": dead}))
    rig = Rig(folder.job)
    done = commissioning.measure(folder, rig, [("M+030", "S-R1-1"), ("M-030", "S-R1-1")])
    peaks = [np.abs(signals[2]).max() for signals in rig.played if 2 in signals]
    assert max(peaks) <= 0.0101
    assert commissioning.missing_pairs(folder.job)
    (why,) = (f for f in done.findings if f.severity == "refusal")
    assert why.where == "M-030 at S-R1-1"


def test_the_input_ceiling_lowers_the_level_and_then_stops(folder):
    pairs = [("M+030", "S-R1-1")]
    states = []
    folder.save(with_levels(folder.job, ceiling_db=92.0))
    done = commissioning.measure(folder, RehearsalRig(folder.job), pairs, on_state=states.append)
    (take,) = (take for take in folder.job.takes if take.kind == "take")
    assert take.sweep.level_dbfs < -21
    assert any("softer" in finding.text for finding in done.findings)
    # 3 dB below it, but for what the soft sweep heard of the background.
    assert states[-1].level_db == pytest.approx(89.0, abs=0.5)
    assert states[-1].ceiling_db == 92.0

    # An option given wins.
    commissioning.measure(folder, RehearsalRig(folder.job), pairs, ceiling_db=110.0)
    (take,) = (take for take in folder.job.takes if take.kind == "take")
    assert take.sweep.level_dbfs == -20

    class Loud(Rig):
        def play(self, signals, ceiling_dbfs=0.0):
            # A gain turned up after the soft sweep.
            gain = 1.0 if not self.played else 8.0
            return super().play({n: gain * s for n, s in signals.items()}, ceiling_dbfs)

    taken = folder.job.takes
    with pytest.raises(CeilingPassed, match="passed the ceiling"):
        commissioning.measure(folder, Loud(folder.job), [("M-030", "S-R1-1")], ceiling_db=100.0)
    assert folder.job.takes == taken


def test_all_together_stay_under_the_ceiling(folder):
    """Each alone reaches 89 dB; four at a time would reach 6 dB more, and play softer."""
    folder.save(with_levels(folder.job, ceiling_db=92.0))
    states = []
    commissioning.measure(folder, RehearsalRig(folder.job), on_state=states.append)
    assert max(state.level_db for state in states if state.level_db is not None) < 92.0
    by_file = {}
    for take in folder.job.takes:
        if take.kind == "take":
            by_file.setdefault(take.file, []).append(take.sweep.level_dbfs)
    single = max(level for levels in by_file.values() if len(levels) == 1 for level in levels)
    four = max(level for levels in by_file.values() if len(levels) == 4 for level in levels)
    assert four < single - 1


def test_each_output_is_swept_at_its_own_level(folder):
    folder.save(with_level_trim(folder.job, "M-030", -6.0))
    commissioning.measure(folder, RehearsalRig(folder.job))
    levels = {t.source: t.sweep.level_dbfs for t in folder.job.takes if t.kind == "take"}
    assert levels == {"M+030": -20, "M-030": -26, "M+110": -20, "M-110": -20}


def test_a_full_disk_loses_nothing_that_was_captured(folder, monkeypatch):
    write, written = folder_module.write_whole, []

    def full(path, content):
        if path.suffix == ".wav":
            written.append(path)
            if len(written) > 3:
                raise InputError(f"cannot write {path}: the disk is full") from OSError(
                    errno.ENOSPC, "full"
                )
        write(path, content)

    monkeypatch.setattr(folder_module, "write_whole", full)
    with pytest.raises(InputError, match="the disk is full"):
        commissioning.measure(folder, RehearsalRig(folder.job))
    monkeypatch.undo()
    assert len({take.file for take in folder.job.takes}) == 3
    missing = commissioning.missing_pairs(folder.job)
    done = commissioning.measure(folder, RehearsalRig(folder.job), missing)
    assert done.responses.present.all()


def test_an_interface_that_goes_away_loses_nothing_that_was_captured(folder):
    def gone(count, recording):
        if count > 2:
            raise DeviceError("it went away")
        return recording

    with pytest.raises(DeviceError, match="went away"):
        commissioning.measure(folder, Rig(folder.job, gone))
    assert [take.source for take in folder.job.takes] == ["background", "M+030"]


def test_the_state_counts_down(folder):
    states = []
    commissioning.measure(folder, RehearsalRig(folder.job), on_state=states.append)
    assert [state.made for state in states] == sorted(state.made for state in states)
    assert states[-1].step == "done"
    assert states[-1].made == states[-1].wanted == 9
    assert states[-1].remaining_s == 0
    assert states[0].remaining_s > states[-2].remaining_s > 0
    assert states[-1].exposure.duration_s > 30


def test_stations_are_measured_in_the_order_given_and_unknown_ones_refused(folder):
    names = [station.id for station in folder.job.stations]
    pairs = commissioning.chosen_pairs(folder.job, names[::-1], missing=False)
    assert list(dict.fromkeys(station for _, station in pairs)) == names[::-1]
    assert commissioning.chosen_pairs(folder.job, (), missing=False) is None
    with pytest.raises(InputError, match="not a station"):
        commissioning.chosen_pairs(folder.job, ["nowhere"], missing=False)


def test_rehearsed_takes_are_not_mixed_with_others(folder):
    commissioning.rehearse(folder)
    rig = RehearsalRig(folder.job)
    rig.origin = "device"
    with pytest.raises(InputError, match="was rehearsed"):
        commissioning.measure(folder, rig, [("M+030", "S-R1-1")])


def test_distortion_is_read_from_a_take_of_several_sweeps(folder):
    commissioning.measure(folder, RehearsalRig(folder.job))
    take = next(t for t in folder.job.takes if t.overlap and t.overlap.offset_s > 0)
    if not take.overlap.harmonics_apart:
        with pytest.raises(InputError, match="swept together"):
            distortion_lines(folder, take.source, take.station)
        return
    together = distortion_lines(folder, take.source, take.station)
    commissioning.measure(folder, RehearsalRig(folder.job), [(take.source, take.station)])
    alone = distortion_lines(folder, take.source, take.station)
    for order in (2, 3):
        at = (alone[order].x > 200) & (alone[order].x < 3000)
        # Noise and the room's modes in windows of other lengths.
        assert np.median(np.abs(together[order].y - alone[order].y)[at]) < 2.0
