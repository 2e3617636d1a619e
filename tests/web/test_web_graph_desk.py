from __future__ import annotations

import base64
import csv
import io
import itertools
import os
import re
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest

from roomwright.web.components.graph_desk import (
    DASHES,
    PALETTE,
    Curve,
    distinct,
    packed_curves,
)

STARTED_WITHIN_S = 60


def test_neighbouring_curves_differ_in_colour_and_dash_and_24_are_distinct():
    looks = [distinct(number) for number in range(24)]
    assert len({(look["colour"], look["dash"]) for look in looks}) == 24
    for one, other in itertools.pairwise(looks):
        assert one["colour"] != other["colour"]
        assert one["dash"] != other["dash"]
    assert max(look["colour"] for look in looks) < len(PALETTE)
    assert max(look["dash"] for look in looks) < len(DASHES)


def test_curves_travel_as_float32_and_share_their_x():
    x = np.geomspace(20.0, 20000.0, 500)
    y = np.linspace(-60.0, 6.0, 500)
    y[7] = np.nan
    curves = [Curve(f"c{n}", "", x.copy(), y + n) for n in range(100)]
    packed = packed_curves(curves)
    assert len(packed["grids"]) == 1
    back = np.frombuffer(base64.b64decode(packed["curves"][3]["y"]), "<f4")
    assert np.isnan(back[7])
    # Single precision keeps 24 bits.
    assert back[8:] == pytest.approx(y[8:] + 3, rel=1e-6)


@pytest.fixture(name="address", scope="module")
def _address():
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    page = Path(__file__).with_name("graph_desk_page.py")
    # The toolkit looks for this to find out whether it runs inside a test.
    surroundings = {k: v for k, v in os.environ.items() if k != "PYTEST_CURRENT_TEST"}
    server = subprocess.Popen(
        [sys.executable, str(page), str(port)],
        env=surroundings,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    address = f"http://127.0.0.1:{port}"
    try:
        _wait_for(address, server)
        yield address
    finally:
        server.terminate()
        server.wait()


def _wait_for(address, server):
    until = time.monotonic() + STARTED_WITHIN_S
    while time.monotonic() < until and server.poll() is None:
        try:
            urllib.request.urlopen(address, timeout=5).close()  # noqa: S310 - our own server
        except urllib.error.URLError:
            time.sleep(0.1)
        else:
            return
    pytest.fail("the page was not served")


@pytest.fixture(name="page")
def _page(chromium, address):
    """A page of one's own."""
    yield from _opened(chromium, address)


@pytest.fixture(name="shared", scope="module")
def _shared(chromium, address):
    """A page for tests that leave it as they find it: loading one takes a second."""
    yield from _opened(chromium, address)


def _opened(chromium, address):
    page = chromium.new_page(viewport={"width": 1000, "height": 600})
    errors = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    _open(page, address)
    yield page
    page.close()
    assert errors == []


def _open(page, address):
    page.goto(address)
    page.locator('[data-id="h"]').wait_for()


def heard(page, pattern):
    page.wait_for_function(
        "pattern => new RegExp(pattern).test(document.getElementById('heard').textContent)",
        arg=pattern,
    )
    return page.locator("#heard").inner_text()


def number(text, name):
    return float(re.search(rf"{name}=(-?[\d.]+)", text).group(1))


def view(page):
    """What is seen, once it has been drawn."""
    return page.evaluate(
        """async () => {
          await new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn)));
          const desk = getElement(Number(document.querySelector('.roomwright-graph').id.slice(1)));
          return { ...desk.state.view, place: desk.place.frames[0],
                   curves: desk.state.curves.length, cursor: desk.cursor };
        }"""
    )


def centre(locator):
    box = locator.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def test_a_handle_dragged_in_many_steps_says_where_it_is_in_few_and_ends_done(page, address):
    # Answers so slow that not each step can have its own, however slow the browser is.
    _open(page, f"{address}/?slow=1")
    x, y = centre(page.locator('[data-id="h"]'))
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 120, y + 40, steps=60)
    page.mouse.up()
    said = heard(page, "Moved.*done=True")
    frame = view(page)["place"]
    wide = frame["right"] - frame["left"]
    # Three decades over the width of the plot; the hand is on whole pixels.
    assert number(said, "x") == pytest.approx(100.0 * 10 ** (3 * 120 / wide), rel=0.02)
    tall = frame["bottom"] - frame["top"]
    assert number(said, "y") == pytest.approx(90.0 - 60.0 * 40 / tall, abs=0.3)
    assert int(page.locator("#count").inner_text()) < 60


