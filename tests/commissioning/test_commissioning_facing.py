"""A badly turned microphone of four capsules is told by the first take of the centre."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright import commissioning
from roomwright._errors import InputError
from roomwright.analysis import capsules_m
from roomwright.commissioning.survey.facing import facing_of_recording, rehearse_facing
from roomwright.model import Sweep
from roomwright.rehearsal import RehearsalRoom
from roomwright.signals import excitation
from roomwright.store import encode_wav


@pytest.fixture(scope="module")
def job():
    made = commissioning.new_job(
        "Turned room",
        layout="5.1.2",
        room=commissioning.box_room((4.4, 5.6, 2.6)),
        rows=1,
        seats_per_row=1,
        sweep=Sweep(duration_s=1.0),
    )
    microphone = made.microphone.model_copy(update={"capsule_radius_m": 0.02})
    return made.model_copy(update={"microphone": microphone})


@pytest.mark.parametrize("turned_deg", [0.0, -25.0, 140.0])
def test_the_turn_is_told_after_one_take(job, turned_deg):
    found = rehearse_facing(job, "M+000", job.stations[0].id, turned_deg)
    # Two centimetres of radius, a microsecond of timing: 0.6 degrees; the rest is reflections.
    assert (found.turn_deg + turned_deg + 180) % 360 - 180 == pytest.approx(0, abs=2)
    assert found.seen.elevation_deg == pytest.approx(found.planned.elevation_deg, abs=2)
    assert found.seen.distance_m == pytest.approx(found.planned.distance_m, abs=0.05)
    if turned_deg == 0.0:
        assert "faces ahead" in found.says
    else:
        side = "right" if turned_deg > 0 else "left"
        assert f"{abs(turned_deg):.0f}" in found.says or abs(turned_deg) > 100
        assert side in found.says


def test_a_recording_of_four_channels_tells_the_same(job, tmp_path):
    station = job.stations[0]
    device = RehearsalRoom(job)
    signal = excitation(job.sweep, job.sampling_rate_hz)
    number = next(output.number for output in job.outputs if output.drives == "M+000")
    channels = []
    for offset in capsules_m(0.02):
        device.place_microphone(tuple(np.add(station.position_m, offset)))
        recording = device.play_and_record({number: signal})
        # The room draws another latency for every call; a real recorder has one for all capsules.
        lag = int(np.argmax(np.correlate(recording.reference, signal, "valid")))
        channels.append(recording.microphone[lag : lag + signal.size])
    path = tmp_path / "capsules.wav"
    path.write_bytes(encode_wav(np.array(channels), job.sampling_rate_hz))
    found = facing_of_recording(job, path, "M+000", station.id)
    # Whole samples of lag leave up to 10 microseconds: ten degrees at this radius.
    assert abs(found.turn_deg) < 15
    assert np.isnan(found.seen.distance_m)


def test_what_cannot_be_said_says_why(job, tmp_path):
    station = job.stations[0].id
    one = job.model_copy(
        update={"microphone": job.microphone.model_copy(update={"capsule_radius_m": None})}
    )
    with pytest.raises(InputError, match="one capsule"):
        rehearse_facing(one, "M+000", station)
    with pytest.raises(InputError, match="no output drives X"):
        rehearse_facing(job, "X", station)
    with pytest.raises(InputError, match="is no station"):
        rehearse_facing(job, "M+000", "nowhere")
    path = tmp_path / "two.wav"
    path.write_bytes(encode_wav(np.zeros((2, 1000), np.float32), job.sampling_rate_hz))
    with pytest.raises(InputError, match="2 channels"):
        facing_of_recording(job, path, "M+000", station)
    path.write_bytes(encode_wav(np.zeros((4, 1000), np.float32), 44100))
    with pytest.raises(InputError, match="44100 Hz"):
        facing_of_recording(job, path, "M+000", station)
