"""The proof's screen in a real browser: names as chosen, the graph behind each criterion."""

from __future__ import annotations

import re

import pytest
from web_server import READY

pytestmark = pytest.mark.browser


@pytest.fixture
def proof(finished_job, window):
    """The proof of a finished job in a window that names channels in English."""
    address = finished_job.address.partition("/job/")[0]
    page = window(address)
    page.context.add_cookies(
        [{"name": "roomwright-likes", "value": "dark.m.english", "url": address}]
    )
    page.goto(f"{finished_job.address}?stage=proof")
    page.wait_for_selector(READY)
    return page


def test_channels_are_named_as_chosen_in_reasons_and_figures(proof):
    proof.get_by_role("button", name="Response above the transition, main seat").click()
    proof.locator(".rw-detail").get_by_text("left", exact=True).wait_for()
    said = proof.locator(".rw-criteria").inner_text()
    assert not re.search(r"\bM[+-]\d{3}\b", said)
    assert re.search(r"(left|right|centre) at [\d.]+ k?Hz", said)


def test_undo_and_redo_name_channels_as_chosen_also_of_one_that_is_gone(proof):
    proof.get_by_role("button", name="Layout").click()
    proof.get_by_role("button", name="Add top").click()
    offer = proof.locator(".q-menu .q-item").first
    name = offer.inner_text()
    assert name.startswith("top ")
    offer.click()
    proof.get_by_role("button", name=f"undo add {name}").click()
    proof.get_by_role("button", name=f"redo add {name}").wait_for()


def test_each_criterion_turns_the_desk_to_its_graph_or_says_there_is_none(proof):
    desk = proof.locator(".rw-desk")
    for criterion, shows in (
        ("Decay of the bass", "Decay time"),
        ("Response above the transition, main seat", "Departure from the target"),
        ("Background noise, noise criterion", "There is no graph behind it"),
        ("Level match of the main channels", "mean of the seats|seat R1-1"),
    ):
        proof.get_by_role("button", name=criterion).click()
        desk.get_by_text(re.compile(shows)).first.wait_for()


def test_a_refused_place_names_its_channel_as_chosen(proof):
    proof.get_by_role("button", name="Layout").click()
    proof.locator('[data-plane=plan] [data-id="M+030"]').click()
    across = proof.get_by_label("Across", exact=True)
    across.fill("30 m")
    across.press("Enter")
    proof.locator(".q-field--error").get_by_text(
        re.compile(r"loudspeaker left stands .* outside")
    ).wait_for()


def test_a_refused_delay_names_its_channel_as_chosen(proof):
    proof.locator(".rw-step").nth(4).click()  # the tuning
    proof.get_by_text("Levels and delays", exact=True).click()
    delay = proof.locator('input[aria-label="delay of left"]')
    delay.fill("-5")
    delay.press("Enter")
    proof.locator(".q-field--error").get_by_text("the delay of left is -5 ms").wait_for()
