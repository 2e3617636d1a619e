"""The survey's screens on a real sound server, with the rehearsal room on its other end."""

from __future__ import annotations

import contextlib
import re
import time

import numpy as np
import pytest
from sound_cinema import dry, heard_by_capsules, heard_in
from sound_server import JACK, SoundServer, why_not
from web_server import LONG_MS, serving

from roomwright import commissioning
from roomwright.commissioning.survey.rehearse import with_simulated_microphone
from roomwright.model import Interface, RehearsalSetup, Sweep
from roomwright.store import create_job, load_job

pytestmark = [pytest.mark.browser, pytest.mark.skipif(bool(why_not()), reason=why_not())]

#: Noise of the room and the converter at the microphone's input: about 30 dB SPL.
NOISE_RMS = 2e-5

TURNED_DEG = 25.0

FIGURE = "Number(document.querySelector('.rw-meter .figure').textContent)"


@pytest.fixture
def cinema():
    """Two loudspeakers at one station, a cable as the time reference; no interface chosen yet."""
    job = commissioning.new_job(
        "Real sound",
        layout="M+030,M-030",
        room=commissioning.box_room((3.6, 4.8, 2.5)),
        rows=1,
        seats_per_row=1,
        sweep=Sweep(start_hz=20, stop_hz=12000, duration_s=1.8, lead_s=0.05, gap_s=0.15),
    )
    cable = len(job.outputs) + 1
    return dry(job).model_copy(
        update={
            "stations": job.stations[:1],
            "rehearsal": RehearsalSetup(latency_s=0.0, clock_error_ppm=0.0, distortion_percent=0.0),
            "interface": Interface(loop_back_input=2, loop_back_output=cable, ceiling_dbfs=-6.0),
        }
    )


@contextlib.contextmanager
def beside(tmp_path, job, heard, **others):
    """A web server beside a sound server with a cinema in it: its address, its job, the room.

    Without a microphone's sensitivity the job is given the simulated one. `others` are more
    devices of the sound server by name.
    """
    folder = tmp_path / "jobs"
    with create_job(folder / "cinema", job) as made:
        if job.microphone.sensitivity_pa is None:
            made.save(with_simulated_microphone(made, job))
    sound = SoundServer(tmp_path, shared=False)
    with contextlib.ExitStack() as ends:
        ends.callback(sound.break_down)
        room = sound.room("cinema", heard)
        room.noise(NOISE_RMS)
        for name, responses in others.items():
            sound.room(name, responses)
        web = ends.enter_context(serving(jobs=folder, settings=sound.settings))
        yield web.address, folder / "cinema", room


@pytest.fixture
def real(tmp_path, cinema):
    """The cinema, and a second device that somebody may have plugged the microphone into."""
    other = np.zeros((1, 2, 1, 8))
    with beside(tmp_path, cinema, heard_in(cinema), handheld=other) as found:
        yield found


@pytest.fixture
def capsules(tmp_path, cinema):
    """A microphone of four capsules, turned to the left, on the first inputs; a centre."""
    job = commissioning.new_job(
        "Four capsules",
        layout="M+000",
        room=cinema.room,
        rows=1,
        seats_per_row=1,
        sweep=cinema.sweep,
    )
    interface = cinema.interface.model_copy(
        update={"device": "cinema", "host_api": JACK, "loop_back_input": 5, "loop_back_output": 2}
    )
    microphone = job.microphone.model_copy(
        update={"capsule_radius_m": 0.02, "sensitivity_pa": 20.0}
    )
    job = job.model_copy(
        update={
            "stations": job.stations[:1],
            "rehearsal": cinema.rehearsal,
            "microphone": microphone,
            "interface": interface,
        }
    )
    with beside(tmp_path, job, heard_by_capsules(job, TURNED_DEG)) as found:
        yield found


def unfold(page, name):
    page.locator(".rw-tool").get_by_text(name, exact=True).click()
    page.get_by_role("region", name=name, exact=True).wait_for()


def saved(folder):
    return load_job((folder / "job.json").read_text("utf-8"), "job.json")


def wait_for_saved(folder, true):
    for _ in range(200):
        if true(saved(folder)):
            return
        time.sleep(0.05)
    raise AssertionError(saved(folder).interface)


