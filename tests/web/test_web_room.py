"""The room and layout stages in a real browser: dragging, typing, undoing."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest
from web_server import PATIENT_MS, READY, until

from roomwright.commissioning import box_room, new_job
from roomwright.store import create_job

START = "from roomwright.cli import main; main()"

pytestmark = pytest.mark.browser


def quick_job():
    return new_job(
        "Quick room", layout="5.2.2", room=box_room((4.6, 6.0, 2.6)), rows=1, seats_per_row=3
    )


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    folder = tmp_path_factory.mktemp("library")
    with create_job(folder / "first", quick_job()):
        return folder


@pytest.fixture(scope="module")
def address(library):
    """One server for all tests here, each of which has a job of its own."""
    with subprocess.Popen(
        [sys.executable, "-c", START, "open", str(library), "--no-browser"],
        stdout=subprocess.PIPE,
        text=True,
    ) as server:
        said = server.stdout.readline()
        yield said.split(" at ")[1].split()[0].split("/job/")[0].rstrip("/")
        server.terminate()


@pytest.fixture
def show(request, address, library, chromium):
    """Opens windows on a job of this test's own; `show.saved()` is what is on disk."""
    name = request.node.name.removeprefix("test_")[:40]
    with create_job(library / name, quick_job()):
        pass
    context = chromium.new_context(viewport={"width": 1280, "height": 720})
    troubles = []

    def show(stage, before=None):
        page = context.new_page()
        page.set_default_timeout(PATIENT_MS)
        page.on("pageerror", lambda error: troubles.append(str(error)))
        if before:
            page.add_init_script(before)
        page.goto(f"{address}/job/{name}?stage={stage}")
        page.wait_for_selector(READY)
        page.wait_for_selector("[data-plane=plan] .item")
        return page

    show.saved = lambda: json.loads((library / name / "job.json").read_text())
    yield show
    context.close()
    assert troubles == []


def place(job, name):
    groups = ("loudspeakers", "subwoofers", "seats", "stations")
    return next(one["position_m"] for group in groups for one in job[group] if one["id"] == name)


def item(page, name, plane="plan"):
    return page.locator(f'[data-plane={plane}] [data-id="{name}"]')


def middle(locator):
    box = locator.locator("circle").first.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def drag(page, name, by, *, plane="plan", drop=True):
    x, y = middle(item(page, name, plane))
    page.mouse.move(x, y)
    page.mouse.down()
    for step in range(1, 6):
        page.mouse.move(x + by[0] * step / 5, y + by[1] * step / 5)
    if drop:
        page.mouse.up()


def says(page, where, text):
    page.wait_for_function(
        "([where, text]) => document.querySelector(where).textContent.includes(text)",
        arg=[where, text],
    )


def test_a_dragged_loudspeaker_shows_its_angles_and_is_saved_when_dropped(show):
    page = show("layout")
    before = show.saved()
    says(page, "aside", "all in range")
    where = middle(item(page, "M+030"))
    drag(page, "M+030", (0, 150), drop=False)
    says(page, "[data-plane=plan]", "too far left")
    page.keyboard.press("Escape")
    page.mouse.up()
    says(page, "aside", "all in range")
    until(page, lambda: middle(item(page, "M+030")), where)
    assert show.saved() == before
    drag(page, "M+030", (0, 150), drop=False)
    says(page, "[data-plane=plan]", "too far left")
    assert show.saved() == before
    page.mouse.up()
    until(page, lambda: place(show.saved(), "M+030")[1] > 1.5)
    says(page, "aside", "too far left")
    page.keyboard.press("Control+z")
    until(page, lambda: place(show.saved(), "M+030"), place(before, "M+030"))
    says(page, "aside", "all in range")


def test_things_snap_to_the_wall_and_to_their_twin_and_move_in_pairs(show):
    page = show("layout")
    drag(page, "M+110", (6, -120))
    until(page, lambda: place(show.saved(), "M+110")[1] < 3.2)
    left = place(show.saved(), "M+110")
    assert left[0] == pytest.approx(0.15)
    until(page, lambda: middle(item(page, "M+110"))[1] < middle(item(page, "M-110"))[1] - 20)
    drag(page, "M-110", (-5, middle(item(page, "M+110"))[1] - middle(item(page, "M-110"))[1] + 4))
    until(page, lambda: place(show.saved(), "M-110")[1] < 3.2)
    assert place(show.saved(), "M-110") == pytest.approx([4.6 - left[0], left[1], left[2]])
    page.get_by_text("Move left and right together").click()
    drag(page, "M+110", (0, -60))
    until(page, lambda: place(show.saved(), "M-110")[1] < left[1] - 0.3)
    left = place(show.saved(), "M+110")
    assert place(show.saved(), "M-110") == pytest.approx([4.6 - left[0], left[1], left[2]])
    drag(page, "SW2", (0, -40), plane="side")
    until(page, lambda: place(show.saved(), "SW2")[2] > 0.5)


def test_keys_move_what_is_focused(show):
    page = show("room")
    before = place(show.saved(), "R1-1")
    item(page, "R1-1").focus()
    for key in ("ArrowDown", "ArrowDown", "ArrowDown", "Shift+ArrowRight", "PageUp"):
        page.keyboard.press(key)
    wanted = [before[0] + 0.01, before[1] + 0.15, before[2] + 0.05]
    until(page, lambda: place(show.saved(), "R1-1") == pytest.approx(wanted))
    assert place(show.saved(), "S-R1-1") == pytest.approx(wanted)
    assert page.evaluate("document.activeElement.dataset.id") == "R1-1"


