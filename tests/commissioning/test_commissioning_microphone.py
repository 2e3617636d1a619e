"""Which calibration applies to which take, and whose it is."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright import commissioning
from roomwright._errors import InputError
from roomwright.commissioning.survey.microphone import (
    Calibration,
    calibration_file,
    incidence_deg,
    with_calibrator,
    with_microphone,
)
from roomwright.model import Loudspeaker, Station, Take
from roomwright.store import create_job, encode_wav

ROWS = "20 {0}\n40 {0}\n80 {0}\n160 {0}\n320 {0}\n"


@pytest.fixture
def folder(tmp_path, small_job):
    with create_job(tmp_path / "job", small_job) as opened:
        yield opened


def written(path, level_db, heading=""):
    path.write_text(f"{heading}\n" + ROWS.format(level_db), "utf-8")
    return path


def take(source, station, kind="response"):
    return Take(
        stage="survey",
        source=source,
        station=station,
        kind=kind,
        file=f"takes/{source}.wav",
        sha256="0" * 64,
    )


def placed(job, *, overhead, faces):
    """The job with one station, one loudspeaker ahead of it and one overhead."""
    model = job.loudspeakers[0].model
    ahead = Loudspeaker(id="M+000", model=model, position_m=(2.0, 0.3, 1.2), aim_m=(2.0, 3.0, 1.2))
    top = Loudspeaker(id="T+000", model=model, position_m=overhead, aim_m=(2.0, 3.0, 1.2))
    return job.model_copy(
        update={
            "loudspeakers": (ahead, top),
            "stations": (Station(id="S1", position_m=(2.0, 3.0, 1.2)),),
            "microphone": job.microphone.model_copy(
                update={
                    "faces": faces,
                    "calibration_file": "along.txt",
                    "side_calibration_file": "side.txt",
                }
            ),
        }
    )


@pytest.mark.parametrize(
    ("faces", "ahead", "top"),
    [("ceiling", "side.txt", "along.txt"), ("front", "along.txt", "side.txt")],
)
def test_the_angle_of_the_sound_chooses_the_file(small_job, faces, ahead, top):
    job = placed(small_job, overhead=(2.0, 3.0, 2.4), faces=faces)
    assert calibration_file(job, take("M+000", "S1")) == ahead
    assert calibration_file(job, take("T+000", "S1")) == top
    assert calibration_file(job, take("background", "S1", "noise")) == "side.txt"
    # Where the station's place was not written down, the side is the safer guess.
    unknown = job.model_copy(update={"stations": (Station(id="S1"),)})
    assert calibration_file(unknown, take("M+000", "S1")) == "side.txt"


def test_the_angle_is_that_of_geometry(small_job):
    job = placed(small_job, overhead=(2.0, 1.8, 2.4), faces="ceiling")
    # 1.2 m ahead and 1.2 m above: 45 degrees off an axis that points up.
    assert incidence_deg(job, take("T+000", "S1")) == pytest.approx(45.0)
    assert incidence_deg(job, take("M+000", "S1")) == pytest.approx(90.0)


def test_a_single_file_applies_to_all(folder, tmp_path):
    job = with_microphone(folder, written(tmp_path / "mic.txt", 3.0))
    folder.save(job)
    source, station = job.units[0].id, job.stations[0].id
    assert calibration_file(job, take(source, station)) == "mic.txt"
    assert Calibration(folder, job).of(take(source, station)).level_db[0] == 3.0


def test_both_files_change_what_is_measured(folder, tmp_path):
    commissioning.rehearse(folder)
    before = commissioning.responses(folder, "survey")
    known = folder.job.microphone
    rows = (folder.path / "microphones" / known.calibration_file).read_text("utf-8")
    shifted = [
        line if line.startswith("*") else f"{line.split()[0]}\t{float(line.split()[1]) + 6}"
        for line in rows.splitlines()
    ]
    (tmp_path / "side 90.txt").write_text("\n".join(shifted), "utf-8")
    folder.save(with_microphone(folder, side_calibration=tmp_path / "side 90.txt"))
    after = commissioning.responses(folder, "survey")
    job = folder.job
    for row, source in enumerate(after.sources):
        for column, station in enumerate(after.stations):
            angle = incidence_deg(job, take(source, station))
            change_db = 20 * np.log10(
                np.linalg.norm(after.samples[row, column])
                / np.linalg.norm(before.samples[row, column])
            )
            assert change_db == pytest.approx(-6.0 if angle > 45 else 0.0, abs=0.01)


def test_files_are_found_by_their_serial_number(folder, tmp_path):
    for name, heading in (
        ("first.txt", "* serial 0042"),
        ("first 90deg.txt", "* serial 0042"),
        ("0017.txt", ""),
    ):
        path = written(tmp_path / name, 1.0, heading)
        folder.add_microphone_file(path.name, path.read_bytes())
    microphone = with_microphone(folder, serial="0042").microphone
    assert microphone.calibration_file == "first.txt"
    assert "90" in microphone.side_calibration_file
    other = with_microphone(folder, serial="0017").microphone
    assert (other.calibration_file, other.side_calibration_file) == ("0017.txt", None)
    with pytest.raises(InputError, match="no calibration file of microphone 99"):
        with_microphone(folder, serial="99")


def test_the_file_of_another_microphone_is_refused(folder, tmp_path):
    path = written(tmp_path / "mic.txt", 1.0, "* serial 0042")
    with pytest.raises(InputError, match=r"of microphone 0042; this job's microphone is 0017"):
        with_microphone(folder, path, serial="0017")
    assert with_microphone(folder, path, serial="0042").microphone.calibration_file == "mic.txt"


def test_no_calibration_is_allowed_and_said(folder):
    commissioning.rehearse(folder)
    bare = folder.job.model_copy(
        update={"microphone": folder.job.microphone.model_copy(update={"calibration_file": None})}
    )
    folder.save(bare)
    said = [finding.text for finding in commissioning.responses(folder, "survey").findings]
    assert any("has no calibration file" in text for text in said)


def test_a_calibrator_sets_the_sensitivity(small_job, tmp_path):
    time = np.arange(2 * 48000) / 48000
    amplitude = np.sqrt(2) * 20e-6 * 10 ** (94 / 20) / 30.0
    tone = (amplitude * np.sin(2 * np.pi * 1000 * time)).astype(np.float32)
    path = tmp_path / "calibrator.wav"
    path.write_bytes(encode_wav(tone[None], 48000))
    job = with_calibrator(small_job, path)
    assert job.microphone.sensitivity_pa == pytest.approx(30.0, rel=1e-4)
