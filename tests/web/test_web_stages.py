"""Outputs, survey, proof and handover in a real browser: what one does on the screen, on disk."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest
from web_server import READY, until

from roomwright import commissioning
from roomwright.model import Sweep
from roomwright.store import encode_wav

pytestmark = pytest.mark.browser

RATE = 48000


def quick_job():
    """A 3.1 with one seat and two stations that runs through all stages in a few seconds."""
    job = commissioning.new_job(
        "Quick room",
        layout="M+030,M-030,M+000,LFE1",
        room=commissioning.box_room((4.4, 5.6, 2.6)),
        rows=1,
        seats_per_row=1,
        sweep=Sweep(duration_s=1.0),
    )
    return job.model_copy(update={"stations": job.stations[:2]})


@pytest.fixture
def stage(put_job, window):
    """Opens a stage of a quick job; gives the page, how to read the job, and its folder."""

    def open_stage(name):
        put = put_job(quick_job())
        page = window(f"{put.address}?stage={name}")
        return page, lambda: json.loads((put.folder / "job.json").read_text("utf-8")), put.folder

    return open_stage


@pytest.fixture
def recordings(tmp_path):
    """A folder of decaying noises of two WAV channels, named by labels, and things beside them."""
    folder = tmp_path / "recordings"
    folder.mkdir()
    decay = 10 ** (-3 * np.arange(RATE // 4) / RATE / 0.2)
    for number, label in enumerate(("M+030", "M-030", "U+030", "U-030")):
        rng = np.random.default_rng(number)
        noise = (0.1 * decay * rng.standard_normal((2, decay.size))).astype(np.float32)
        (folder / f"{label}.wav").write_bytes(encode_wav(noise, RATE))
    (folder / "M+110.wav").write_text("not audio")
    (folder / "README.md").write_text("what it is")
    return folder


def drop(page, folder):
    page.set_input_files("input[webkitdirectory]", str(folder))
    page.get_by_text("recordings received").wait_for()


def focused(page):
    return page.evaluate("document.activeElement.innerText")


@pytest.mark.parametrize(
    ("name", "button"),
    [("layout", "M-030"), ("room", "change the floor")],
)
def test_what_has_the_focus_keeps_it_while_the_job_changes(stage, name, button):
    """Another window's change arrives between the press of a key and its release."""
    page, job, _folder = stage(name)
    held = page.get_by_role("button", name=button, exact=True)
    held.focus()
    page.evaluate("window.before = document.activeElement")
    other = page.context.new_page()
    other.goto(page.url.partition("?")[0] + "?stage=room")
    other.wait_for_selector(READY)
    other.get_by_role("button", name="Add one").click()
    until(page, lambda: len(job()["seats"]) == 2)
    page.locator(f"[data-plane=plan] [data-id='{job()['seats'][1]['id']}']").first.wait_for()
    assert page.evaluate("window.before === document.activeElement && before.isConnected")
    if name == "layout":
        held.press("Enter")
        page.locator("tr.chosen button:text-is('M-030')").wait_for()
        assert focused(page) == "M-030"


def test_planting_and_mending_faults_keeps_the_focus_in_the_dialog(stage):
    page, job, _folder = stage("survey")
    page.get_by_role("button", name="Sweep and simulated room").click()
    for count in (1, 2):
        page.get_by_role("button", name="Plant", exact=True).press("Enter")
        until(page, lambda count=count: len(job()["rehearsal"]["faults"]) == count)
        assert focused(page) == "Plant"
    for count, then in ((1, "Mend"), (0, "Plant")):
        page.get_by_role("button", name=re.compile("^mend:")).first.press("Enter")
        until(page, lambda count=count: len(job()["rehearsal"]["faults"]) == count)
        page.wait_for_function(
            "then => document.activeElement.isConnected"
            " && document.activeElement.innerText === then",
            arg=then,
        )


def drives(job):
    return {output["number"]: output["drives"] for output in job["outputs"]}


def test_a_taken_output_is_said_in_place_and_swapped(stage):
    page, job, _folder = stage("outputs")
    before = drives(job())
    field = page.get_by_label("output of M+030", exact=True)
    field.fill("2")
    field.press("Enter")
    page.get_by_text(f"output 2 drives {before[2]} already").wait_for()
    assert drives(job()) == before
    page.get_by_role("button", name="Swap the two").click()
    page.get_by_text("already").wait_for(state="detached")
    assert drives(job())[2] == "M+030"
    assert drives(job())[1] == before[2]
    page.keyboard.press("Control+z")
    page.wait_for_function(
        "document.querySelector('[aria-label=\"output of M+030\"]').value === '1'"
    )
    assert drives(job()) == before


def test_many_outputs_are_numbered_and_connected_at_once(stage):
    page, job, _folder = stage("outputs")
    page.get_by_label("search the table").fill("M")
    page.get_by_label("choose all that are shown").click()
    page.get_by_text("3 chosen").wait_for()
    page.get_by_label("first output").fill("9")
    page.get_by_role("button", name="Fill").click()
    page.get_by_role("button", name="Make network").click()
    page.get_by_text("3 on the network").wait_for()
    found = job()["outputs"]
    assert {o["number"] for o in found if o["connection"] == "network"} == {9, 10, 11}
    page.get_by_label("output of M-030", exact=True).fill("many")
    page.get_by_label("output of M-030", exact=True).press("Enter")
    page.get_by_text("'many' is not a whole number").wait_for()


