"""Pictures of every stage, to look at: made where `--pictures DIR` asks for them.

They show the demo job, finished, in every look at 1280 x 720, and the stages with most on them on
a large screen and on a tablet. The README's pictures are made like this.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from web_server import READY

from roomwright import commissioning
from roomwright.store import create_job

pytestmark = pytest.mark.browser

#: What shows that a stage has drawn all it has.
DRAWN = {
    "room": ".rw-plan image",
    "layout": ".rw-plan .item",
    "outputs": ".rw-patch",
    "survey": ".rw-desk .rg-plot",
    "tuning": ".rg-handle",
    "proof": ".rw-desk .rg-plot",
    "handover": ".rw-settings",
}

#: Graphs settle after their curves came: the picture waits for two frames without a change.
SETTLED_MS = 1500

SIZES = {"": (1280, 720), "-large": (1920, 1080), "-tablet": (820, 1180)}


@pytest.fixture(scope="module")
def pictures(request):
    """The folder for the pictures; nothing is made where none was asked for."""
    wanted = request.config.getoption("--pictures")
    if wanted is None:
        pytest.skip("--pictures DIR makes them")
    folder = Path(wanted)
    folder.mkdir(parents=True, exist_ok=True)
    return folder


@pytest.fixture(scope="module")
def demo(pictures, served):
    """The address of the finished demo job on the shared server."""
    folder = served.jobs / "demo"
    with create_job(folder, commissioning.demo_job()) as made:
        commissioning.rehearse(made)
        commissioning.tune(made)
        commissioning.prove(made)
        commissioning.hand_over(made)
    yield f"{served.address}/job/demo"
    shutil.rmtree(folder)


def take(page, picture, look):
    page.get_by_text("Reading the").last.wait_for(state="hidden")
    page.get_by_text("judging").last.wait_for(state="hidden")
    page.wait_for_timeout(SETTLED_MS)
    if look == "grey":
        page.add_style_tag(content="html { filter: grayscale(1); }")
    page.screenshot(path=picture)
    assert picture.read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("look", "size"),
    [("dark", ""), ("light", ""), ("grey", ""), ("dark", "-large"), ("light", "-tablet")],
)
def test_every_stage_is_pictured(pictures, demo, window, look, size):
    page = window(demo, colour_scheme="light" if look == "light" else "dark")
    width, height = SIZES[size]
    page.set_viewport_size({"width": width, "height": height})
    for stage, drawn in DRAWN.items():
        page.goto(f"{demo}?stage={stage}")
        page.wait_for_selector(READY)
        page.locator(drawn).first.wait_for()
        take(page, pictures / f"{stage}-{look}{size}.png", look)


@pytest.mark.parametrize("look", ["dark", "light"])
def test_the_first_page_is_pictured(pictures, demo, window, look):
    page = window(demo.rsplit("/job/", 1)[0], colour_scheme=look)
    page.locator(".rw-job").first.wait_for()
    take(page, pictures / f"home-{look}.png", look)
