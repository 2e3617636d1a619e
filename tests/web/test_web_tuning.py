"""The tuning screen in a real browser: the solver follows, drags are heard, all can be undone."""

from __future__ import annotations

import json
import re
import shutil

import pytest
from web_server import PATIENT_MS, serving, until

from roomwright import commissioning
from roomwright.commissioning import box_room, new_job
from roomwright.commissioning.edits import target as edit_target
from roomwright.model import Sweep
from roomwright.store import create_job, open_job

pytestmark = pytest.mark.browser

TUNED = "tuned; the solver follows every change"


@pytest.fixture(scope="module")
def surveyed(tmp_path_factory):
    """A small job with a survey and no tuning yet."""
    job = new_job(
        "Quick room",
        layout="M+030,M-030,M+000,LFE1",
        room=box_room((4.4, 5.6, 2.6)),
        rows=1,
        seats_per_row=2,
        sweep=Sweep(duration_s=1.0),
    )
    path = tmp_path_factory.mktemp("surveyed") / "job"
    with create_job(path, job.model_copy(update={"stations": job.stations[:2]})) as folder:
        commissioning.rehearse(folder)
    return path


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    return tmp_path_factory.mktemp("library")


@pytest.fixture(scope="module")
def address(library):
    with serving(jobs=library) as served:
        yield served.address


@pytest.fixture
def screen(request, surveyed, library, address, window):
    """A window on a copy of the surveyed job; `screen.job()` is what is on disk."""
    name = request.node.name.removeprefix("test_")[:30]
    shutil.copytree(surveyed, library / name)
    page = window(f"{address}/job/{name}?stage=tuning")
    page.set_default_timeout(PATIENT_MS)
    page.job = lambda: json.loads((library / name / "job.json").read_text())
    page.get_by_text(TUNED).wait_for()
    page.locator(".rg-handle").first.wait_for()
    return page


@pytest.fixture
def stale(request, surveyed, library, address, window):
    """A window on a job whose target changed after it was tuned; `stale.job()` as above."""
    name = request.node.name.removeprefix("test_")[:30]
    shutil.copytree(surveyed, library / name)
    with open_job(library / name, write=True) as folder:
        commissioning.tune(folder)
        folder.save(edit_target.add_point(folder.job, (), 3000.0, 1.0))
    page = window(f"{address}/job/{name}?stage=tuning")
    page.set_default_timeout(PATIENT_MS)
    page.job = lambda: json.loads((library / name / "job.json").read_text())
    page.locator(".rg-handle").first.wait_for()
    return page


def section(page, title):
    page.locator(".rw-section .q-item").filter(has_text=title).click()


def field(page, name):
    return page.locator(f'input[aria-label="{name}"]')


def entered(page, name, text):
    field(page, name).fill(text)
    field(page, name).press("Enter")


def saved(page, condition):
    """Wait until what is on disk is as wanted."""
    until(page, lambda: condition(page.job()))


def drag(page, locator, by_x, by_y):
    box = locator.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    for share in (0.25, 0.5, 0.75, 1.0):
        page.mouse.move(x + share * by_x, y + share * by_y)
        page.wait_for_timeout(60)


def test_a_dragged_target_is_solved_and_undone_as_one(screen):
    """Nobody asked for a tuning: it stood as soon as the screen showed the survey."""
    before = screen.job()
    assert before["tuning"]["outputs"]
    says = screen.locator(".rw-tune-says").inner_text()
    assert re.search(r"seats differ by \d+\.\d dB below", says)
    handle = screen.locator(".rg-handle").nth(4)
    drag(screen, handle, -20, -40)
    assert screen.job() == before
    screen.mouse.up()
    saved(screen, lambda job: job["own_targets"])
    points = screen.job()["own_targets"][0]["target"]["points"]
    assert points[4]["level_db"] > before["target"]["points"][4]["level_db"] + 1
    saved(screen, lambda job: job["tuning"]["based_on"] != before["tuning"]["based_on"])
    screen.get_by_text(TUNED).wait_for()
    shown = field(screen, "target, level of point 5").input_value()
    assert float(shown) == pytest.approx(points[4]["level_db"], abs=0.06)
    screen.locator("body").press("Control+z")
    saved(screen, lambda job: job == before)


def test_levels_are_kept_by_the_solver_or_refused_in_place(screen):
    before = screen.job()
    entered(screen, "target, level of point 1", "loud")
    screen.get_by_text("'loud' is not a number").wait_for()
    section(screen, "Levels and delays")
    entered(screen, "delay of M+000", "900")
    screen.get_by_text("the processor can do 0 to 100 ms").wait_for()
    assert screen.job() == before
    trim = float(field(screen, "trim of M+000").input_value())
    entered(screen, "trim of M+000", f"{trim - 2:.1f}")
    saved(screen, lambda job: job["by_hand"])
    screen.get_by_text(TUNED).wait_for()
    assert screen.job()["by_hand"][0]["trim_change_db"] == pytest.approx(-2.0, abs=0.06)
    assert float(field(screen, "trim of M+000").input_value()) == pytest.approx(trim - 2, abs=0.11)


def test_filters_are_dragged_and_left_to_the_solver(screen):
    screen.get_by_role("button", name="filters", exact=True).click()
    point = screen.locator(".rg-point").first
    point.wait_for()
    drag(screen, point, 10, 15)
    screen.mouse.up()
    saved(screen, lambda job: job["by_hand"] and job["by_hand"][0]["biquads"])
    section(screen, "Filters")
    screen.get_by_role("button", name="Leave all to the solver").click()
    saved(screen, lambda job: not job["by_hand"])


