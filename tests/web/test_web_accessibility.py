"""What an automatic check of accessibility finds on every screen: nothing that matters."""

from __future__ import annotations

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from web_server import READY

pytestmark = pytest.mark.browser


#: Nothing is half faded in when it is looked at. A fade begins a frame or two after what it is of
#: is there, so five frames without one count.
STILL = """async () => {
  for (let still = 0; still < 5; ) {
    await new Promise(requestAnimationFrame);
    const moves = document.getAnimations().some((one) => one.playState === 'running');
    still = moves ? 0 : still + 1;
  }
}"""


def found(page):
    """Violations of impact moderate or worse, each with the elements it is of.

    Of an open dialog only those in it: what it dims behind it cannot be used.
    """
    page.evaluate(STILL)
    page.evaluate(AXE_SCRIPT)
    dialog = page.get_by_role("dialog").count()
    where = "'[role=dialog]'" if dialog else "document"
    run = page.evaluate(f"axe.run({where}, {{resultTypes: ['violations']}})")
    return {
        f"{one['impact']} {one['id']}": [node["html"][:160] for node in one["nodes"]]
        for one in run["violations"]
        if one["impact"] in {"moderate", "serious", "critical"}
    }


def opened(page, name, button):
    page.get_by_role("button", name=button).first.click()
    page.get_by_role("dialog", name=name).wait_for()


#: What is to be there before a screen is looked at, and what is opened on it then.
SCREENS = {
    "room": (
        "[data-plane=plan] .item",
        lambda page: opened(page, "surface", "change the floor"),
    ),
    "layout": (
        ".rw-list tbody tr",
        lambda page: (
            page.locator(".rw-list button").first.click(),
            opened(page, "type of loudspeaker", "Type"),
        ),
    ),
    "outputs": ("[aria-label='output of M+030']", None),
    "survey": (
        ".rw-takes button",
        lambda page: opened(page, "sweep and simulated room", "Sweep and simulated room"),
    ),
    "tuning": (
        ".rg-handle",
        lambda page: [
            title.click()
            for title in page.locator(".rw-section .q-item").all()
            if title.get_attribute("aria-expanded") != "true"
        ],
    ),
    "proof": (".rw-verdicts", None),
    "handover": (
        ".rw-settings",
        lambda page: (
            page.keyboard.press("?"),
            page.get_by_role("dialog", name="keys").wait_for(),
        ),
    ),
}


@pytest.mark.parametrize("light", ["dark", "light"])
def test_no_screen_has_a_finding_that_matters(window, finished_job, light):
    address = finished_job.address.partition("/job/")[0]
    page = window(address)
    page.context.add_cookies(
        [{"name": "roomwright-likes", "value": f"{light}.m.bs2051", "url": address}]
    )
    page.reload()
    page.locator(f"body.body--{light}{READY.removeprefix('body')}").wait_for()
    seen = {"home": found(page)}
    for stage, (there, open_more) in SCREENS.items():
        page.goto(f"{finished_job.address}?stage={stage}")
        page.wait_for_selector(READY)
        page.locator(there).first.wait_for()
        seen[stage] = found(page)
        if open_more is not None:
            open_more(page)
            seen[f"{stage}, opened"] = found(page)
    assert {screen: said for screen, said in seen.items() if said} == {}
