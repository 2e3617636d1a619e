"""Importing recordings: every row is checked, and bad input leaves the job as it was."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import fftconvolve

from roomwright import commissioning
from roomwright._errors import InputError, JobError
from roomwright.signals import excitation, resample
from roomwright.store import create_job, encode_wav

RATE = 48000


@pytest.fixture
def folder(tmp_path, quick_job):
    with create_job(tmp_path / "cinema", quick_job) as opened:
        yield opened


@pytest.fixture
def impulse():
    """A direct sound at 10 ms and a decay of 0.3 s, 48 kHz."""
    rng = np.random.default_rng(7)
    time = np.arange(RATE // 2) / RATE
    samples = 0.02 * rng.standard_normal(time.size) * 10 ** (-3 * time / 0.3)
    samples[: RATE // 100] = 0.0
    samples[RATE // 100] = 0.5
    return samples.astype(np.float32)


@pytest.fixture
def recorded(quick_job, impulse):
    """The job's sweep through that response, with noise and a clock error of 40 ppm."""
    rng = np.random.default_rng(8)
    played = excitation(quick_job.sweep, RATE).astype(np.float64)
    heard = fftconvolve(played, impulse)[: played.size + RATE // 4]
    heard = resample(heard, 1 + 40e-6)
    return (heard + 1e-5 * rng.standard_normal(heard.size)).astype(np.float32)


def save(tmp_path, name, samples, rate=RATE):
    (tmp_path / name).write_bytes(encode_wav(samples, rate))


def test_a_response_and_a_take_of_it_give_the_same_response(
    folder, tmp_path, write_index, impulse, recorded
):
    save(tmp_path, "ir.wav", impulse)
    save(tmp_path, "take.wav", recorded)
    index = write_index(
        [
            ("ir.wav", 1, "M+030", "S-R1-1", "response"),
            ("take.wav", 1, "M-030", "S-R1-1", "take"),
        ]
    )
    responses = commissioning.import_recordings(folder, index).responses
    assert responses.sources == ("M+030", "M-030")
    one, other = np.abs(responses.spectra()[:, 0])
    f = responses.frequencies_hz()
    band = (f > 40) & (f < 18000)
    difference_db = 20 * np.log10(other[band] / one[band])
    # Noise 80 dB under the sweep, over a whole take: 0.2 dB rms leaves room for the dips.
    assert np.sqrt(np.mean(difference_db**2)) < 0.2
    assert responses.clock_error_ppm[1, 0] == pytest.approx(40, abs=0.5)


def test_positions_and_new_stations_come_from_the_index(folder, tmp_path, write_index, impulse):
    save(tmp_path, "ir.wav", impulse)
    columns = ("file", "wav_channel", "channel", "station", "kind", "x_m", "y_m", "z_m")
    index = write_index(
        [
            ("ir.wav", 1, "M+030", "extra", "response", 1.0, 2.0, 1.1),
            ("ir.wav", 1, "M-030", "R1-1", "response", "", "", ""),
        ],
        columns,
    )
    job = commissioning.import_recordings(folder, index).job
    assert job.station("extra").position_m == (1.0, 2.0, 1.1)
    assert job.station("R1-1").seat == "R1-1"
    assert job.station("R1-1").position_m is None


def test_one_file_of_several_channels_is_stored_once(folder, tmp_path, write_index, impulse):
    save(tmp_path, "both.wav", np.stack([impulse, 0.5 * impulse]))
    index = write_index(
        [
            ("both.wav", 1, "M+030", "S-R1-1", "response"),
            ("both.wav", 2, "M-030", "S-R1-1", "response"),
        ]
    )
    surveyed = commissioning.import_recordings(folder, index)
    assert len(list((folder.path / "takes").iterdir())) == 1
    energy = np.sum(surveyed.responses.samples[:, 0] ** 2, axis=-1)
    assert energy[0] / energy[1] == pytest.approx(4.0, rel=1e-3)


def test_a_later_import_replaces_the_same_pair_only(folder, tmp_path, write_index, impulse):
    save(tmp_path, "a.wav", impulse)
    save(tmp_path, "b.wav", 0.5 * impulse)
    pairs = [("M+030", "S-R1-1"), ("M-030", "S-R1-1")]
    commissioning.import_recordings(
        folder, write_index([("a.wav", 1, *pair, "response") for pair in pairs])
    )
    surveyed = commissioning.import_recordings(
        folder, write_index([("b.wav", 1, *pairs[0], "response")])
    )
    assert len(surveyed.job.takes) == 2
    energy = dict(
        zip(
            surveyed.responses.sources,
            np.sum(surveyed.responses.samples[:, 0] ** 2, axis=-1),
            strict=True,
        )
    )
    assert energy["M-030"] / energy["M+030"] == pytest.approx(4.0, rel=1e-3)


def test_a_reference_channel_gives_exact_arrivals(
    folder, tmp_path, write_index, recorded, quick_job
):
    played = excitation(quick_job.sweep, RATE)
    late = np.pad(recorded, (777, 0))  # the recorder started 777 samples early
    reference = np.pad(played, (777, 0)).astype(np.float64)
    reference = resample(reference, 1 + 40e-6).astype(np.float32)
    size = max(late.size, reference.size)
    both = np.stack([np.pad(x, (0, size - x.size)) for x in (late, reference)])
    save(tmp_path, "take.wav", both)
    index = write_index(
        [
            ("take.wav", 1, "M+030", "S-R1-1", "take"),
            ("take.wav", 2, "reference", "S-R1-1", "take"),
        ]
    )
    responses = commissioning.import_recordings(folder, index).responses
    assert responses.timed
    peak = int(np.argmax(np.abs(responses.samples[0, 0])))
    assert peak == pytest.approx(RATE // 100, abs=1)


BAD_ROWS = {
    "unknown channel": (("good.wav", 1, "M+999", "S-R1-1", "response"), "channel M+999 is not one"),
    "unknown kind": (("good.wav", 1, "M+030", "S-R1-1", "song"), "kind is 'song'"),
    "no such file": (("none.wav", 1, "M+030", "S-R1-1", "response"), "it does not exist"),
    "no such wav channel": (("good.wav", 3, "M+030", "S-R1-1", "response"), "wav_channel 3"),
    "wav channel zero": (("good.wav", 0, "M+030", "S-R1-1", "response"), "counts from 1"),
    "bad station name": (("good.wav", 1, "M+030", "seat one", "response"), "station is 'seat one'"),
    "empty station": (("good.wav", 1, "M+030", "", "response"), "the column station is empty"),
    "not a WAV": (("text.wav", 1, "M+030", "S-R1-1", "response"), "is not a WAV file"),
    "0 bytes": (("empty.wav", 1, "M+030", "S-R1-1", "response"), "is empty (0 bytes)"),
    "wrong rate": (("rate.wav", 1, "M+030", "S-R1-1", "response"), "44100 Hz; this job works at"),
    "NaN": (("nan.wav", 1, "M+030", "S-R1-1", "response"), "not a number"),
    "silence": (("silent.wav", 1, "M+030", "S-R1-1", "take"), "silent"),
    "silent response": (("silent.wav", 1, "M+030", "S-R1-1", "response"), "silent"),
    "clipping": (("clipped.wav", 1, "M+030", "S-R1-1", "take"), "clip"),
    "truncated sweep": (("short.wav", 1, "M+030", "S-R1-1", "take"), "short"),
}


@pytest.mark.parametrize("case", BAD_ROWS)
def test_bad_input_is_one_sentence_with_file_and_line_and_the_job_stays(
    folder, tmp_path, write_index, impulse, recorded, quick_job, case
):
    save(tmp_path, "good.wav", impulse)
    (tmp_path / "text.wav").write_text("not audio")
    (tmp_path / "empty.wav").write_bytes(b"")
    save(tmp_path, "rate.wav", impulse, 44100)
    save(tmp_path, "nan.wav", np.where(np.arange(impulse.size) == 99, np.nan, impulse))
    save(tmp_path, "silent.wav", np.zeros(recorded.size, np.float32))
    save(tmp_path, "clipped.wav", np.clip(40 * recorded, -1, 1).astype(np.float32))
    save(tmp_path, "short.wav", recorded[: recorded.size // 3])
    row, says = BAD_ROWS[case]
    index = write_index([("good.wav", 1, "M-030", "S-R1-1", "response"), row])
    with pytest.raises(JobError) as caught:
        commissioning.import_recordings(folder, index)
    assert len(caught.value.problems) == 1
    sentence = caught.value.problems[0]
    assert says in sentence
    assert f"{index} line 3" in sentence
    assert "\n" not in sentence
    assert folder.job == quick_job
    assert not list((folder.path / "takes").glob("*"))


def test_all_bad_rows_are_said_at_once(folder, tmp_path, write_index, impulse):
    save(tmp_path, "good.wav", impulse)
    index = write_index(
        [
            ("good.wav", 1, "M+999", "S-R1-1", "response"),
            ("none.wav", 1, "M+030", "S-R1-1", "response"),
            ("good.wav", 1, "M-030", "S-R1-1", "response"),
            ("good.wav", 1, "M-030", "S-R1-1", "response"),
        ]
    )
    with pytest.raises(JobError) as caught:
        commissioning.import_recordings(folder, index)
    assert len(caught.value.problems) == 3


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ("", "lacks the column file"),
        ("file,wav_channel,channel,station\n", "lacks the column kind"),
        ("file,wav_channel,channel,station,kind\n", "lists no recordings"),
        (b"\xff\xfe\x00", "is not UTF-8 text"),
    ],
)
def test_an_index_that_is_none_is_one_sentence(folder, tmp_path, content, says):
    path = tmp_path / "index.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    with pytest.raises(InputError, match=says):
        commissioning.import_recordings(folder, path)


def test_stations_without_a_place_are_imported_too(folder, tmp_path, write_index, impulse):
    save(tmp_path, "ir.wav", impulse)
    index = write_index([("ir.wav", 1, "M+030", "somewhere", "response")])
    surveyed = commissioning.import_recordings(folder, index)
    assert surveyed.responses.stations == ("somewhere",)
    assert surveyed.job.station("somewhere").position_m is None