def test_a_handle_stays_within_its_limits_and_escape_puts_it_back(page):
    x, y = centre(page.locator('[data-id="h"]'))
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, 5, steps=4)
    assert number(heard(page, "y=100.0"), "y") == 100.0
    page.keyboard.press("Escape")
    said = heard(page, "done=True")
    assert (number(said, "x"), number(said, "y")) == (100.0, 90.0)
    page.mouse.up()


def test_an_answer_to_an_older_move_does_not_pull_a_handle_back(page, address):
    # So slow that all moves are made before the first answer, on a busy machine too.
    _open(page, f"{address}/?slow=2")
    handle = page.locator('[data-id="h"]')
    x, y = centre(handle)
    page.evaluate(
        """() => {
          const handle = document.querySelector('[data-id="h"]');
          window.places = [];
          const look = () => {
            window.places.push(handle.offsetLeft);
            requestAnimationFrame(look);
          };
          look();
        }"""
    )
    page.mouse.move(x, y)
    page.mouse.down()
    for step in range(1, 9):
        page.mouse.move(x + 20 * step, y)
    page.mouse.up()
    heard(page, "done=True")
    page.wait_for_timeout(2400)  # the last answer has come
    places = page.evaluate("window.places")
    assert places == sorted(places)
    assert centre(handle)[0] == pytest.approx(x + 160, abs=1.5)
    # Eight moves and the end were heard as fewer: none waited behind a slow answer.
    assert int(page.locator("#count").inner_text()) <= 7


def test_a_filter_point_moves_by_keys_and_turns_its_q_by_keys_and_wheel(page):
    point = page.locator('[data-id="p"]')
    point.focus()
    page.keyboard.press("ArrowUp")
    said = heard(page, "PointMoved.*done=False")
    assert number(said, "level_db") == pytest.approx(-3.5)
    page.keyboard.press("ArrowRight")
    said = heard(page, "PointMoved.*done=True")
    assert number(said, "frequency_hz") == pytest.approx(500.0 * 2 ** (1 / 24), rel=1e-4)
    page.keyboard.press("]")
    assert number(heard(page, "q=2.2"), "q") == pytest.approx(2.2)
    point.hover()
    page.mouse.wheel(0, -100)
    assert number(heard(page, r"q=(2\.[3-9]|3)"), "q") > 2.3
    page.keyboard.press("Delete")
    assert heard(page, "removed") == "('removed', 'p')"


def test_a_locked_point_does_not_move(shared):
    point = shared.locator('[data-id="locked"]')
    x, y = centre(point)
    shared.mouse.move(x, y)
    shared.mouse.down()
    shared.mouse.move(x + 50, y + 50, steps=4)
    shared.mouse.up()
    shared.keyboard.press("ArrowUp")
    shared.wait_for_timeout(100)
    assert centre(point) == (x, y)
    assert "PointMoved" not in shared.locator("#heard").inner_text()


def test_the_crosshair_reads_every_curve_between_its_points(shared):
    plot = shared.locator(".rg-plot")
    plot.focus()
    for key in ("v", "ArrowRight", "ArrowRight"):
        shared.keyboard.press(key)
    x = view(shared)["cursor"]
    rows = shared.locator(".rg-values tr").all_inner_texts()
    assert len(rows) == 2
    # The curves are straight over log frequency, as what lies between points is read.
    for row, slope in zip(rows, (-1.0, 0.0), strict=True):
        shown = float(re.search(r"([\d.]+) dB", row).group(1))
        assert shown == pytest.approx(80.0 + slope * np.log10(x / 1000.0), abs=0.051)
    assert "curve <0> & co" in rows[0]
    assert (
        "values between points: straight lines over log frequency"
        in shared.locator(".rg-caption").inner_text()
    )


def test_wheel_zooms_about_the_pointer_drag_pans_and_double_click_resets(shared):
    plot = shared.locator(".rg-plot").bounding_box()
    at = plot["x"] + 300, plot["y"] + 60
    shared.mouse.move(*at)
    before = view(shared)
    shared.mouse.wheel(0, -120)
    zoomed = view(shared)
    assert zoomed["x"][0] > before["x"][0]
    assert zoomed["x"][1] < before["x"][1]
    assert zoomed["cursor"] == pytest.approx(before["cursor"], rel=1e-6)
    shared.mouse.down()
    shared.mouse.move(at[0] + 60, at[1] + 30, steps=5)
    shared.mouse.up()
    panned = view(shared)
    assert panned["x"][0] < zoomed["x"][0]
    assert panned["y"][0] > zoomed["y"][0]
    shared.mouse.dblclick(*at)
    home = view(shared)
    assert home["x"] == [20, 20000]
    assert home["y"] == [50, 110]


