"""The menus of the graph desk in a real browser: what they choose is drawn and can be kept."""

from __future__ import annotations

import csv
import io
import re
import xml.etree.ElementTree as ET

import pytest

pytestmark = pytest.mark.browser


@pytest.fixture
def desk(finished_job, window):
    """The desk of the survey screen, with the table of values open that names every curve."""
    page = window(f"{finished_job.address}?stage=survey")
    page.locator(".rg-tool", has_text="Values").click()
    curve(page, "M+030, before").wait_for()
    return page


def curve(page, label):
    return page.locator(".rg-pick").get_by_text(label, exact=True)


def says(page, words):
    """Wait until the caption says how what is drawn was computed."""
    page.locator(".rg-caption", has_text=words).wait_for()


def pick(page, menu, *options):
    """Open a menu, press options in it, close it."""
    page.locator(f'[aria-label="{menu}"]').first.click()
    for option in options:
        page.locator("[role=option]").get_by_text(option, exact=True).click()
    page.keyboard.press("Escape")
    page.locator(".q-menu").wait_for(state="detached")


def saved(page, kind):
    """What a button gives: the file's name and bytes."""
    with page.expect_download() as download:
        page.get_by_role("button", name=f"Save as {kind}").click()
    return download.value.suggested_filename, download.value.path().read_bytes()


def table(page):
    """The exported curves: the comment, the headings and the rows of numbers."""
    name, content = saved(page, "CSV")
    assert name.endswith(".csv")
    note, headings, *rows = csv.reader(io.StringIO(content.decode("utf-8-sig")))
    return note[0], headings, rows


def test_kinds_channels_and_places_are_chosen(desk):
    pick(desk, "kinds", "re-measured")
    curve(desk, "M+030, re-measured").wait_for()
    pick(desk, "kinds", "predicted", "re-measured")
    curve(desk, "M+000").wait_for()
    pick(desk, "channels", "M-030", "M+000", "SW1")
    curve(desk, "SW1").wait_for()
    assert desk.locator(".rg-pick").all_inner_texts() == ["M+030", "SW1"]
    pick(desk, "places", "seat R1-1")
    curve(desk, "SW1, seat R1-1").wait_for()
    _note, headings, rows = table(desk)
    assert headings[0] == "frequency (Hz)"
    assert len(headings) == 1 + 4
    assert all(float(cell) > 0 for row in rows for cell in row[:1])
    pick(desk, "channels", "M+030", "SW1")
    desk.locator(".rg-empty", has_text="Choose at least one channel").wait_for()


def test_views_smoothing_and_window_are_chosen_and_said(desk):
    pick(desk, "smoothing", "1/3 octave")
    says(desk, "1/3 octave")
    pick(desk, "window", "20 ms")
    says(desk, "20 ms")
    alone = desk.locator(".rg-pick").count()
    pick(desk, "second graph", "and group delay")
    desk.locator(".rg-pick").nth(2 * alone - 1).wait_for()
    assert any("group delay (ms)" in heading for heading in table(desk)[1])
    pick(desk, "second graph", "alone")
    for quantity in ("phase", "impulse", "step", "energy-time"):
        pick(desk, "quantity", quantity)
        desk.get_by_role("group", name=re.compile(f"^{quantity.capitalize()}: ")).wait_for()
    assert table(desk)[1][0].startswith("time")
    pick(desk, "quantity", "decay")
    says(desk, "slices 5 ms apart")
    note, headings, rows = table(desk)
    assert "Decay: M+030" in note
    assert headings[1] == "time after the direct sound (ms)"
    assert max(float(row[2]) for row in rows) <= 0.0
    pick(desk, "quantity", "distortion")
    curve(desk, "M+030, 2nd").wait_for()


def test_what_is_seen_is_saved_as_svg_png_and_csv(desk):
    name, svg = saved(desk, "SVG")
    words = "".join(ET.fromstring(svg).itertext())  # noqa: S314 - made by the page under test
    assert name.endswith(".svg")
    assert "M+030, before" in words
    assert "frequency, Hz" in words
    name, png = saved(desk, "PNG")
    assert name.endswith(".png")
    assert png.startswith(b"\x89PNG\r\n\x1a\n")
    assert int.from_bytes(png[16:20], "big") > 1000
    note, headings, rows = table(desk)
    assert note.startswith("# Level: M+030")
    assert headings[1].startswith("M+030, before: ")
    levels = [float(row[1]) for row in rows if row[1]]
    assert len(levels) > 400
    assert -40 < min(levels) < 80 < max(levels) < 130
