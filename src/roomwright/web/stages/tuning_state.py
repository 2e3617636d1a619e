"""The line over the tuning's graph: whether the tuning stands, and what can be done if not."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui

from roomwright.commissioning.tune import can_be_tuned
from roomwright.web.elements import Word
from roomwright.web.page import JobPage
from roomwright.web.stages import tuning_solver


def build_state(page: JobPage, changed: str, update: Callable[[], None]) -> None:
    """Build the line in the current slot.

    Parameters
    ----------
    page
        The window.
    changed
        Why the tuning is out of date, if it is; empty while that is being read.
    update
        Called when the solver is asked for.
    """
    session, job = page.session, page.job

    def ask() -> None:
        tuning_solver.ask(session)
        update()

    refusal = tuning_solver.refusal(session)
    if refusal:
        Word(f"▲ not tuned: {refusal}", "span", "rw-doubt")
        ui.button("Try again", on_click=ask).props("outline dense")
    elif can_be_tuned(job) and not session.writable:
        Word("▲ out of date; the job cannot be changed here", "span", "rw-doubt")
    elif tuning_solver.waits(session):
        why = changed or "reading what changed"
        Word(f"▲ out of date: {why}; drawn as it would become", "span", "rw-doubt")
        ui.button("Bring the tuning up to date", on_click=ask).props("outline dense")
    elif can_be_tuned(job):
        Word("◆ the solver follows the last change", "span", "rw-quiet")
    elif job.tuning is not None:
        Word("■ tuned; the solver follows every change", "span", "rw-good")
    else:
        Word("□ no survey yet", "span", "rw-quiet")
        ui.button("Go to the survey", on_click=lambda: page.go("survey")).props("outline dense")
    for state in session.stages():
        if state.stage == "survey" and state.state == "out of date":
            Word(f"▲ survey out of date: {state.says}", "span", "rw-doubt")
