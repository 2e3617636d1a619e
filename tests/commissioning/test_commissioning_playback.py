"""File exchange from end to end: the written files played in the rehearsal room, and read back."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile

from roomwright import commissioning, store
from roomwright._errors import InputError, JobError
from roomwright.model import RehearsalSetup, Sweep
from roomwright.rehearsal import RehearsalRoom
from roomwright.signals import amplitude_db, resample
from roomwright.store import read_wav

RATE = 48000
SWEEP = Sweep(duration_s=1.0, tail_s=0.6, stop_hz=21000.0, level_dbfs=-12)


@pytest.fixture
def folder(tmp_path, small_job):
    job = small_job.model_copy(
        update={"sweep": SWEEP, "rehearsal": RehearsalSetup(clock_error_ppm=60.0)}
    )
    with store.create_job(tmp_path / "job", job) as made:
        yield made


def heard(job, files, station, *, apart=False):
    """What a recorder at a station makes of the files, played in the rehearsal room."""
    room = RehearsalRoom(job)
    room.place_microphone(job.station(station).position_m)
    recordings = []
    for file in files:
        channels, _ = read_wav(file)
        first = int(file.stem.split("-")[1]) if apart else 1
        numbers = {output.number for output in job.outputs}
        signals = {first + n: samples for n, samples in enumerate(channels)}
        played = {n: samples for n, samples in signals.items() if n in numbers}
        recordings.append(room.play_and_record(played).microphone)
    return recordings


def write(path, *pieces, rate=RATE):
    """One recording, with silence around the pieces; 24 bit as recorders make it."""
    silence = np.zeros(round(0.9 * RATE), dtype=np.float32)
    samples = np.concatenate([part for piece in pieces for part in (silence, piece)])
    if rate != RATE:
        samples = resample(samples, rate / RATE)
    soundfile.write(path, samples, rate, "PCM_24")
    return path


@pytest.fixture
def recordings(folder, tmp_path):
    """One file a station, named after it."""
    _, wav = commissioning.write_playback(folder)
    made = []
    for station in folder.job.stations:
        (microphone,) = heard(folder.job, [wav], station.id)
        made.append(write(tmp_path / f"rec {station.id}.wav", microphone))
    return made


def test_the_folder_says_what_to_play_where(folder):
    sheet, wav = commissioning.write_playback(folder)
    text = sheet.read_text()
    for words in ("M+030", "SW1", "S-R1-2", "all-outputs.wav", "loud and sudden", "24 bit"):
        assert words in text
    info = soundfile.info(str(wav))
    # A channel for each output, and one for the cable.
    assert (info.channels, info.subtype, info.samplerate) == (4, "PCM_24", RATE)
    channels, _ = read_wav(wav)
    peaks = amplitude_db(np.abs(channels).max(axis=1))
    np.testing.assert_allclose(peaks, SWEEP.level_dbfs, atol=0.01)


def test_what_comes_back_measures_as_the_survey_does(folder, recordings, tmp_path):
    """Against the loop-back of the rehearsal: responses alike, the distances found alike."""
    surveyed = commissioning.read_playback(folder, recordings)
    job = folder.job
    assert {(take.source, take.station) for take in job.takes} == {
        (unit.id, station.id) for unit in job.units for station in job.stations
    }
    assert {(take.origin, take.chirps_from) for take in job.takes} == {("device", "M+030")}
    assert surveyed.responses.timed
    (clock,) = (f for f in surveyed.findings if f.where == "the recorder's clock")
    assert "+60.0 ppm" in clock.text
    played = surveyed.responses.samples
    with store.create_job(tmp_path / "other", job.model_copy(update={"takes": ()})) as other:
        looped = commissioning.rehearse(other).responses
    n = min(played.shape[-1], looped.samples.shape[-1])
    for row, source in enumerate(surveyed.responses.sources):
        spectra = [
            np.fft.rfft(r.samples[r.sources.index(source), 0, :n])
            for r in (surveyed.responses, looped)
        ]
        low, high = (30, 100) if source == "SW1" else (200, 5000)
        band = slice(*(np.array([low, high]) * n // RATE))
        likeness = np.vdot(spectra[0][band], spectra[1][band])
        likeness /= np.linalg.norm(spectra[0][band]) * np.linalg.norm(spectra[1][band])
        # Same shape but for the noise; same time to within the first peak of the reference.
        assert abs(likeness) > 0.99, source
        assert row < len(played)


def test_one_long_recording_at_another_rate_is_the_same_to_it(folder, recordings, tmp_path):
    pieces = [read_wav(file)[0][0] for file in recordings]
    long = write(tmp_path / "long.wav", *pieces, rate=44100)
    surveyed = commissioning.read_playback(folder, [long])
    assert surveyed.responses.stations == ("S-R1-1", "S-R1-2")
    assert len(folder.job.takes) == 6


def test_outputs_played_one_by_one_in_any_order_are_named(folder, tmp_path):
    _, *files = commissioning.write_playback(folder, apart=True)
    assert [file.name for file in files] == [
        "output-01-M+030.wav",
        "output-02-M-030.wav",
        "output-03-SW1.wav",
    ]
    pieces = heard(folder.job, files, "S-R1-1", apart=True)
    recorded = write(tmp_path / "s-r1-1.wav", pieces[2], pieces[0], pieces[1])
    surveyed = commissioning.read_playback(folder, [recorded], apart=True)
    assert {take.source for take in folder.job.takes} == {"M+030", "M-030", "SW1"}
    assert not surveyed.responses.timed
    assert any("arrival says nothing" in finding.text for finding in surveyed.findings)


def refusals(surveyed):
    return {f.where: f.text for f in surveyed.findings if f.severity == "refusal"}


def test_every_sweep_that_is_not_there_is_one_sentence(folder, recordings, tmp_path):
    """Cut off at one station; clipped at the other."""
    early, _ = read_wav(recordings[0])
    loud, _ = read_wav(recordings[1])
    size = early.shape[1]
    cut = write(tmp_path / "S-R1-1.wav", early[0, : size - round(1.8 * RATE)])
    peak = np.abs(loud[0]).max()
    clipped = write(tmp_path / "S-R1-2.wav", np.clip(loud[0] * 4 / peak, -1, 1))
    said = refusals(commissioning.read_playback(folder, [cut, clipped]))
    assert "cut off" in said.pop("SW1 at S-R1-1")
    assert said
    for text in said.values():
        assert "is clipped at sample" in text


def test_a_sweep_found_twice_is_not_chosen_from(folder, recordings):
    twice = [recordings[0], recordings[0]]
    with pytest.raises(JobError) as refused:
        commissioning.read_playback(folder, twice, stations=["S-R1-1", "S-R1-1"])
    assert "output 1 was found 2 times, in rec S-R1-1.wav at" in refused.value.problems[0]
    assert folder.job.takes == ()
    commissioning.read_playback(folder, twice, stations=["-", "S-R1-1"])
    assert len(folder.job.takes) == 3


def test_what_does_not_fit_is_one_sentence(folder, recordings, tmp_path):
    unnamed = write(tmp_path / "take one.wav", read_wav(recordings[0])[0][0])
    with pytest.raises(InputError, match=r"run 1 times \(take one.wav at \d s\).* the 2 stations"):
        commissioning.read_playback(folder, [unnamed])
    with pytest.raises(InputError, match="station Z is not one of S-R1-1, S-R1-2"):
        commissioning.read_playback(folder, [unnamed], stations=["Z"])
    with pytest.raises(InputError, match="has 1 channels; channel 2 is not there"):
        commissioning.read_playback(folder, [unnamed], reference_channel=2)
    hum = tmp_path / "hum.wav"
    soundfile.write(hum, 0.1 * np.sin(np.arange(5 * RATE) / 153), RATE)
    with pytest.raises(InputError, match=r"hum.wav holds no sweep of this job's playback"):
        commissioning.read_playback(folder, [hum])