def test_sizes_are_typed_in_metres_or_feet_and_wrong_ones_answered_in_place(show):
    page = show("room")
    says(page, "aside", "71.8 m³")
    width = page.get_by_label("Width", exact=True)
    width.fill("16' 6\"")
    width.press("Enter")
    until(page, lambda: show.saved()["room"]["outline_m"][1][0], 5.0292)
    until(page, width.input_value, "5.03 m")
    says(page, "aside", "78.5 m³")
    for text, answer in (("wide", "no length"), ("0.4", "allowed is 1 to 60 m")):
        width.fill(text)
        width.press("Enter")
        says(page, "aside", answer)
    assert show.saved()["room"]["outline_m"][1][0] == 5.0292
    width.press("Escape")
    until(page, width.input_value, "5.03 m")


def test_a_surface_is_changed_in_its_dialog(show):
    page = show("room")
    page.get_by_role("button", name="change the floor").click()
    page.get_by_label("Share 1, %").fill("50")
    page.get_by_role("button", name="Use it", exact=True).click()
    says(page, ".q-dialog", "add up to 50 %")
    page.get_by_text("Absorption from a test report").click()
    page.get_by_label("500 Hz", exact=True).fill("0.33")
    page.get_by_role("button", name="Use it", exact=True).click()
    until(page, lambda: show.saved()["room"]["floor"]["absorption"][3], 0.33)


def test_layouts_subwoofers_and_further_loudspeakers_are_one_action_each(show):
    page = show("layout")
    page.get_by_label("Subwoofers", exact=True).fill("4")
    until(page, lambda: show.saved()["layout"], "5.4.2")
    page.get_by_role("button", name="Second sides").click()
    until(page, lambda: len(show.saved()["loudspeakers"]), 9)
    page.get_by_role("button", name="Add top").click()
    page.get_by_text("T+000", exact=True).click()
    until(page, lambda: len(show.saved()["loudspeakers"]), 10)
    item(page, "T+000").wait_for()
    item(page, "M+000").click()
    page.get_by_role("button", name="Add a second").click()
    until(page, lambda: len(show.saved()["loudspeakers"]), 11)
    channels = {one["id"]: one["loudspeakers"] for one in show.saved()["channels"]}
    assert channels["M+000"] == ["M+000", "M+000.2"]
    assert channels["M+110"] == ["M+110", "M+110.2"]
    layout = page.get_by_label("Layout, or labels")
    layout.fill("sixteen")
    layout.press("Enter")
    says(page, "aside", "the layout 'sixteen' is not known")
    layout.fill("J: 4+7+0")
    page.get_by_role("option", name="J: 4+7+0").click()
    until(page, lambda: show.saved()["layout"], "4+7+0")
    assert len(show.saved()["loudspeakers"]) == 11
    assert len(show.saved()["subwoofers"]) == 4


def test_pressure_and_reflections_follow_what_is_asked(show):
    page = show("room")
    image = page.locator("[data-plane=plan] image")
    image.wait_for()
    first = image.get_attribute("href")
    page.locator(".q-slider [tabindex]").first.focus()
    for _ in range(10):
        page.keyboard.press("ArrowRight")
    until(page, lambda: image.get_attribute("href") != first)
    page.wait_for_timeout(500)
    second = image.get_attribute("href")
    drag(page, "SW2", (60, -60), drop=False)
    until(page, lambda: image.get_attribute("href") != second)
    page.mouse.up()
    page.get_by_text("Reflections", exact=True).click()
    item(page, "M+030").click()
    page.wait_for_selector("td:text-is('left wall')")
    until(page, lambda: page.locator("[data-plane=plan] polyline").count(), 7)
    assert image.count() == 0


def test_a_room_that_is_no_box_says_why_there_is_no_pressure(show):
    page = show("room")
    page.get_by_text("Corners", exact=True).click()
    corner = page.get_by_label("x 3", exact=True)
    corner.fill("4.4")
    corner.press("Enter")
    page.wait_for_selector("text=computed for box rooms only")
    assert page.locator("[data-plane=plan] image").count() == 0


def test_a_browser_without_webgl_still_gets_plan_and_section(show):
    page = show(
        "room",
        before="""const get = HTMLCanvasElement.prototype.getContext;
        HTMLCanvasElement.prototype.getContext = function (kind, ...rest) {
          return kind.startsWith('webgl') ? null : get.call(this, kind, ...rest);
        };""",
    )
    page.wait_for_selector("text=This browser cannot draw in 3D")
    assert item(page, "M+030", "side").count() == 1


def test_two_windows_show_the_same(show):
    one, two = show("layout"), show("room")
    before = middle(item(two, "SW2"))[1]
    one.bring_to_front()
    drag(one, "SW2", (0, -80))
    until(two, lambda: middle(item(two, "SW2"))[1] < before - 30)


def test_a_second_click_chooses_what_is_beneath(show):
    page = show("layout")
    x, y = middle(item(page, "SW1"))
    # The centre loudspeaker stands over the subwoofer.
    page.mouse.click(x, y - 4)
    page.wait_for_selector("aside h2:text-is('M+000')")
    page.mouse.click(x, y - 4)
    page.wait_for_selector("aside h2:text-is('SW1')")
