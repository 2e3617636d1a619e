"""The survey's tools in a browser, on the rehearsal room: levels, meter, stations, measuring."""

from __future__ import annotations

import math

import pytest
from test_web_accessibility import found
from web_server import LONG_MS, READY

from roomwright import commissioning
from roomwright.commissioning.levels import reference as level_reference
from roomwright.model import Fault, Station, Sweep
from roomwright.store import open_job

pytestmark = pytest.mark.browser


@pytest.fixture
def job():
    """Three loudspeakers and a subwoofer at three stations."""
    made = commissioning.new_job(
        "Tools",
        layout="M+030,M-030,M+000,LFE1",
        room=commissioning.box_room((4.4, 5.6, 2.6)),
        rows=1,
        seats_per_row=2,
        sweep=Sweep(duration_s=0.5),
    )
    return made.model_copy(update={"stations": made.stations[:2]})


@pytest.fixture
def tool(window, put_job, job):
    """Opens the survey with one tool unfolded; the page, and the job as served."""

    def open_tool(name, served=None):
        served = put_job(job) if served is None else served
        page = window(f"{served.address}?stage=survey")
        unfold(page, name)
        return page, served

    return open_tool


def unfold(page, name):
    page.get_by_role("button", name=name, exact=True).click()
    page.get_by_role("region", name=name, exact=True).wait_for()


def meter_on(page):
    page.get_by_role("button", name="Meter on").click()
    page.wait_for_function(
        "/^[0-9]+[.][0-9]$/.test(document.querySelector('.rw-meter .figure').textContent)"
    )


def stop_button(page):
    return page.get_by_role("button", name="stop the sound (Escape)")


def chosen(page):
    return page.locator(".rw-levels tr.chosen")


def test_the_meter_shows_level_and_spectrum_and_two_windows_share_it(tool):
    page, served = tool("Meter and levels")
    meter_on(page)
    assert page.locator(".rw-meter .name").inner_text() == "dB LCS"
    page.get_by_role("button", name="LAF").click()
    page.wait_for_function("document.querySelector('.rw-meter .name').textContent === 'dB LAF'")
    page.wait_for_function("Number(document.querySelector('.rw-meter').dataset.updates) > 20")
    drawn = page.evaluate(
        """() => { const canvas = document.querySelector('.rw-meter canvas');
        const data = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;
        return data.some((value) => value > 0); }"""
    )
    assert drawn
    other, _ = tool("Meter and levels", served)
    other.get_by_role("button", name="Meter off").click()
    page.get_by_role("button", name="Meter on").wait_for()
    page.wait_for_function("document.querySelector('.rw-meter .figure').textContent === '–'")


def test_levels_are_set_by_keys_alone(tool):
    page, served = tool("Meter and levels")
    first = served.job.outputs[0].drives
    page.locator(".rw-levels-box").focus()
    page.keyboard.press("ArrowDown")
    page.locator(f".rw-levels tr.chosen[data-drives='{served.job.outputs[1].drives}']").wait_for()
    page.keyboard.press("ArrowUp")
    page.locator(f".rw-levels tr.chosen[data-drives='{first}']").wait_for()
    step = served.job.processor.gain_step_db
    page.keyboard.press("ArrowRight")
    chosen(page).get_by_text(f"{step:+.1f}", exact=True).wait_for()
    assert served.job.levels.trim_db(first) == pytest.approx(step)
    page.keyboard.press("m")
    page.locator(".rw-levels tr.chosen td.asked", has_text=".").wait_for()
    asked = float(chosen(page).locator("td.asked").inner_text())
    page.keyboard.press("Enter")
    page.locator(f".rw-levels tr.chosen[data-drives='{served.job.outputs[1].drives}']").wait_for()
    page.locator(f".rw-levels tr[data-drives='{first}'] td.good").wait_for()
    assert served.job.levels.trim_db(first) == pytest.approx(asked, abs=0.06)


