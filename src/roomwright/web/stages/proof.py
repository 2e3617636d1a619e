"""The screen of the proof stage: every criterion, what was reached, and the graph behind it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from typing import Final

from nicegui import background_tasks, ui

from roomwright import commissioning
from roomwright._errors import Cancelled, InputError
from roomwright._progress import Progress
from roomwright.commissioning import Proved, StageState
from roomwright.commissioning.proof_view import (
    CriterionRow,
    criterion_rows,
    drawings_behind,
    graph_behind,
    summary,
)
from roomwright.model import Finding, Job, gathered
from roomwright.proof import Drawing
from roomwright.store import JobFolder
from roomwright.web.elements import PRIMARY, SECOND, Part, Word, style
from roomwright.web.page import JobPage
from roomwright.web.stages.above_desk import AboveDesk
from roomwright.web.stages.survey_import import ImportPanel

#: An outcome in shape and tone; the word stands beside it.
_SHAPES: Final = {
    "met": ("■", "rw-good"),
    "not met": ("▲", "rw-bad"),
    "not judged": ("○", "rw-quiet"),
}

#: A graph that takes longer is announced, seconds.
_PATIENCE_S: Final = 0.4

_TONES: Final = " ".join(tone for _, tone in _SHAPES.values())

_DROP_SAYS: Final = (
    "Recordings made with the tuning loaded? Drop their folder here: WAV files named by channel, "
    "such as M+030.wav, or with an index.csv."
)

_STYLE: Final = """
.rw-criteria { display: grid; grid-template-columns: minmax(420px, 2.2fr) minmax(260px, 1fr);
  gap: 16px; align-items: start; }
.rw-criteria > * { min-width: 0; }
.rw-verdicts { border-collapse: collapse; width: 100%; }
.rw-verdicts th { text-align: left; font-weight: 500; font-size: 12px; color: var(--rw-quiet);
  padding: 2px 10px 4px 0; }
.rw-verdicts td { padding: 0 10px 0 0; border-top: 1px solid var(--rw-line); height: 26px; }
.rw-verdicts td.figure, .rw-verdicts th.figure { text-align: right; white-space: nowrap; }
.rw-verdicts tr.chosen td { background: var(--rw-raised); }
.rw-verdicts button { font: inherit; color: inherit; background: none; border: 0; padding: 3px 4px;
  text-align: left; cursor: pointer; width: 100%; }
.rw-verdicts button { line-height: 1.2; }
.rw-verdicts td:first-child { min-width: 224px; }
.rw-verdicts td.required { font-size: 12px; line-height: 1.2;
  padding: 2px 10px 2px 0; }
.rw-verdicts .outcome { white-space: nowrap; }
.rw-detail { display: grid; grid-template-columns: repeat(auto-fill, minmax(118px, 1fr));
  gap: 0 14px; font-size: 12px; }
