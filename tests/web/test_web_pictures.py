"""Pictures of every stage, to look at: made where `--pictures DIR` asks for them."""

from __future__ import annotations

from pathlib import Path

import pytest
from web_server import READY

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


@pytest.mark.parametrize("look", ["dark", "light", "grey"])
def test_every_stage_is_pictured(request, finished_job, window, look):
    wanted = request.config.getoption("--pictures")
    if wanted is None:
        pytest.skip("--pictures DIR makes them")
    folder = Path(wanted)
    folder.mkdir(parents=True, exist_ok=True)
    page = window(finished_job.address, colour_scheme="light" if look == "light" else "dark")
    for stage, drawn in DRAWN.items():
        page.goto(f"{finished_job.address}?stage={stage}")
        page.wait_for_selector(READY)
        page.locator(drawn).first.wait_for()
        page.get_by_text("Reading the").last.wait_for(state="hidden")
        page.wait_for_timeout(SETTLED_MS)
        if look == "grey":
            page.add_style_tag(content="html { filter: grayscale(1); }")
        picture = folder / f"{stage}-{look}.png"
        page.screenshot(path=picture)
        assert picture.read_bytes().startswith(b"\x89PNG")
