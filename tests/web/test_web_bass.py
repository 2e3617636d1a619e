"""The bass in a real browser: places searched, an array marked, ways compared, stations added."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from web_server import LONG_MS, READY, until

from roomwright import commissioning
from roomwright.commissioning import (
    bass_figures_of,
    box_room,
    new_job,
    propose_array,
    use_array,
    with_bass,
)
from roomwright.store import open_job

pytestmark = pytest.mark.browser


def room(**wishes):
    """A small room with two subwoofers and few places for them."""
    job = new_job(
        "Quick room", layout="5.2.2", room=box_room((4.6, 6.0, 2.6)), rows=1, seats_per_row=3
    )
    return with_bass(job, count=2, spacing_m=1.4, band_hz=(20.0, 60.0), **wishes)


def arrayed():
    """The same with as many subwoofers as a plane wave takes, at their places."""
    return use_array(room(), propose_array(room(), highest_hz=60.0))


def findings(page):
    """What an automatic check of accessibility finds that matters; of an open dialog only there."""
    page.wait_for_function("document.getAnimations().every((one) => one.playState !== 'running')")
    page.evaluate(AXE_SCRIPT)
    where = "'[role=dialog]'" if page.get_by_role("dialog").count() else "document"
    run = page.evaluate(f"axe.run({where}, {{resultTypes: ['violations']}})")
    return [
        (one["id"], [node["html"][:200] for node in one["nodes"]])
        for one in run["violations"]
        if one["impact"] in {"moderate", "serious", "critical"}
    ]


def unfolded(page):
    page.locator("[data-plane=plan] .item").first.wait_for()
    page.get_by_text("Bass: where the subwoofers stand").click()
    page.get_by_text("As they stand: spread").wait_for()
    return page


def centre(locator):
    box = locator.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


@pytest.mark.parametrize("look", ["dark", "light"])
def test_places_are_searched_looked_at_and_used(window, put_job, look):
    job = put_job(room())
    page = window(job.address)
    site = job.address.partition("/job/")[0]
    page.context.add_cookies(
        [{"name": "roomwright-likes", "value": f"{look}.m.bs2051", "url": site}]
    )
    page.goto(f"{job.address}?stage=layout")
    page.locator(f"body.body--{look}{READY.removeprefix('body')}").wait_for()
    unfolded(page)
    spots = page.locator("[data-plane=plan] .spot")
    assert spots.count() == len(commissioning.candidate_places(job.job))
    page.get_by_role("button", name="Search places").click()
    page.locator(".rw-choices tbody tr").first.wait_for()
    page.locator("[data-plane=plan] .spot.chosen").first.wait_for()
    assert page.locator("[data-plane=plan] .spot.chosen").count() == 2
    before = [one.position_m for one in job.job.subwoofers]
    points = page.locator(".rw-found-graphs .rg-handle")
    assert points.count() >= 2
    page.locator(".rw-found-graphs .rg-handle[data-id='1']").click()
    page.locator(".rw-choices tr.chosen").get_by_text("1", exact=True).wait_for()
    assert findings(page) == []
    page.get_by_role("button", name="Use choice 1").click()
    until(page, lambda: [one.position_m for one in job.job.subwoofers] != before)
    placed = {one.position_m for one in job.job.subwoofers}
    assert placed <= set(commissioning.candidate_places(job.job))


def test_a_box_drawn_on_the_plan_excludes_places_and_wrong_wishes_are_said(window, put_job):
    job = put_job(room())
    page = unfolded(window(f"{job.address}?stage=layout"))
    spots = page.locator("[data-plane=plan] .spot")
    left = spots.count()
    page.get_by_text("Exclude by dragging on the plan").click()
    page.locator("[data-plane=plan] .outlining").wait_for()
    floor = page.locator("[data-plane=plan] .outlining").bounding_box()
    x, y = floor["x"] + 3, floor["y"] + floor["height"] - 3
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 30, y - 40)
    page.mouse.move(x + floor["width"] / 2 - 20, y - 60)
    page.locator("[data-plane=plan] .clear.new").wait_for()
    page.mouse.up()
    until(page, lambda: len(job.job.bass.keep_clear) == 1)
    until(page, lambda: 0 < spots.count() < left)
    handle = page.locator("[data-plane=plan] [data-id='clear box 1']")
    box = job.job.bass.keep_clear[0]
    handle.focus()
    page.keyboard.press("ArrowUp")
    until(page, lambda: job.job.bass.keep_clear[0] != box)
    page.get_by_label("Places every").fill("9")
    page.get_by_label("Places every").press("Enter")
    page.get_by_text("0.20 m to 5.00 m is allowed").wait_for()
    page.get_by_label("Band, Hz").fill("80")
    page.get_by_label("Band, Hz").press("Enter")
    page.get_by_text("the band is two frequencies").wait_for()
    page.get_by_role("button", name="Take the box away").click()
    until(page, lambda: not job.job.bass.keep_clear)


def test_a_dragged_subwoofer_is_followed_before_it_is_let_go(window, put_job):
    job = put_job(room())
    page = unfolded(window(f"{job.address}?stage=layout"))
    says = page.get_by_text("As they stand: spread")
    before = says.inner_text()
    x, y = centre(page.locator("[data-plane=plan] [data-id=SW2]"))
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 20, y - 20)
    page.mouse.move(x + 60, y - 80)
    until(page, lambda: says.inner_text() != before)
    assert job.job.subwoofers == room().subwoofers
    page.keyboard.press("Escape")
    page.mouse.up()
    until(page, lambda: says.inner_text() == before)


def test_marks_make_an_array_or_say_why_not(window, put_job):
    job = put_job(arrayed())
    page = unfolded(window(f"{job.address}?stage=layout"))
    page.get_by_text("these marks make an array").wait_for()
    item = page.locator("[data-plane=plan] [data-id=SW1]")
    assert "launches the wave" in item.get_attribute("aria-label")
    item.click()
    page.get_by_role("button", name="Neither").click()
    page.get_by_text("SW1 neither launches nor absorbs").wait_for()
    assert "SW1" not in job.job.bass.launching
    page.get_by_role("button", name="Propose an array").click()
    page.get_by_text("carry a plane wave up to").wait_for()
    assert findings(page) == []
    page.get_by_role("button", name="Place and mark them so").click()
    page.get_by_text("these marks make an array").wait_for()


def test_ways_are_compared_and_one_is_designed(window, put_job):
    job = put_job(with_bass(arrayed(), method="even_seats"))
    page = window(f"{job.address}?stage=tuning")
    page.locator(".rw-section .q-item").filter(has_text="Bass").first.click()
    page.get_by_role("button", name="Compare the ways to feed them").click()
    page.locator(".rw-ways").wait_for()
    assert page.locator(".rw-ways tbody tr").count() == 14
    page.get_by_text("held back from every design").wait_for()
    page.get_by_text("re the mean of the seats").wait_for()
    page.locator(".rw-ways-page [data-plane=plan] image").nth(1).wait_for()
    slider = page.get_by_role("slider", name="frequency of the pressure")
    old = page.locator(".rw-ways-page image").nth(1).get_attribute("href")
    slider.locator("[tabindex]").focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    until(page, lambda: page.locator(".rw-ways-page image").nth(1).get_attribute("href") != old)
    assert findings(page) == []
    page.get_by_role("button", name="feed them as Array: gain, delay").or_(
        page.get_by_role("button", name="feed them as Array: filters")
    ).first.click()
    until(page, lambda: job.job.bass.method == "array" and job.job.tuning is not None)
    outputs = {one.drives: one for one in job.job.tuning.outputs}
    fed = [outputs[one.id] for one in job.job.subwoofers]
    assert any(one.fir is not None or one.delay_s > 0.01 for one in fed)
    page.locator(".rw-ways .rw-good").get_by_text("in use").wait_for()


def test_stations_are_held_back_and_further_ones_are_suggested(window, put_job):
    start = room()
    job = put_job(start.model_copy(update={"stations": start.stations[:3]}))
    page = window(f"{job.address}?stage=survey")
    page.locator("[data-plane=plan] .item").first.wait_for()
    page.get_by_text("Stations for the bass").click()
    page.get_by_text("3 stations at heights").wait_for()
    page.get_by_role("button", name="Which further stations help most?").click()
    page.get_by_text("what is uncertain of the bass at the seats from").wait_for()
    assert page.locator("[data-plane=plan] [data-id='further 1']").count() == 1
    page.get_by_role("button", name="Add them").or_(
        page.get_by_role("button", name="Add it")
    ).click()
    until(page, lambda: len(job.job.stations) > 3)
    name = job.job.stations[-1].id
    page.locator(f"[data-plane=plan] [data-id={name}]").click()
    page.get_by_role("button", name=f"Hold {name} back").click()
    until(page, lambda: job.job.bass.held_back == (name,))
    page.get_by_role("button", name=f"Let the design use {name}").wait_for()
    label = page.locator(f"[data-plane=plan] [data-id={name}]").get_attribute("aria-label")
    assert "held back" in label
    assert findings(page) == []


def test_the_bass_is_shown_in_figures(window, finished_job):
    """The words of the report, for the channel that is chosen."""
    page = window(f"{finished_job.address}?stage=tuning")
    page.locator(".rw-section .q-item").filter(has_text="Bass").first.click()
    page.get_by_role("button", name="The bass in figures").click()
    table = page.locator(".rw-figures-table").first
    table.wait_for(timeout=LONG_MS)
    sheet = finished_figures(finished_job)
    assert sheet.sets == ("predicted", "re-measured")
    for row in sheet.figures:
        until(page, lambda row=row: all(word in table.inner_text() for word in row))
    page.locator(".rw-figures .q-select").click()
    page.get_by_role("option").filter(has_text="SW1").click()
    until(page, lambda: "survey" in page.locator(".rw-figures-table").first.inner_text())
    assert findings(page) == []


def finished_figures(job):
    """Figures of the LFE of a job in a folder of its own, which no server has open."""
    with tempfile.TemporaryDirectory() as copy:
        shutil.copytree(job.folder, f"{copy}/job", ignore=shutil.ignore_patterns("*lock*"))
        with open_job(Path(copy) / "job") as folder:
            return bass_figures_of(folder, "LFE1")
