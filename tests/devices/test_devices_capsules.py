"""A microphone of four capsules through the real sound server: its turn is told by one take."""

from __future__ import annotations

import re

import pytest
from sound_cinema import dry, heard_by_capsules
from sound_engineer import Engineer
from sound_server import JACK, RATE, WIRE, why_not

from roomwright import commissioning
from roomwright._errors import DeviceError
from roomwright.commissioning.survey.facing import facing_of_take
from roomwright.devices import check_interface
from roomwright.measurement import Recording
from roomwright.model import Interface, RehearsalSetup, Sweep
from roomwright.store import create_job, open_job

RADIUS_M, TURNED_DEG = 0.02, 25.0


@pytest.fixture(scope="module")
def cinema():
    """Three fronts at one station; the capsules on inputs 1 to 4, the cable on 5."""
    job = dry(
        commissioning.new_job(
            "Capsules",
            layout="M+030,M-030,M+000",
            room=commissioning.box_room((3.6, 4.8, 2.5)),
            rows=1,
            seats_per_row=1,
            sweep=Sweep(start_hz=20, stop_hz=12000, duration_s=1.0, lead_s=0.05, gap_s=0.15),
        )
    )
    return job.model_copy(
        update={
            "stations": job.stations[:1],
            "rehearsal": RehearsalSetup(latency_s=0.0, clock_error_ppm=0.0, distortion_percent=0.0),
            "microphone": job.microphone.model_copy(
                update={"capsule_radius_m": RADIUS_M, "sensitivity_pa": 20.0}
            ),
            "interface": Interface(
                device="cinema",
                host_api=JACK,
                loop_back_input=5,
                loop_back_output=4,
                ceiling_dbfs=-6.0,
            ),
        }
    )


@pytest.fixture(scope="module")
def heard(cinema):
    """The rehearsal room with four capsules turned to the left, and the cable."""
    return heard_by_capsules(cinema, TURNED_DEG)


@pytest.mark.skipif(bool(why_not()), reason=why_not())
def test_the_first_take_of_the_centre_tells_the_turn(tmp_path, cinema, heard):
    path = tmp_path / "job"
    with create_job(path, cinema):
        pass
    engineer = Engineer(path, heard, cinema)
    assert engineer.wait() == 0, engineer.said
    # Said once, while it is measured; two centimetres of radius tell a degree or two.
    (says,) = re.findall(r"turn the microphone by (\d+) degrees to the right", engineer.said)
    assert int(says) == pytest.approx(TURNED_DEG, abs=3)
    with open_job(path) as folder:
        swept = [take for take in folder.job.takes if take.kind == "take"]
        # The centre came first.
        assert swept[0].source == "M+000"
        assert len(swept) == 3
        # All capsules are kept: the take tells the same later.
        samples, rate = folder.read_take(swept[0].file, swept[0].sha256)
        assert samples.shape[0] == 5
        again = facing_of_take(folder.job, swept[0], Recording(samples[:2], rate, (), samples[2:]))
        assert round(abs(again.turn_deg)) == int(says)


@pytest.mark.skipif(bool(why_not()), reason=why_not())
def test_the_command_takes_one_sweep_of_the_centre_and_tells_the_turn(tmp_path, cinema, heard):
    path, station = tmp_path / "job", cinema.stations[0].id
    with create_job(path, cinema):
        pass
    words = ("--live", "--station", station)
    engineer = Engineer(path, heard, cinema, *words, command="facing")
    assert engineer.wait() == 0, engineer.said
    (says,) = re.findall(r"turn the microphone by (\d+) degrees to the right", engineer.printed)
    assert int(says) == pytest.approx(TURNED_DEG, abs=3)
    with open_job(path) as folder:
        (take,) = folder.job.takes
        assert (take.source, take.station, take.origin) == ("M+000", station, "device")


def test_a_loop_back_on_a_capsule_is_refused(wire):
    crossed = WIRE.model_copy(update={"loop_back_input": 3, "loop_back_output": 16})
    with pytest.raises(DeviceError, match="capsules are on inputs 1 to 4"):
        check_interface(crossed, RATE, 15, 4)
    with pytest.raises(DeviceError, match="input 4 does not exist"):
        check_interface(WIRE, RATE, 15, 4)