def test_escape_stops_the_sound_while_a_field_is_focused_and_on_every_stage(tool):
    page, _ = tool("Meter and levels")
    page.get_by_role("button", name="Play", exact=True).click()
    stop_button(page).wait_for()
    page.get_by_label("wanted, dB SPL").focus()
    page.keyboard.press("Escape")
    stop_button(page).wait_for(state="hidden")
    page.get_by_role("button", name="Play", exact=True).click()
    stop_button(page).wait_for()
    page.locator(".rw-step").nth(4).click()
    page.locator(".rw-step[aria-current] b", has_text="tuning").wait_for()
    stop_button(page).click()
    stop_button(page).wait_for(state="hidden")


def test_all_levels_by_itself_then_stored_and_returned_to(tool):
    page, served = tool("Meter and levels")
    page.get_by_label("subwoofers by, dB").fill("3")
    page.keyboard.press("Tab")
    page.locator(".rw-levels tr.line", has_text="78.0").first.wait_for()
    page.get_by_role("button", name="Set all levels by itself").click()
    outputs = len(served.job.outputs)
    page.wait_for_function(
        f"document.querySelectorAll('.rw-levels td.good').length === {outputs}"
        " && getComputedStyle(document.querySelector('.rw-task')).display === 'none'"
    )
    assert len(served.job.levels.trims) == outputs
    page.get_by_role("button", name="Store the reference level").click()
    page.get_by_text("Stored: ").wait_for()
    reference = served.job.levels.reference
    assert reference is not None
    assert reference.drives == level_reference.reference_output(served.job)
    page.get_by_role("button", name="Return to the stored level").click()
    page.get_by_text("nothing is to be changed").wait_for()


def test_stations_are_planned_by_task_and_printed(tool):
    page, served = tool("Where to measure")
    page.get_by_role("combobox", name="task of the stations").click()
    page.get_by_role("option", name="seats and a grid for bass control").click()
    page.get_by_label("control up to, Hz").fill("80")
    page.get_by_role("button", name="Plan the stations").click()
    page.get_by_text("stations take").wait_for()
    page.wait_for_function("document.querySelectorAll('[data-plane=plan] .item').length > 8")
    assert len(served.job.stations) > 4
    for kind, start in (("PDF", b"%PDF"), ("SVG", b"<")):
        with page.expect_download() as download:
            page.get_by_role("button", name=f"Print: {kind}").click()
        assert download.value.path().read_bytes().startswith(start)


def test_the_interface_says_why_it_cannot_be_used_and_keeps_what_is_typed(tool):
    page, served = tool("Interface and microphone")
    page.get_by_role("button", name="Audio interface", exact=True).click()
    page.get_by_role("button", name="Check it").click()
    page.get_by_text("no audio interface yet").wait_for()
    page.get_by_label("cable out > in").fill("8 > 2")
    page.keyboard.press("Enter")
    page.get_by_text("cable from output 8 to input 2").wait_for()
    assert served.job.interface.timing == "loop-back"
    page.get_by_label("cable out > in").fill("8")
    page.keyboard.press("Enter")
    page.get_by_text("the output and the input of the cable").wait_for()
    page.get_by_label("full scale, dB SPL").fill("120")
    page.keyboard.press("Enter")
    page.get_by_text("120.0 dB SPL").wait_for()
    assert served.job.microphone.sensitivity_pa == pytest.approx(28.28, rel=1e-3)
    unfold(page, "Meter and levels")
    page.get_by_role("button", name="Meter on").click()
    meter = page.get_by_role("region", name="Meter and levels")
    meter.get_by_text("no audio interface yet").wait_for()


def test_a_badly_turned_microphone_is_shown_as_a_dial(tool):
    page, _ = tool("Interface and microphone")
    page.get_by_label("capsule radius, mm").fill("12")
    page.keyboard.press("Enter")
    unfold(page, "Where loudspeakers are")
    page.get_by_label("turned to the left by").fill("40")
    page.get_by_role("button", name="Rehearse the first take").click()
    dial = page.locator(".rw-dial")
    dial.wait_for()
    assert dial.get_attribute("aria-label").startswith("turn the microphone by 40 degrees to the r")