.rw-detail > div { display: flex; justify-content: space-between; gap: 8px; }
@media (max-width: 1180px) {
  .rw-criteria { grid-template-columns: minmax(0, 1.5fr) minmax(0, 1fr); }
  .rw-verdicts .required { display: none; }
  .rw-verdicts td:first-child { min-width: 132px; }
  .rw-verdicts td, .rw-verdicts th { padding-right: 8px; }
  .rw-verdicts button { white-space: normal; }
}
"""


def show(page: JobPage) -> None:
    """Build the screen in the current slot."""
    _Proof(page)


class _Proof:
    """The table of criteria and what was found for the chosen one."""

    def __init__(self, page: JobPage) -> None:
        self._page = page
        self._proved: Proved | None = None
        self._rows: tuple[CriterionRow, ...] = ()
        self._chosen = ""
        self._asked = 0
        self._drawn: tuple[Proved | None, str] = (None, "")
        self._lines: dict[str, _Line] = {}
        style(_STYLE)
        ready = page.session.stages(page.label)
        waits = any(state.stage == "tuning" and state.state == "done" for state in ready)
        with AboveDesk(page, 64, waits="judging ..." if waits else "") as self._desk:
            self._build_actions()
            self._imports = ui.element("div").classes("w-full")
            with self._imports:
                self._import = ImportPanel(page, "proof", _DROP_SAYS, self._imported)
            with ui.element("div").classes("rw-criteria"):
                self._table = Part("")
                self._detail = Part()
            self._findings = Part()
        self._update()
        page.on_change(self._update)

    # Following the job

    def _update(self) -> None:
        state = {state.stage: state for state in self._page.session.stages(self._page.label)}
        ready = state["tuning"].state == "done"
        imported = any(take.origin != "rehearsal" for take in self._page.job.takes)
        self._imports.set_visibility(ready and imported)
        self._show_actions(state, ready=ready, imported=imported)
        if not ready:
            self._asked += 1
            self._proved, self._rows = None, ()
            self._show_table()
            return
        self._asked += 1
        background_tasks.create(self._judge(self._asked), name="proof")

    def _build_actions(self) -> None:
        """Build them once: what is pressed while the job changes must not be gone."""
        with ui.element("div").classes("rw-row"):
            self._nothing = ui.label()
            self._back = ui.button(on_click=lambda: self._page.go(self._missing)).props(PRIMARY)
            self._judges = ui.button(on_click=self._prove)
            self._summary = ui.label().style("flex: 1 1 0; min-width: 20ch")
            self._next = ui.button("Next: handover", on_click=lambda: self._page.go("handover"))
            self._next.props(PRIMARY)

    def _show_actions(
        self, states: Mapping[str, StageState], *, ready: bool, imported: bool
    ) -> None:
        done = states["proof"].state == "done"
        self._missing = "survey" if states["survey"].state == "empty" else "tuning"
        self._nothing.text = f"There is nothing to judge yet: {states[self._missing].says}."
        self._back.text = f"Go to {self._missing}"
        if imported:
            text = "Judge by the prediction" if not self._has_proof() else "Judge"
        else:
            text = "Re-measure with the tuning loaded" if not done else "Re-measure again"
        self._judges.text = text
        self._judges.props(remove=f"{PRIMARY} {SECOND}").props(SECOND if done else PRIMARY)
        self._judges.set_enabled(not self._page.session.work.holds)
        for element in (self._nothing, self._back):
            element.set_visibility(not ready)
        for element in (self._judges, self._summary):
            element.set_visibility(ready)
        self._next.set_visibility(ready and done)
        self._show_summary()

    def _has_proof(self) -> bool:
        return any(take.stage == "proof" for take in self._page.job.takes)

    async def _judge(self, number: int) -> None:
        """Judge the job as it stands, off the event loop; show it if nothing newer was asked."""
        session = self._page.session
        job = _judged_part(session.job)
        await asyncio.sleep(0.05)
        if number != self._asked or session.work.holds:
            return
        try:
            proved = await asyncio.to_thread(
                session.remembered, "proved", (job,), lambda: _judged(session.folder, job)
            )
        except InputError as error:
            if number == self._asked and not self._table.left:
                self._page.complain(error)
                self._desk.say(str(error))
            return
        if number == self._asked and not self._page.gone and not self._table.left:
            self._show(proved)

    def _show(self, proved: Proved) -> None:
        self._proved, self._rows = proved, criterion_rows(proved)
        self._show_summary()
        self._show_table()
        findings = gathered(proved.findings)
        self._findings.show(findings, lambda: self._build_findings(findings))
        if self._rows:
            failed = (row for row in self._rows if row.outcome == "not met")
            chosen = self._chosen or next(failed, self._rows[0]).criterion
            self._choose(chosen)

    def _show_summary(self) -> None:
        if self._proved is None:
            self._summary.text = "judging ..."
            return
        on = "re-measured" if self._proved.measured is not None else "as predicted, not re-measured"
        self._summary.text = f"{summary(self._rows)} ({on})"

    # The table

    def _show_table(self) -> None:
        titles = tuple((row.criterion, row.title) for row in self._rows)
        self._table.show(titles, self._build_table)
        for row in self._rows:
            self._lines[row.criterion].show(row, chosen=row.criterion == self._chosen)
        if not self._rows:
            self._detail.show(None, lambda: None)

    def _build_table(self) -> None:
        if not self._rows:
            return
        with ui.element("table").classes("rw-verdicts"):
            with ui.element("thead"), ui.element("tr"):
                for title, classes in (
                    ("criterion", ""),
                    ("required", "required"),
                    ("predicted", "figure"),
                    ("measured", "figure"),
                    ("outcome", ""),
                ):
                    Word(title, "th", classes).props("scope=col")
            with ui.element("tbody"):
                self._lines = {
                    row.criterion: _Line(row.title, partial(self._choose, row.criterion))
                    for row in self._rows
                }

    def _choose(self, criterion: str) -> None:
        self._chosen = criterion
        self._show_table()
        row = next((row for row in self._rows if row.criterion == criterion), None)
        if row is None:
            return
        self._detail.show((row, self._page.naming), lambda: self._build_detail(row))
        if self._drawn[0] is not self._proved or self._drawn[1] != criterion:
            self._drawn = self._proved, criterion
            background_tasks.create(self._draw(criterion), name="graph behind a criterion")

    async def _draw(self, criterion: str) -> None:
        proved = self._proved
        if proved is None:
            return
        reading = asyncio.create_task(
            asyncio.to_thread(graph_behind, proved, criterion, self._drawings)
        )
        if not (await asyncio.wait({reading}, timeout=_PATIENCE_S))[0] and self._shows(criterion):
            self._desk.say("Reading what is behind the graphs ...")
        try:
            wanted = await reading
        except InputError as error:
            self._page.complain(error)
            return
        if not self._shows(criterion):
            return
        if wanted is None:
            self._desk.say("There is no graph behind it; its figures are above.")
        else:
            self._desk.turn_to(wanted)

    def _shows(self, criterion: str) -> bool:
        return criterion == self._chosen and not self._page.gone and not self._table.left

    def _drawings(self, proved: Proved) -> Mapping[str, Drawing]:
        """What is drawn for the criteria, kept for the next that is chosen, in any window."""
        inputs = (_judged_part(proved.job),)
        return self._page.session.remembered("drawings", inputs, lambda: drawings_behind(proved))

    def _build_detail(self, row: CriterionRow) -> None:
        shape, tone = _SHAPES[row.outcome]
        ui.label(row.title).classes("rw-title")
        ui.label(f"{shape} {row.outcome}, {row.judged_on}").classes(tone)
        ui.label(self._page.said(row.reason))
        for name, text in (
            ("required", row.required),
            ("source", row.source),
            ("computed from", row.computed_from),
        ):
            with ui.element("div").classes("rw-small"):
                Word(f"{name}: ", "span", "rw-quiet")
                Word(self._page.said(text))
        with ui.element("div").classes("rw-detail"):
            for name, figure in row.detail:
                with ui.element("div"):
                    Word(self._page.label(name), "span", "rw-quiet")
                    Word(figure, "span", "rw-number").style("white-space: nowrap")

    def _build_findings(self, findings: Iterable[Finding]) -> None:
        for finding in findings:
            grave = finding.severity != "note"
            where = self._page.where(finding)
            said = f"{finding.severity}: {where}: {self._page.said(finding.text)}"
            ui.label(f"{'▲ ' if grave else ''}{said}").classes(
                "rw-doubt" if grave else "rw-quiet rw-small"
            )

    # Doing

    async def _prove(self) -> None:
        folder = self._page.session.folder

        def work(progress: Progress) -> Proved:
            return commissioning.prove(folder, progress)

        proved = await self._page.run("Proof", work)
        if proved is not None:
            self._remember(proved)
            if not self._page.gone and not self._table.left:
                self._update()

    def _remember(self, proved: Proved) -> None:
        """Keep what was judged, so that it need not be judged again to be shown."""
        self._page.session.remembered("proved", (_judged_part(proved.job),), lambda: proved)

    async def _imported(self, _surveyed: commissioning.Surveyed) -> None:
        try:
            await self._prove()
        except Cancelled:
            return


class _Line:
    """A criterion's row."""

    def __init__(self, title: str, choose: Callable[[], None]) -> None:
        with ui.element("tr") as self._row:
            with ui.element("td"):
                self._button = Word(title, "button").props("type=button")
                self._button.on("click", choose, [])
            self._required = Word("", "td", "required rw-quiet")
            self._predicted = Word("", "td", "figure")
            self._measured = Word("", "td", "figure")
            with ui.element("td").classes("outcome"):
                self._outcome = Word("")

    def show(self, row: CriterionRow, *, chosen: bool) -> None:
        shape, tone = _SHAPES[row.outcome]
        self._row.classes(add="chosen" if chosen else "", remove="" if chosen else "chosen")
        self._button.props(f"aria-pressed={str(chosen).lower()}")
        self._required.text = row.required
        self._predicted.text, self._measured.text = row.predicted, row.measured or "-"
        self._outcome.text = f"{shape} {row.outcome}"
        self._outcome.classes(add=tone, remove=_TONES.replace(tone, ""))


def _judged_part(job: Job) -> Job:
    """The job without what judging does not depend on."""
    return job.model_copy(update={"handover": None})


def _judged(folder: JobFolder, job: Job) -> Proved:
    """Judge `job`, which the folder held when this was asked for."""
    proved = commissioning.judged(folder)
    if _judged_part(proved.job) != job:
        raise InputError("the job changed while it was judged")
    return proved