def test_wrong_counts_are_answered_under_their_fields_and_change_nothing(stage):
    page, job, _folder = stage("outputs")
    before = job()
    wrong = page.locator(".q-field--error")
    count = page.get_by_label("outputs of the processor")
    right = count.input_value()
    count.fill("many")
    count.press("Enter")
    wrong.get_by_text("'many' is not a whole number").wait_for()
    count.fill(right)
    count.press("Enter")
    wrong.wait_for(state="detached")
    page.get_by_label("choose all that are shown").click()
    page.get_by_label("first output").fill("first")
    page.get_by_role("button", name="Fill").click()
    wrong.get_by_text("'first' is not a whole number").wait_for()
    page.get_by_role("button", name="Room").click()
    page.get_by_label("Rows", exact=True).fill("12")
    page.get_by_role("button", name="Set out").click()
    wrong.get_by_text("12 row").wait_for()
    assert job() == before


def test_a_job_is_walked_from_rehearsal_to_handover(stage):
    page, job, _folder = stage("survey")
    page.get_by_role("button", name="Rehearse: measure").click()
    page.get_by_role("button", name="Next: tuning").wait_for()
    assert len([take for take in job()["takes"] if take["kind"] == "take"]) == 2 * 4
    cells = page.locator(".rw-takes button")
    cells.first.click()
    before = job()["takes"]
    page.get_by_role("button", name="Redo this take").click()
    until(page, lambda: job()["takes"] != before)
    assert len([new for new in job()["takes"] if new not in before]) == 1
    page.get_by_role("button", name="Next: tuning").click()
    page.locator(
        ".rw-step", has_text=re.compile("tuning.*done", re.IGNORECASE | re.DOTALL)
    ).wait_for()
    page.get_by_role("button", name="Next: proof").click()
    page.get_by_role("button", name="Re-measure with the tuning loaded").click()
    page.get_by_role("button", name="Next: handover").wait_for()
    page.get_by_text("(re-measured)").wait_for()
    page.get_by_role("button", name="Decay of the bass").click()
    page.get_by_text("T20 at most 0.9 s").last.wait_for()
    assert focused(page) == "Decay of the bass"
    page.get_by_role("button", name="Next: handover").click()
    page.get_by_role("button", name="Make report and files").click()
    link = page.get_by_role("link", name="report.pdf")
    link.wait_for()
    report = page.request.get(page.url.partition("/job/")[0] + link.get_attribute("href"))
    assert report.body().startswith(b"%PDF")


def test_a_folder_named_by_labels_is_laid_out_and_imported(stage, recordings):
    page, job, folder = stage("survey")
    drop(page, recordings)
    page.get_by_text("1 file was left aside").wait_for()
    page.get_by_text("M+110.wav is not a WAV file").wait_for()
    page.get_by_role("button", name=re.compile("Lay the job out for the 4")).click()
    page.get_by_text("Lay the job out").wait_for(state="detached")
    page.get_by_role("button", name="Import 8 rows").click()
    page.get_by_text("8 of").wait_for()
    takes = job()["takes"]
    assert {take["source"] for take in takes} == {"M+030", "M-030", "U+030", "U-030"}
    assert {take["wav_channel"] for take in takes} == {1, 2}
    page.get_by_role("button", name=re.compile("Take out . stations? without takes")).click()
    page.get_by_text("8 of 8 takes made").wait_for()
    assert list(folder.glob(".upload-*")) == []


def test_a_folder_is_dropped_on_the_page_with_its_folders(stage, recordings):
    """The browser itself drops it, as a file manager's drag would."""
    page, _job, folder = stage("survey")
    (recordings / "deeper").mkdir()
    for number in range(120):  # a reader hands out a folder in portions of at most 100
        (recordings / "deeper" / f"note {number}.txt").write_text("kept")
    zone = page.locator(".rw-drop")
    box = zone.bounding_box()
    at = {"x": box["x"] + box["width"] / 2, "y": box["y"] + box["height"] / 2}
    drag = {"items": [], "files": [str(recordings)], "dragOperationsMask": 1}
    session = page.context.new_cdp_session(page)
    for kind in ("dragEnter", "dragOver"):
        session.send("Input.dispatchDragEvent", {"type": kind, **at, "data": drag})
    page.locator(".rw-drop.over").wait_for()
    session.send("Input.dispatchDragEvent", {"type": "drop", **at, "data": drag})
    page.get_by_text("5 recordings received").wait_for()
    page.get_by_text("M+110.wav is not a WAV file").wait_for()
    assert page.locator(".rw-drop.over").count() == 0
    (received,) = folder.glob(".upload-*")
    assert (received / "M+030.wav").read_bytes() == (recordings / "M+030.wav").read_bytes()
    assert len(list((received / "deeper").iterdir())) == 120


def test_an_index_is_used_and_its_bad_rows_are_all_said_in_place(stage, recordings):
    page, job, folder = stage("survey")
    secret = folder / "job.json"
    (recordings / "index.csv").write_text(
        "file,wav_channel,channel,station,kind\n"
        "M+030.wav,1,M+030,R1-1,response\n"
        "M-030.wav,9,M-030,R1-1,response\n"
        f"{secret},1,M+000,R1-1,response\n"
        "../job.json,1,SW1,R1-1,response\n",
        "utf-8",
    )
    drop(page, recordings)
    page.get_by_role("button", name="Import 4 rows").click()
    page.get_by_text("3 rows cannot be used").wait_for()
    assert page.get_by_text("wav_channel 9 does not exist").count() == 1
    assert page.get_by_text("lies outside").count() == 2
    assert job()["takes"] == []
    for left in (3, 2, 1):
        page.get_by_role("button", name="Remove").first.click()
        page.get_by_role("button", name=f"Import {left} row").wait_for()
    page.get_by_role("button", name="Import 1 row").click()
    page.get_by_text("1 of").first.wait_for()
    assert [take["source"] for take in job()["takes"]] == ["M+030"]