def test_a_place_that_was_heard_is_taken_over_into_the_plan(tool, put_job, job):
    outputs = tuple(output for output in job.outputs if output.drives == "M+030")
    x, y, z = job.seat(job.main_seat).position_m
    places = ((x, y, z), (x - 0.8, y, z), (x + 0.8, y, z + 0.3), (x, y + 0.7, z), (x, y, z + 0.5))
    stations = tuple(
        Station(id=f"P{number}", position_m=place) for number, place in enumerate(places)
    )
    displaced = Fault(kind="displaced", output=outputs[0].number, amount=0.5)
    rehearsal = job.rehearsal.model_copy(update={"faults": (displaced,)})
    served = put_job(
        job.model_copy(update={"outputs": outputs, "stations": stations, "rehearsal": rehearsal})
    )
    with open_job(served.folder, write=True) as folder:
        commissioning.rehearse(folder)
    page, served = tool("Where loudspeakers are", served)
    planned = served.job.loudspeakers[0].position_m
    page.get_by_role("checkbox", name="take over M+030").click()
    page.get_by_role("button", name="Take over the chosen places").click()
    page.get_by_text("0.00 m from its plan").or_(
        page.get_by_text("0.01 m from its plan")
    ).wait_for()
    assert math.dist(planned, served.job.loudspeakers[0].position_m) == pytest.approx(0.5, abs=0.1)


def test_a_survey_gives_verdicts_is_stopped_and_goes_on(tool):
    page, served = tool("Measure")
    page.locator(".rw-next-station", has_text="Next: ").wait_for()
    page.get_by_role("button", name="Measure everything").click()
    page.locator(".rw-verdict-list li").nth(1).wait_for()
    stop_button(page).wait_for()
    page.keyboard.press("Escape")
    page.locator(".rw-task").wait_for(state="hidden")
    made = len(served.job.takes)
    wanted = len(commissioning.all_pairs(served.job))
    assert 0 < made < wanted
    rest = page.get_by_role("region", name="Measure").get_by_role("button", name="missing")
    rest.click()
    page.get_by_text("Nothing is missing").wait_for(timeout=LONG_MS)
    page.locator(".rw-task").wait_for(state="hidden")
    assert len(served.job.takes) == wanted
    before = {(take.source, take.station): take.file for take in served.job.takes}
    cell = page.locator(".rw-takes button").first
    cell.click()
    cell.press("r")
    page.locator(".rw-task").wait_for(state="visible")
    page.locator(".rw-task").wait_for(state="hidden")
    after = {(take.source, take.station): take.file for take in served.job.takes}
    assert sum(before[pair] != after[pair] for pair in before) == 1


@pytest.mark.parametrize("light", ["dark", "light"])
def test_no_tool_has_a_finding_that_matters(window, finished_job, light):
    address = finished_job.address.partition("/job/")[0]
    page = window(address)
    page.context.add_cookies(
        [{"name": "roomwright-likes", "value": f"{light}.m.bs2051", "url": address}]
    )
    page.goto(f"{finished_job.address}?stage=survey")
    page.locator(f"body.body--{light}{READY.removeprefix('body')}").wait_for()
    seen = {}
    for name in (
        "Interface and microphone",
        "Meter and levels",
        "Where to measure",
        "Where loudspeakers are",
        "Measure",
    ):
        unfold(page, name)
        if name == "Interface and microphone":
            page.get_by_label("capsule radius, mm").fill("12")
            page.keyboard.press("Enter")
            page.get_by_role("button", name="Audio interface", exact=True).click()
            page.get_by_role("button", name="Check it").wait_for()
            seen["interface"] = found(page)
            page.get_by_role("button", name="Rehearsal room", exact=True).click()
        if name == "Meter and levels":
            meter_on(page)
            page.get_by_role("button", name="Play", exact=True).click()
            stop_button(page).wait_for()
        seen[name] = found(page)
    assert {screen: said for screen, said in seen.items() if said} == {}
