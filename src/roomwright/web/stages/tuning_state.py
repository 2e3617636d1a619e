"""Over the graph: how the tuning stands, and what comes next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from nicegui import ui

from roomwright.commissioning.tuning.tune import can_be_tuned
from roomwright.web.components.live_word import LiveWord
from roomwright.web.elements import SECOND, Word
from roomwright.web.stages import tuning_solver
from roomwright.web.stages.tuning_view import Drawing, spread_sentence
from roomwright.web.way import next_button

if TYPE_CHECKING:
    from roomwright.web.stages.tuning import TuningScreen

_TONES: Final = "rw-doubt rw-quiet rw-good"


class StateLine:
    """Built once, then kept up to date, so that no press is lost."""

    def __init__(self, screen: TuningScreen) -> None:
        self._screen, go = screen, screen.page.go
        with ui.element("div").classes("rw-tune-says"):
            self._says = Word("").props("role=status")
            self._solve = ui.button(on_click=self._ask).props(SECOND)
            self._survey = ui.button("Go to the survey", on_click=lambda: go("survey"))
            self._survey.props(SECOND)
            self._old = Word("", "span", "rw-doubt")
            self._spread = LiveWord()
            self._next = next_button(go, "proof")

    def show(self, drawing: Drawing | None, changed: str) -> None:
        """Say how the tuning stands, and how much the seats differ in a drawing.

        `changed` is why the tuning is out of date, if it is; empty while that is being read.
        """
        session, job = self._screen.page.session, self._screen.job
        refusal, behind = tuning_solver.refusal(session), can_be_tuned(job)
        waits = tuning_solver.waits(session) and session.writable
        if refusal:
            said, tone = f"▲ not tuned: {self._screen.page.said(refusal)}", "rw-doubt"
        elif behind and not session.writable:
            said, tone = "▲ out of date; the job cannot be changed here", "rw-doubt"
        elif waits:
            why = self._screen.page.said(changed) or "reading what changed"
            said, tone = f"▲ out of date: {why}; drawn as it would become", "rw-doubt"
        elif behind and job.tuning is None:
            said, tone = "◆ the first tuning of this survey is being computed", "rw-quiet"
        elif behind:
            said, tone = "◆ the solver follows the last change", "rw-quiet"
        elif job.tuning is not None:
            said, tone = "■ tuned; the solver follows every change", "rw-good"
        else:
            said, tone = "□ no survey yet", "rw-quiet"
        self._says.text = said
        self._says.classes(add=tone, remove=_TONES.replace(tone, ""))
        settled = not refusal and not behind
        self._solve.text = "Try again" if refusal else "Bring the tuning up to date"
        self._solve.set_visibility(bool(refusal) or waits)
        self._survey.set_visibility(settled and job.tuning is None)
        self._next.set_visibility(settled and job.tuning is not None)
        survey = next(s for s in session.stages(self._screen.page.label) if s.stage == "survey")
        old = survey.state == "out of date"
        self._old.text = f"▲ survey out of date: {survey.says}" if old else ""
        self._old.set_visibility(old)
        self.show_spread(drawing)

    def show_spread(self, drawing: Drawing | None) -> None:
        """Say how much the seats differ."""
        self._spread.say("" if drawing is None else spread_sentence(drawing))

    def _ask(self) -> None:
        tuning_solver.ask(self._screen.page.session)
        self._screen.update()