def test_zooming_out_stops_at_the_data(shared):
    plot = shared.locator(".rg-plot").bounding_box()
    shared.mouse.move(plot["x"] + 300, plot["y"] + 60)
    for _ in range(10):
        shared.mouse.wheel(0, 200)
    low, high = view(shared)["x"]
    assert low == pytest.approx(20.0)
    assert high == pytest.approx(20000.0)


def test_alt_click_asks_for_something_new_there(shared):
    plot = shared.locator(".rg-plot").bounding_box()
    shared.keyboard.down("Alt")
    shared.mouse.click(plot["x"] + 300, plot["y"] + 60)
    shared.keyboard.up("Alt")
    assert heard(shared, "added").startswith("('added', ")


def test_an_updated_curve_takes_the_place_of_the_old_one(page):
    page.locator("#more").click()
    page.wait_for_function(
        """() => getElement(Number(document.querySelector('.roomwright-graph').id.slice(1)))
          .state.curves[0].label === 'changed'"""
    )
    assert view(page)["curves"] == 2


def saved(page, kind):
    with page.expect_download() as download:
        page.get_by_role("button", name=f"Save as {kind}").click()
    assert download.value.suggested_filename == f"tests-of-the-desk.{kind.lower()}"
    return Path(download.value.path()).read_bytes()


def test_the_csv_holds_every_point_and_says_how_it_was_computed(shared):
    note, head, *rows = csv.reader(io.StringIO(saved(shared, "CSV").decode()))
    assert note == ["# Tests <of> the desk; smoothed over 1/12 octave"]
    assert head[0] == "frequency (Hz)"
    assert head[1] == "curve <0> & co: level (dB)"
    numbers = np.array(rows, float)
    assert numbers.shape == (301, 3)
    # Seven digits are written.
    assert numbers[:, 0] == pytest.approx(np.geomspace(20.0, 20000.0, 301), rel=1e-6)
    assert numbers[:, 1] == pytest.approx(80.0 - np.log10(numbers[:, 0] / 1000.0), rel=1e-6)


def test_the_svg_is_well_formed_and_labelled(shared):
    picture = ET.fromstring(saved(shared, "SVG").decode())  # noqa: S314 - our own file
    words = [node.text for node in picture.iter("{http://www.w3.org/2000/svg}text")]
    for text in ("curve <0> & co", "20", "50", "100", "1k", "20k", "frequency, Hz", "level, dB"):
        assert text in words
    assert "smoothed over 1/12 octave" in words
    paths = list(picture.iter("{http://www.w3.org/2000/svg}path"))
    assert any(path.get("stroke-dasharray") for path in paths)


def test_the_png_is_twice_as_fine_as_the_screen(shared):
    content = saved(shared, "PNG")
    assert content[:8] == b"\x89PNG\r\n\x1a\n"
    assert int.from_bytes(content[16:20], "big") >= 1600


def test_a_map_is_read_at_the_pointer(page):
    page.locator("#map").click()
    plot = page.locator(".rg-plot").bounding_box()
    page.mouse.move(plot["x"] + 300, plot["y"] + 200)
    page.wait_for_function(
        "() => /dB: .*dB$/.test(document.querySelector('.rg-reading').textContent)"
    )
    # Levels fall by 1 dB a unit from 50 on, in steps of 2.
    height, level = re.search(
        r"([\d.]+) dB: \W?([\d.]+) dB", page.locator(".rg-reading").inner_text()
    ).groups()
    assert float(level) == pytest.approx(float(height) - 50.0, abs=1.1)


def test_a_hundred_curves_are_drawn_and_not_all_labelled(page, address):
    _open(page, f"{address}/?curves=100")
    page.wait_for_function(
        """() => getElement(Number(document.querySelector('.roomwright-graph').id.slice(1)))
          .state.curves.length === 100"""
    )
    page.locator(".rg-plot").focus()
    page.keyboard.press("v")
    page.keyboard.press("ArrowRight")
    assert page.locator(".rg-values tr").count() == 100


def test_everything_that_can_be_pressed_has_a_name_and_shows_focus(shared):
    for button in shared.locator(".roomwright-graph button:visible").all():
        name = button.get_attribute("aria-label") or button.inner_text()
        assert name.strip()
        box = button.bounding_box()
        # WCAG 2.2, 2.5.8: 24 by 24 pixels.
        assert min(box["width"], box["height"]) >= 24
    shared.locator(".rg-plot").focus()
    shared.keyboard.press("Tab")
    assert shared.evaluate("document.activeElement.dataset.id") == "h"
