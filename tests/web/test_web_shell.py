"""The frame in a real browser: the way through the job, undo, two windows, long work."""

from __future__ import annotations

import re

import pytest

from roomwright import store

pytestmark = pytest.mark.browser


@pytest.fixture
def job_window(served_job, window):
    def open_window(stage="room"):
        page = window(f"{served_job.address}?stage={stage}")
        page.get_by_role("heading", level=1).wait_for()
        return page

    return open_window


def step(page, stage):
    return page.get_by_role("button", name=re.compile(rf"\b{stage}\b", re.IGNORECASE))


def change_on_disk(served_job, **update):
    """Change the document as another program would; the server takes it in as a step."""
    aside = served_job.folder / "aside.json"
    aside.write_text(store.dump_job(served_job.job.model_copy(update=update)), "utf-8")
    aside.replace(served_job.folder / "job.json")


def test_two_windows_show_the_same_and_undo_by_keyboard(served_job, job_window):
    first, second = job_window("handover"), job_window("handover")
    change_on_disk(served_job, name="Renamed")
    for page in (first, second):
        page.get_by_role("heading", name="Renamed").wait_for()
    first.keyboard.press("Control+z")
    for page in (first, second):
        page.get_by_role("heading", name="Small room").wait_for()
    assert served_job.job.name == "Small room"
    second.get_by_role("button", name="redo the change made by another program").click()
    for page in (first, second):
        page.get_by_role("heading", name="Renamed").wait_for()
    assert served_job.job.name == "Renamed"


def test_every_stage_opens_by_key_and_by_click_and_has_its_own_address(job_window):
    page = job_window("handover")
    problems = []
    page.on("pageerror", lambda error: problems.append(str(error)))
    for number, stage in enumerate(
        ("room", "layout", "outputs", "survey", "tuning", "proof", "handover"), start=1
    ):
        page.keyboard.press(str(number))
        page.wait_for_url(f"**stage={stage}")
        current = page.locator("[aria-current=step]")
        assert stage in current.inner_text().lower()
    step(page, "outputs").first.click()
    page.wait_for_url("**stage=outputs")
    page.reload()
    assert "outputs" in page.locator("[aria-current=step]").inner_text().lower()
    assert not problems


def test_nothing_can_be_typed_before_the_page_is_connected(served, window, chromium):
    context = chromium.new_context()
    waiting = context.new_page()
    waiting.route_web_socket(re.compile("_nicegui_ws"), lambda _: None)  # it is never answered
    waiting.goto(served.address)
    waiting.get_by_label("Name").wait_for()
    waiting.keyboard.press("Tab")
    waiting.keyboard.press("?")
    assert waiting.evaluate("document.activeElement.tagName") == "BODY"
    context.close()
    page = window(served.address)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.tagName") != "BODY"


def test_keys_typed_into_a_field_are_not_taken(served, window):
    page = window(served.address)
    name = page.get_by_label("Name")
    name.fill("")
    name.press("1")
    name.press("?")
    assert name.input_value() == "1?"


def test_the_keys_are_listed(job_window):
    page = job_window("handover")
    page.keyboard.press("?")
    dialog = page.get_by_role("dialog", name="keys")
    dialog.wait_for()
    assert "undo" in dialog.inner_text()
    page.keyboard.press("Escape")
    dialog.wait_for(state="hidden")


def test_what_a_person_likes_is_kept_in_the_browser(job_window):
    page = job_window("layout")
    assert "body--dark" in page.locator("body").get_attribute("class")
    page.get_by_role("button", name="show it light").click()
    page.locator("body.body--light").wait_for()
    page.wait_for_function("document.cookie.includes('light')")
    page.reload()
    page.get_by_role("heading", level=1).wait_for()
    assert "body--dark" not in page.locator("body").get_attribute("class")


def test_a_first_visit_is_as_the_browser_prefers(served_job, window):
    page = window(f"{served_job.address}?stage=layout", colour_scheme="light")
    page.locator("body.body--light").wait_for()
    page.get_by_role("button", name="show it dark").click()
    page.locator("body.body--dark").wait_for()
    page.reload()
    page.get_by_role("heading", level=1).wait_for()
    page.locator("body.body--dark").wait_for()


def test_a_new_job_is_made_and_wrong_input_is_answered_in_place(served, window):
    page = window(served.address)
    page.get_by_role("button", name="Make the job").click()
    page.locator(".q-field", has=page.get_by_label("Name")).get_by_text("needs a name").wait_for()
    page.get_by_label("Name").fill("../Über <b>cinema</b>")
    page.get_by_label("Layout").fill("7.9.9.9")
    page.get_by_role("button", name="Make the job").click()
    page.get_by_role("alert").filter(has_text="7.9.9.9").wait_for()
    page.get_by_label("Layout").fill("5.1.2")
    page.get_by_label(re.compile("Width")).fill("4x5")
    page.get_by_role("button", name="Make the job").click()
    page.get_by_role("alert").filter(has_text="4x5").wait_for()
    page.get_by_label(re.compile("Width")).fill("13' 2\" x 16' 5\" x 8' 6\"")
    page.get_by_role("button", name="Make the job").click()
    page.get_by_role("heading", name="../Über <b>cinema</b>").wait_for()
    assert (served.jobs / "ber-b-cinema-b" / "job.json").is_file()


def test_trouble_with_the_folder_is_said_and_mended(served_job, job_window):
    page = job_window("handover")
    document = served_job.folder / "job.json"
    whole = document.read_text("utf-8")
    document.write_text(whole[:100], "utf-8")
    page.get_by_role("alert").filter(has_text="not readable JSON").wait_for()
    page.get_by_role("button", name="Put this window's job back").click()
    page.get_by_role("alert").filter(has_text="not readable JSON").wait_for(state="hidden")
    assert document.read_text("utf-8") == whole
    away = served_job.folder.parent.with_name("away")
    served_job.folder.rename(away)
    page.get_by_role("alert").filter(has_text="is gone").wait_for()
    away.rename(served_job.folder)
    page.get_by_role("alert").filter(has_text="is gone").wait_for(state="hidden")


def test_a_job_that_cannot_be_read_says_why(served, window):
    (served.jobs / "broken").mkdir()
    (served.jobs / "broken" / "job.json").write_text("{")
    for path in ("/job/broken", "/"):
        page = window(f"{served.address}{path}")
        page.get_by_text("not readable JSON").wait_for()
    page = window(f"{served.address}/job/missing")
    page.get_by_text("there is no job called 'missing' here").wait_for()


def test_the_browser_is_closed_in_the_middle_of_a_rehearsal(served_job, job_window):
    page = job_window("survey")
    page.get_by_role("button", name=re.compile("^Rehearse")).first.click()
    page.get_by_role("button", name="Stop").wait_for()
    page.context.close()
    again = job_window("survey")
    step(again, "survey").filter(has_text=re.compile(r"\d+ takes at 2 stations")).wait_for()
    job = served_job.job
    sweeps = [take for take in job.takes if take.kind == "take"]
    assert len(sweeps) == len(job.units) * len(job.stations)
