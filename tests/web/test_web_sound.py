"""The survey's screens on a real sound server, with the rehearsal room on its other end."""

from __future__ import annotations

import contextlib

import pytest
from sound_cinema import dry, heard_in
from sound_server import JACK, SoundServer, why_not
from web_server import LONG_MS, serving

from roomwright import commissioning
from roomwright.commissioning.survey.rehearse import with_simulated_microphone
from roomwright.model import Interface, RehearsalSetup, Sweep
from roomwright.store import create_job, load_job

pytestmark = [pytest.mark.browser, pytest.mark.skipif(bool(why_not()), reason=why_not())]

#: Noise of the room and the converter at the microphone's input: about 30 dB SPL.
NOISE_RMS = 2e-5

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


@pytest.fixture
def real(tmp_path, cinema):
    """A web server beside a sound server with the cinema in it: its address, its job, the room."""
    folder = tmp_path / "jobs"
    with create_job(folder / "cinema", cinema) as made:
        made.save(with_simulated_microphone(made, cinema))
    sound = SoundServer(tmp_path, shared=False)
    with contextlib.ExitStack() as ends:
        ends.callback(sound.break_down)
        room = sound.room("cinema", heard_in(cinema))
        room.noise(NOISE_RMS)
        web = ends.enter_context(serving(jobs=folder, settings=sound.settings))
        yield web.address, folder / "cinema", room


def unfold(page, name):
    page.locator(".rw-tool").get_by_text(name, exact=True).click()
    page.get_by_role("region", name=name, exact=True).wait_for()


def saved(folder):
    return load_job((folder / "job.json").read_text("utf-8"), "job.json")


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
    page.keyboard.press("Escape")
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
