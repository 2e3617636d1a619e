"""Names tell what was recorded, and the proposed index imports as it stands."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright import commissioning
from roomwright._errors import InputError, JobError
from roomwright.commissioning import IndexCells
from roomwright.signals import excitation
from roomwright.store import create_job, encode_wav

RATE = 48000


@pytest.fixture
def dropped(tmp_path):
    """A folder, and how to put a WAV file of so many channels and samples in it."""
    folder = tmp_path / "dropped"
    folder.mkdir()

    def drop(name, channels=1, samples=RATE // 4):
        rng = np.random.default_rng(3)
        decay = 10 ** (-3 * np.arange(samples) / RATE / 0.2)
        noise = (0.1 * decay * rng.standard_normal((channels, samples))).astype(np.float32)
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_bytes(encode_wav(noise, RATE))
        return name

    return folder, drop


@pytest.mark.parametrize(
    ("name", "channel"),
    [
        ("M+030.wav", "M+030"),
        ("m-030.WAV", "M-030"),
        ("evening M+110 second.wav", "M+110"),
        ("U+090_R1-1.wav", "U+090"),
        ("take-SW1-a.wav", "SW1"),
        ("FL.wav", "M+030"),
        ("FC take.wav", "M+000"),
        ("TpSiL.wav", "U+090"),
        ("waffle.wav", ""),
        ("XM+0300.wav", ""),
    ],
)
def test_the_label_in_a_name_is_the_channel(quick_job, dropped, name, channel):
    folder, drop = dropped
    proposal = commissioning.propose_index(quick_job, folder, [drop(name)])
    assert [row.channel for row in proposal.rows] == [channel]


def test_wav_channels_become_stations(quick_job, dropped):
    folder, drop = dropped
    names = [drop("M+030.wav", 2), drop("M-030.wav", 2)]
    proposal = commissioning.propose_index(quick_job, folder, names)
    main = next(s.id for s in quick_job.stations if s.seat == quick_job.main_seat)
    assert proposal.wav_channels == 2
    assert [(r.wav_channel, r.station) for r in proposal.rows[:2]] == [
        ("1", main),
        ("2", f"{main}-2"),
    ]
    chosen = commissioning.propose_index(quick_job, folder, names, stations={2: "right-ear"})
    assert [row.station for row in chosen.rows] == [main, "right-ear"] * 2


def test_a_wav_channel_can_be_the_time_reference_or_left_out(quick_job, dropped):
    folder, drop = dropped
    names = [drop("M+030.wav", 3)]
    said = {1: "seat", 2: "reference", 3: ""}
    rows = commissioning.propose_index(quick_job, folder, names, stations=said).rows
    assert [(row.wav_channel, row.channel, row.station) for row in rows] == [
        ("1", "M+030", "seat"),
        ("2", "reference", "seat"),
    ]


def test_a_station_in_the_name_counts_before_the_wav_channel(quick_job, dropped):
    folder, drop = dropped
    station = quick_job.stations[1].id
    proposal = commissioning.propose_index(quick_job, folder, [drop(f"M+030 {station}.wav")])
    assert proposal.rows[0].station == station


def test_the_length_tells_a_take_from_a_response(quick_job, dropped):
    folder, drop = dropped
    whole = excitation(quick_job.sweep, RATE).size
    names = [drop("M+030.wav", 1, whole), drop("M-030.wav", 1, whole // 2)]
    rows = commissioning.propose_index(quick_job, folder, names).rows
    assert [(row.channel, row.kind) for row in rows] == [("M+030", "take"), ("M-030", "response")]


def test_labels_the_job_lacks_and_files_that_are_no_wav_are_told(quick_job, dropped):
    folder, drop = dropped
    (folder / "M-090.wav").write_text("no audio")
    names = [
        drop("U+045.wav"),
        drop("M+180.wav"),
        drop("M+030.wav"),
        drop("b-135.wav"),
        "M-090.wav",
    ]
    proposal = commissioning.propose_index(quick_job, folder, names)
    assert proposal.labels == ("M+030", "M+180", "U+045", "B-135")
    assert proposal.unknown_labels == ("M+180", "U+045", "B-135")
    assert proposal.unread == {"M-090.wav": "M-090.wav is not a WAV file"}


def test_the_proposal_imports_as_it_stands(quick_job, dropped, tmp_path):
    folder, drop = dropped
    proposal = commissioning.propose_index(
        quick_job, folder, [drop("M+030.wav", 2), drop("sub/M-030.wav", 2)]
    )
    index = folder / "index.csv"
    commissioning.write_cells(index, proposal.rows)
    assert commissioning.read_cells(index) == proposal.rows
    with create_job(tmp_path / "cinema", quick_job) as opened:
        surveyed = commissioning.import_recordings(opened, index, only_within=folder)
    assert surveyed.responses.present.shape == (2, 2)
    assert surveyed.responses.present.all()


def test_problems_are_told_by_line_without_the_folders_path(quick_job, dropped, tmp_path):
    folder, drop = dropped
    drop("good.wav")
    index = folder / "index.csv"
    commissioning.write_cells(
        index,
        [
            IndexCells(file="good.wav", channel="M+030", station="S-R1-1"),
            IndexCells(file="good.wav", channel="M+999", station="S-R1-1"),
            IndexCells(file="none.wav", channel="M-030", station="S-R1-1"),
            IndexCells(file="good.wav", channel="M+000", station="no good name"),
        ],
    )
    with create_job(tmp_path / "cinema", quick_job) as opened, pytest.raises(JobError) as caught:
        commissioning.import_recordings(opened, index, only_within=folder)
    found = commissioning.problems_by_line(caught.value, index)
    assert set(found) == {3, 4, 5}
    assert str(folder) not in str(found)
    assert found[4] == ["cannot read none.wav: it does not exist"]


def test_no_file_outside_the_folder_is_read(quick_job, dropped, tmp_path):
    folder, drop = dropped
    drop("good.wav")
    (tmp_path / "secret.wav").write_bytes((folder / "good.wav").read_bytes())
    (folder / "link.wav").symlink_to(tmp_path / "secret.wav")
    index = folder / "index.csv"
    names = ("../secret.wav", str(tmp_path / "secret.wav"), "link.wav", "sub/../../secret.wav")
    commissioning.write_cells(
        index,
        [IndexCells(file=n, channel="M+030", station=f"s{i}") for i, n in enumerate(names)],
    )
    with create_job(tmp_path / "cinema", quick_job) as opened:
        with pytest.raises(JobError) as caught:
            commissioning.import_recordings(opened, index, only_within=folder)
        assert not list((opened.path / "takes").glob("*"))
    assert len(caught.value.problems) == len(names)
    assert all("lies outside" in sentence for sentence in caught.value.problems)


def test_an_index_without_files_is_one_sentence(tmp_path):
    path = tmp_path / "index.csv"
    path.write_text("wav_channel,channel\n1,M+030\n")
    with pytest.raises(InputError, match="lacks the column file"):
        commissioning.read_cells(path)
