"""Beside the graph: what the solver found."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nicegui import ui

from roomwright.web.elements import Word
from roomwright.web.stages.tuning_fields import Panel

if TYPE_CHECKING:
    from roomwright.web.stages.tuning import TuningScreen


class FoundPanel(Panel):
    """What the solver found: all that hit a limit, was left alone or is doubtful."""

    title = "What the solver found"

    def __init__(self, screen: TuningScreen) -> None:
        self._screen = screen
        super().__init__()

    def shape(self) -> object:
        """The findings."""
        tuning = self._screen.job.tuning
        return () if tuning is None else tuning.findings

    def build(self) -> None:
        """List them, doubts first."""
        tuning = self._screen.job.tuning
        if tuning is None or not tuning.findings:
            Word("Nothing.", "div", "rw-quiet")
            return
        with ui.element("ul").classes("rw-found"):
            for finding in sorted(tuning.findings, key=lambda f: f.severity == "note"):
                mark = "" if finding.severity == "note" else "▲ "
                with ui.element("li").classes("" if not mark else "rw-doubt"):
                    page = self._screen.page
                    Word(f"{mark}{page.where(finding)}: {page.said(finding.text)}", "span")