def test_ranges_and_roll_offs_in_one_click(screen):
    screen.get_by_role("button", name="take the roll-off at the low end").click()
    saved(screen, lambda job: job["own_targets"])
    assert screen.job()["own_targets"][0]["target"]["roll_offs"][0]["side"] == "low"
    screen.get_by_role("button", name=re.compile("^Follow it from")).click()
    saved(screen, lambda job: job["own_targets"][0]["target"]["follows"])


def test_two_listening_modes_side_by_side(screen):
    section(screen, "Listening modes")
    for name, bass in (("late evening", "-4"), ("family", "3")):
        field(screen, "name of a new listening mode").fill(name)
        screen.get_by_role("button", name="Add a mode").click()
        entered(screen, f"bass of {name}", bass)
    saved(screen, lambda job: [m["bass_db"] for m in job["modes"]] == [-4, 3])
    screen.locator("[aria-label='first listening mode shown']").first.click()
    screen.get_by_role("option", name="late evening").click()
    field(screen, "bass of late evening").wait_for()
    assert field(screen, "bass of family").is_visible()


def test_another_window_follows(screen, window):
    second = window(screen.url)
    second.set_default_timeout(PATIENT_MS)
    field(second, "target, level of point 1").wait_for()
    entered(screen, "target, level of point 1", "7.5")
    until(second, field(second, "target, level of point 1").input_value, "7.5")


def test_without_a_survey_it_says_what_is_missing(library, address, window, small_job):
    with create_job(library / "empty", small_job):
        pass
    page = window(f"{address}/job/empty?stage=tuning")
    page.get_by_text("Nothing is measured yet").wait_for()
    page.get_by_role("button", name="Go to the survey").click()
    page.wait_for_url(re.compile("stage=survey"))


def test_a_channel_has_a_crossover_of_its_own(screen):
    """Typed, refused in place, dragged, given up; the other channels keep the job's."""
    section(screen, "Crossover to the subwoofers")
    field(screen, "crossover").wait_for()
    entered(screen, "crossover", "5")
    screen.get_by_text("the crossover of 5 Hz; allowed are 20 to 300 Hz").wait_for()
    entered(screen, "crossover", "110")
    saved(screen, lambda job: job.get("own_crossovers"))
    saved(screen, lambda job: job["tuning"].get("own_low_passes"))
    (own,) = screen.job()["own_crossovers"]
    assert (own["channels"], own["frequency_hz"]) == (["M+030"], 110.0)
    assert screen.job()["limits"]["crossover_hz"] == 80.0
    screen.get_by_role("button", name="levels", exact=True).click()
    handle = screen.locator('.rg-handle[aria-label^="crossover"]')
    handle.wait_for()
    drag(screen, handle, 30, 0)
    screen.mouse.up()
    saved(screen, lambda job: job["own_crossovers"][0]["frequency_hz"] > 115.0)
    slope = screen.locator('[aria-label="slope of the crossover"]')
    slope.click()
    screen.get_by_role("option", name="full range").click()
    saved(screen, lambda job: job["own_crossovers"][0].get("full_range"))
    screen.get_by_text("no high-pass; keeps its bass").wait_for()
    saved(
        screen,
        lambda job: {"channels": ["M+030"], "low_pass": None} in job["tuning"]["own_low_passes"],
    )
    screen.get_by_role("button", name="back to the job's crossover").click()
    saved(screen, lambda job: not job.get("own_crossovers"))
    screen.get_by_text("the job's crossover, shared by all").wait_for()


def test_looking_at_a_tuning_that_is_out_of_date_changes_nothing(stale):
    """It says what changed and shows what would come; one press brings it up to date."""
    before = stale.job()
    stale.get_by_text("out of date: the target changed since; drawn as it would become").wait_for()
    stale.get_by_text(re.compile(r"seats differ by \d")).wait_for()
    section(stale, "Levels and delays")
    assert stale.job() == before
    stale.get_by_role("button", name="Bring the tuning up to date").click()
    stale.get_by_text(TUNED).wait_for()
    assert stale.job()["tuning"]["based_on"] != before["tuning"]["based_on"]
    assert stale.job()["target"] == before["target"]
    stale.keyboard.press("Control+z")
    saved(stale, lambda job: job == before)
    stale.get_by_text("out of date: the target changed since").wait_for()


def test_the_first_edit_of_a_tuning_that_is_out_of_date_is_followed(stale):
    before = stale.job()
    entered(stale, "target, level of point 1", "4")
    saved(stale, lambda job: job["tuning"]["based_on"] != before["tuning"]["based_on"])
    stale.get_by_text(TUNED).wait_for()


def test_an_earlier_tuning_is_chosen_from_a_list(stale):
    """Brought up to date, the tuning from before is predicted with, and named with what changed."""
    stale.get_by_role("button", name="Bring the tuning up to date").click()
    stale.get_by_text(TUNED).wait_for()
    stale.goto(stale.url.replace("stage=tuning", "stage=survey"))
    stale.wait_for_function("window.did_handshake", timeout=PATIENT_MS)
    kinds = stale.locator('[aria-label="kinds"]').first
    kinds.click()
    stale.get_by_role("option", name="earlier").click()
    stale.keyboard.press("Escape")
    stale.get_by_text(re.compile(r"earlier: until \d+ \w+ \d\d:\d\d")).first.wait_for()
    stale.locator('[aria-label="earlier tuning"]').first.click()
    stale.get_by_role("option", name=re.compile("before the target changed")).wait_for()
