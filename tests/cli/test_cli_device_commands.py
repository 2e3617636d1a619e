"""The commands about audio interfaces and playbacks, as a person meets them."""

from __future__ import annotations

import json
import sys

import pytest
from test_cli_commands import job, run

from roomwright.devices import AudioDevice
from roomwright.store import open_job

__all__ = ["job"]  # a fixture


@pytest.fixture
def devices(monkeypatch):
    """Two interfaces, as if they were plugged in."""
    import roomwright.commissioning.survey.choose_interface as chooses
    from roomwright._errors import DeviceError

    there = (AudioDevice("Blue Box", "ALSA", 4, 8, 0), AudioDevice("HDMI", "ALSA", 0, 8, 1))

    def check(interface, rate, outputs, capsules):
        if interface.device not in {device.name for device in there}:
            raise DeviceError(f"the interface {interface.device} is not there; plug it in")

    monkeypatch.setattr(chooses, "audio_devices", lambda: there)
    monkeypatch.setattr(chooses, "rates_hz", lambda device: (48000, 96000))
    monkeypatch.setattr(chooses, "check_interface", check)


def test_devices_are_listed(capsys, devices):
    code, out, _ = run(capsys, "devices")
    assert code == 0
    assert out.splitlines()[1].split("  ")[0] == "Blue Box"
    assert "48000, 96000" in out
    code, out, _ = run(capsys, "devices", "--json")
    assert json.loads(out)["devices"][1] == {
        "name": "HDMI",
        "host_api": "ALSA",
        "inputs": 0,
        "outputs": 8,
        "rates_hz": [48000, 96000],
    }


def test_an_interface_is_chosen_and_kept(capsys, job, devices):
    words = ("--device", "Blue Box", "--microphone", 2, "--loop-back", "8:3", "--ceiling", -6)
    code, out, _ = run(capsys, "interface", job, *words)
    assert code == 0
    assert "time reference: cable from output 8 to input 3" in out
    with open_job(job) as folder:
        kept = folder.job.interface
    assert (kept.device, kept.microphone_input, kept.loop_back_output) == ("Blue Box", 2, 8)
    code, out, _ = run(capsys, "interface", job, "--loop-back", "none", "--reference", 1)
    assert code == 0
    assert "chirps from output 1 of the processor" in out
    code, out, _ = run(capsys, "interface", job, "--json")
    assert json.loads(out)["interface"]["reference_output"] == 1


@pytest.mark.parametrize(
    ("words", "code", "sentence"),
    [
        ((), 3, "the interface  is not there"),
        (("--device", "Cupboard"), 3, "Cupboard is not there; plug it in"),
        (("--device", "HDMI", "--ceiling", 3), 2, "interface ceiling_dbfs: input should be less"),
        (("--loop-back", "8"), 2, "nothing stands where the number of a connector is needed"),
        (("--loop-back", "8:1"), 2, "cannot be both the microphone's and the loop-back's"),
        (("--reference", 14), 2, "output 14 drives nothing; the acoustic reference is one of 1, 2"),
    ],
)
def test_a_wrong_choice_is_one_sentence_and_changes_nothing(
    capsys, job, devices, words, code, sentence
):
    got, _, err = run(capsys, "interface", job, *words)
    assert got == code
    assert sentence in err
    assert len(err.splitlines()) == 1
    with open_job(job) as folder:
        assert folder.job.interface.device == ""


def test_a_missing_library_is_one_sentence(capsys, monkeypatch):
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    code, _, err = run(capsys, "devices")
    assert code == 3
    assert "python-sounddevice is missing" in err
    assert len(err.splitlines()) == 1


def test_a_playback_is_written(capsys, job):
    code, out, _ = run(capsys, "playback", job)
    assert code == 0
    assert "all-outputs.wav" in out
    assert "start low" in out
    code, out, _ = run(capsys, "playback", job, "--apart", "--json")
    names = [name.rpartition("/")[2] for name in json.loads(out)["files"]]
    assert names[:2] == ["what-to-play.txt", "output-01-M+030.wav"]


def test_a_recording_that_is_not_there_is_one_sentence(capsys, job):
    code, _, err = run(capsys, "playback", job, job / "nowhere.wav")
    assert code == 2
    assert "nowhere.wav: it does not exist" in err