def stop_button(page):
    return page.get_by_role("button", name="stop the sound (Escape)")


def test_a_station_is_measured_through_the_sound_server_by_the_screens(window, real):
    address, folder, room = real
    page = window(f"{address}/job/cinema?stage=survey")

    unfold(page, "Interface and microphone")
    page.get_by_role("button", name="Audio interface").click()
    page.get_by_text("found.").wait_for()
    page.get_by_role("combobox", name="interface", exact=True).click()
    page.get_by_role("option", name="cinema (JACK").click()
    page.get_by_role("button", name="Check it").click()
    page.get_by_text("It is there, and can do what this job needs of it.").wait_for()
    assert (saved(folder).interface.device, saved(folder).interface.host_api) == ("cinema", JACK)

    plugged = page.get_by_role("combobox", name="microphone plugged into")
    plugged.click()
    page.get_by_role("option", name="handheld").click()
    wait_for_saved(folder, lambda job: job.interface.microphone_device == "handheld")
    page.get_by_role("button", name="Check it").click()
    page.get_by_text("It is there, and can do what this job needs of it.").wait_for()
    plugged.click()
    page.get_by_role("option", name="the same interface").click()
    wait_for_saved(folder, lambda job: job.interface.microphone_device == "")

    unfold(page, "Meter and levels")
    page.get_by_role("button", name="Meter on").click()
    page.wait_for_function(f"{FIGURE} > 20 && {FIGURE} < 45")
    page.get_by_role("button", name="Play", exact=True).click()
    page.wait_for_function(f"{FIGURE} > 60")
    stop_button(page).wait_for()
    page.keyboard.press("Escape")
    page.wait_for_function(f"{FIGURE} < 45")
    stop_button(page).wait_for(state="hidden")

    unfold(page, "Measure")
    everything = page.get_by_role("button", name="Measure everything")
    everything.click()
    page.locator(".rw-next-station", has_text="Microphone to").wait_for()
    # the input is seen while the microphone is carried
    page.locator(".rw-input-now", has_text=re.compile(r"input now: [234]\d dB SPL")).wait_for()
    page.keyboard.press("Escape")
    page.locator(".rw-input-now", has_text="input now").wait_for(state="hidden")
    stop_button(page).wait_for(state="hidden")
    page.locator(".rw-task").wait_for(state="hidden")
    assert saved(folder).takes == ()

    everything.click()
    page.locator(".rw-next-station", has_text="Microphone to").wait_for()
    room.hurry()  # the stream is open by now, and no samples are lost from here on
    page.get_by_role("button", name="It stands there: go on (Enter)").click()
    page.locator(".rw-next-station", has_text="Nothing is missing").wait_for(timeout=LONG_MS)
    page.locator(".rw-verdict-list li", has_text="good").nth(2).wait_for()
    page.locator(".rw-task").wait_for(state="hidden")
    takes = saved(folder).takes
    assert {take.source for take in takes} == {"background", "M+030", "M-030"}
    assert {take.origin for take in takes} == {"device"}
    assert (folder / "exposure.json").is_file()


def test_a_dial_shows_the_turn_when_the_centre_was_measured(window, capsules):
    address, _, room = capsules
    page = window(f"{address}/job/cinema?stage=survey")
    unfold(page, "Interface and microphone")
    page.get_by_role("button", name="Audio interface").click()
    page.get_by_text("found.").wait_for()
    unfold(page, "Measure")
    page.get_by_role("button", name="Measure everything").click()
    page.locator(".rw-next-station", has_text="Microphone to").wait_for()
    room.hurry()
    page.get_by_role("button", name="It stands there: go on (Enter)").click()
    dial = page.get_by_role("img", name=re.compile(r"turn the microphone by \d+ degrees"))
    dial.wait_for(timeout=LONG_MS)
    says = dial.get_attribute("aria-label")
    (degrees, side) = re.search(r"by (\d+) degrees to the (\w+)", says).groups()
    assert side == "right"
    assert int(degrees) == pytest.approx(TURNED_DEG, abs=3)
    page.locator(".rw-task").wait_for(state="hidden", timeout=LONG_MS)
