"""The whole way in a real browser, by nothing but what the screen says comes next."""

from __future__ import annotations

import json
import re

import pytest
from web_server import LONG_MS

pytestmark = pytest.mark.browser


def test_from_an_empty_folder_of_jobs_to_the_report(served, window):
    page = window(served.address)
    for label, value in (
        ("Name", "Walked room"),
        ("Width x length x height, m or ft", "3.6x4.4x2.5"),
        ("Layout", "M+030,M-030,LFE1"),
        ("Rows of seats", "1"),
        ("Seats in a row", "1"),
    ):
        page.get_by_label(label).fill(value)
    page.get_by_role("button", name="Make the job").click()
    for stage in ("layout", "outputs", "survey"):
        page.get_by_role("button", name=f"Next: {stage}").click()
    page.get_by_role("button", name="Rehearse: measure").click()
    page.get_by_role("button", name="Next: tuning").click(timeout=LONG_MS)
    page.get_by_role("button", name="Next: proof").click(timeout=LONG_MS)
    page.get_by_role("button", name="Re-measure with the tuning loaded").click(timeout=LONG_MS)
    page.get_by_text("(re-measured)").wait_for(timeout=LONG_MS)
    page.get_by_role("button", name="Next: handover").click(timeout=LONG_MS)
    page.get_by_role("button", name="Make report and files").click()
    link = page.get_by_role("link", name="report.pdf")
    link.wait_for(timeout=LONG_MS)
    report = page.request.get(served.address + link.get_attribute("href"))
    assert report.body().startswith(b"%PDF")
    for stage in ("room", "layout", "outputs", "survey", "tuning", "proof", "handover"):
        page.locator(
            ".rw-step", has_text=re.compile(f"{stage}.*done", re.IGNORECASE | re.DOTALL)
        ).wait_for()
    folder = next(path for path in served.jobs.iterdir() if "alked" in path.name)
    job = json.loads((folder / "job.json").read_text("utf-8"))
    assert job["tuning"] is not None
    assert {take["stage"] for take in job["takes"]} == {"survey", "proof"}
