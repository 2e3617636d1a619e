"""The screen of the survey stage: stations, takes and their worth, rehearsing, importing."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from functools import partial
from weakref import WeakKeyDictionary

from nicegui import background_tasks, ui

from roomwright import commissioning
from roomwright._errors import InputError
from roomwright._progress import Progress
from roomwright.commissioning import TakeView
from roomwright.commissioning.desk.view import Choice
from roomwright.commissioning.edits import survey as edit_survey
from roomwright.commissioning.edits.room import with_station_at
from roomwright.commissioning.plan_view import unit_label
from roomwright.commissioning.survey.redo import Pair
from roomwright.commissioning.survey.view import SourceView
from roomwright.model import Finding, Take, gathered
from roomwright.web.components.plan import Plan, PlanMove
from roomwright.web.components.take_table import TakeCell, TakeLine, TakeTable
from roomwright.web.elements import PRIMARY, SECOND, Part, Word, style
from roomwright.web.live import live
from roomwright.web.page import JobPage
from roomwright.web.session import JobSession
from roomwright.web.stages.above_desk import AboveDesk
from roomwright.web.stages.survey_bass import BassStations
from roomwright.web.stages.survey_import import ImportPanel
from roomwright.web.stages.survey_setup import SetupDialog
from roomwright.web.stages.survey_tools import Tools

_DROP_SAYS = (
    "Recordings made elsewhere? Drop their folder here: WAV files named by loudspeaker, such as "
    "M+030.wav, or with an index.csv."
)

_STYLE = """
.rw-survey { display: grid; grid-template-columns: minmax(200px, clamp(300px, 40vh, 560px)) auto
  minmax(220px, 1fr);
  gap: 16px; align-items: start; }
.rw-survey > div { min-width: 0; }
.rw-survey .rw-drawing { height: clamp(280px, 38vh, 640px); border: 1px solid var(--rw-line);
  border-radius: 4px; }
.rw-figures { display: flex; flex-wrap: wrap; gap: 2px 10px; font-size: 12px; }
.rw-figures > div { display: flex; flex-direction: column; align-items: center; line-height: 1.25; }
@media (max-width: 1100px) {
  .rw-survey { grid-template-columns: auto minmax(0, 1fr); }
  .rw-survey > :first-child { order: 3; grid-column: 1 / -1; }
}
"""

#: What the last measuring in this process found, by job: refused recordings are in no job.
_FINDINGS: WeakKeyDictionary[JobSession, tuple[Finding, ...]] = WeakKeyDictionary()


#: What the work that is running, or ran last, has recorded so far, by job.
_RECORDED: WeakKeyDictionary[JobSession, set[Pair]] = WeakKeyDictionary()

_LIVE_EVERY_S = 0.7


def show(page: JobPage) -> None:
    """Build the screen in the current slot."""
    _Survey(page)


class _Survey:
    """What is measured, where, and what to do about the rest."""

    def __init__(self, page: JobPage) -> None:
        self._page = page
        self._chosen: Pair | None = None
        self._redoes: list[ui.button] = []
        self._view = commissioning.survey_view(page.job, None)
        style(_STYLE)
        self._setup = SetupDialog(page)
        self._bass = BassStations(page, self._draw_plan)
        with AboveDesk(page, 64) as self._desk:
            self._build()
        self._live = ui.timer(_LIVE_EVERY_S, self._show_recorded, active=False)
        self._update()
        page.on_change(self._update)

    def _build(self) -> None:
        page = self._page
        self._build_actions()
        self._tools = Tools(page, self._measure_with, self._mark)
        self._import = ImportPanel(page, "survey", _DROP_SAYS, self._imported)
        with ui.element("div").classes("rw-survey"):
            with ui.element("div").classes("rw-column"):
                with ui.element("div").classes("rw-drawing"):
                    self._plan = Plan(
                        commissioning.survey_plan(page.job, self._view, page.label),
                        name="Plan of the room with the stations",
                        on_choose=self._bass.choose,
                        on_drop=self._moved,
                        units=page.units,
                    )
                with ui.element("div").classes("rw-row"):
                    ui.button("Add a station", on_click=self._add_station).props(SECOND)
                    self._unused = ui.button(on_click=self._drop_unused).props(SECOND)
            with ui.element("div").classes("rw-column"):
                self._table = TakeTable(
                    "takes by loudspeaker and station", self._choose, self._redo_one
                )
                ui.label("● good   ◐ usable   ▲ doubtful   ○ not measured   R redoes").classes(
                    "rw-small rw-quiet"
                ).style("white-space: pre")
            with ui.element("div").classes("rw-column"):
                self._detail = Part()
                self._findings = Part()
                self._bass.build()

    # Following the job

    def _update(self) -> None:
        self._show_actions()
        self._tools.update()
        background_tasks.create(self._load(), name="survey")

    async def _load(self) -> None:
        """Read the responses where there are any, then show everything."""
        page = self._page
        try:
            survey = await asyncio.to_thread(page.session.survey)
        except InputError as error:
            survey = None
            page.complain(error)
        if page.gone or self._findings.left:
            return
        found = _FINDINGS.get(page.session, ())
        self._view = commissioning.survey_view(page.job, survey, found)
        self._show_actions()
        self._bass.update()
        self._draw_plan()
        self._live.active = bool(page.session.work.holds)
        self._show_recorded()
        self._show_detail()
        self._show_findings((*found, *(commissioning.survey_findings(survey) if survey else ())))

    def _draw_plan(self) -> None:
        page, bass = self._page, self._bass
        length = page.length if bass.opened else None
        self._plan.show(
            commissioning.survey_plan(
                page.job, self._view, page.label, length=length, further=bass.further
            )
        )
        self._plan.choose(bass.chosen)

    def _show_recorded(self) -> None:
        """Show the table, with what the work that is running has recorded so far."""
        session = self._page.session
        made = frozenset(_RECORDED.get(session, ())) if session.work.holds else frozenset()
        self._table.show(self._view.stations, [self._line(row, made) for row in self._view.rows])

    def _line(self, row: SourceView, made: frozenset[Pair]) -> TakeLine:
        cells = tuple(
            TakeCell("made", "just recorded; judged when all are")
            if (take.source, take.station) in made
            else TakeCell(take.worth, "; ".join(take.says))
            for take in row.takes
        )
        count = sum(cell.worth != "missing" for cell in cells)
        return TakeLine(row.source, self._label(row.source), f"{count} of {row.wanted}", cells)

    def _label(self, unit: str) -> str:
        """A unit's name; with its id where another has the same name."""
        job = self._page.job
        names = [unit_label(job, one.id, self._page.label) for one in job.units]
        name = unit_label(job, unit, self._page.label)
        return f"{name} ({unit})" if names.count(name) > 1 else name

    def _build_actions(self) -> None:
        """Build them once: what is pressed while the job changes must not be gone."""
        with ui.element("div").classes("rw-row"):
            self._first = ui.button(
                "Rehearse: measure the simulated room", on_click=self._rehearse
            ).props("unelevated dense color=primary text-color=dark")
            self._rest = ui.button(on_click=self._measure_missing).props(PRIMARY)
            self._anew = ui.button("Rehearse anew", on_click=self._rehearse).props(SECOND)
            ui.button("Sweep and simulated room", on_click=self._setup.open).props(SECOND)
            ui.button("Get the sweep to play", on_click=self._get_sweep).props(SECOND)
            self._summary = ui.label().classes("rw-quiet").style("flex: 1 1 0; min-width: 24ch")
            self._next = ui.button("Next: tuning", on_click=lambda: self._page.go("tuning"))

    def _show_actions(self) -> None:
        view, job = self._view, self._page.job
        free = not self._page.session.work.holds
        missing = commissioning.missing_pairs(job)
        unused = edit_survey.unused_stations(job)
        recorded = view.made > 0 and not view.imported
        self._unused.text = f"Take out {len(unused)} stations without takes"
        self._unused.set_visibility(bool(unused))
        self._first.set_visibility(view.made == 0)
        self._rest.text = f"Measure the {len(missing)} that are missing"
        self._rest.set_visibility(recorded and bool(missing))
        self._anew.set_visibility(view.rehearsed)
        for button in (self._first, self._rest, self._anew, *self._redoes):
            button.set_enabled(free)
        self._summary.text = f"{view.made} of {view.wanted} takes made; {view.background}."
        self._next.set_visibility(view.made > 0)
        self._next.props(remove=f"{PRIMARY} {SECOND}")
        self._next.props(PRIMARY if view.imported or not missing else SECOND)

    # One take

    def _choose(self, source: str, station: str) -> None:
        self._chosen = source, station
        self._table.choose(source, station)
        self._bass.choose(station)
        take = self._view.take(source, station)
        if take is not None and take.worth != "missing":
            self._desk.turn_to(Choice(kinds=("before",), sources=(source,), places=(station,)))
        self._show_detail()

    def _show_detail(self) -> None:
        take = self._view.take(*self._chosen) if self._chosen else None
        self._detail.show((take, self._view.imported), lambda: self._build_take(take))

    def _build_take(self, take: TakeView | None) -> None:
        self._redoes.clear()
        if take is None:
            ui.label("Choose a take in the table to see what it is worth, and why.").classes(
                "rw-quiet"
            )
            return
        label = self._label(take.source)
        words = {"missing": "not measured"}.get(take.worth, take.worth)
        ui.label(f"{label} at {take.station}: {words}").classes("rw-title")
        for sentence in take.says:
            said = self._page.said(sentence)
            ui.label(said[0].upper() + said[1:] + ".")
        _figures("Over the noise, dB, by octave in Hz", take.signal_to_noise_db)
        _figures("Harmonics re the fundamental, dB", take.distortion_db)
        if take.file:
            ui.label(f"{take.file} ({take.origin})").classes("rw-small rw-quiet")
        if self._view.imported:
            ui.label("Imported: to redo it, record it again and drop the file above.").classes(
                "rw-quiet"
            )
            return
        job = self._page.job
        of_source = [(take.source, station.id) for station in job.stations]
        of_station = [(output.drives, take.station) for output in job.outputs]
        with ui.element("div").classes("rw-row"):
            for text, pairs in (
                ("Redo this take", [(take.source, take.station)]),
                (f"Redo {label} everywhere", of_source),
                (f"Redo all at {take.station}", of_station),
            ):
                button = ui.button(text, on_click=partial(self._redo, pairs)).props(SECOND)
                button.set_enabled(not self._page.session.work.holds)
                self._redoes.append(button)

    def _show_findings(self, findings: Sequence[Finding]) -> None:
        shown = gathered(findings)
        self._findings.show(shown, lambda: self._build_findings(shown))

    def _build_findings(self, findings: Sequence[Finding]) -> None:
        tones = {"refusal": "rw-bad", "doubt": "rw-doubt"}
        for finding in findings:
            said = f"{self._page.where(finding)}: {self._page.said(finding.text)}"
            if finding.severity == "note":
                ui.label(said).classes("rw-quiet rw-small")
            else:
                ui.label(f"▲ {finding.severity}: {said}").classes(tones[finding.severity])

    # Doing

    async def _rehearse(self) -> None:
        folder, on_take = self._page.session.folder, self._noting()
        await self._survey(
            "Rehearsal",
            lambda progress: commissioning.rehearse(folder, None, progress, on_take=on_take),
        )

    def _mark(self, station: str) -> None:
        """Mark the station on the plan to which the microphone goes."""
        self._plan.choose(station)
        self._plan.say(f"next: {station}")

    async def _measure_with(
        self,
        title: str,
        operation: Callable[[Progress, Callable[[Take], None]], commissioning.Surveyed],
    ) -> None:
        on_take = self._noting()
        await self._survey(title, lambda progress: operation(progress, on_take))

    def _noting(self) -> Callable[[Take], None]:
        """Begin to note what is recorded; the result is called from the worker thread."""
        recorded: set[Pair] = set()
        _RECORDED[self._page.session] = recorded
        return lambda take: recorded.add((take.source, take.station))

    async def _measure_missing(self) -> None:
        await self._redo(commissioning.missing_pairs(self._page.job))

    async def _redo_one(self, source: str, station: str) -> None:
        self._choose(source, station)
        if self._page.session.work.holds:
            self._page.notify(f"{self._page.session.work.holds} is running; stop it first")
        elif self._view.imported:
            self._page.notify("Imported: to redo it, record it again and drop the file above.")
        else:
            await self._redo([(source, station)])

    async def _redo(self, pairs: Sequence[Pair]) -> None:
        folder, on_take = self._page.session.folder, self._noting()
        title = f"Redo of {pairs[0][0]} at {pairs[0][1]}" if len(pairs) == 1 else "Redo"
        if live(self._page.session).kind == "interface":
            await self._tools.measure(title, pairs)
            return
        await self._survey(
            title, lambda progress: commissioning.redo(folder, pairs, progress, on_take=on_take)
        )

    async def _survey(
        self, title: str, operation: Callable[[Progress], commissioning.Surveyed]
    ) -> None:
        """Run it and keep what was refused before any window is told that it ended."""
        session = self._page.session

        def work(progress: Progress) -> None:
            _keep_refusals(session, operation(progress))

        await self._page.run(title, work)

    async def _imported(self, surveyed: commissioning.Surveyed) -> None:
        _keep_refusals(self._page.session, surveyed)
        if not self._findings.left:
            self._update()

    def _get_sweep(self) -> None:
        def write() -> None:
            ui.download.file(commissioning.write_sweep(self._page.session.folder))

        self._page.attempt(write)

    def _moved(self, move: PlanMove) -> None:
        self._page.apply(
            lambda job: with_station_at(job, move.id, move.position_m), f"move station {move.id}"
        )

    def _add_station(self) -> None:
        x, y, z = self._page.job.seat(self._page.job.main_seat).position_m
        self._page.apply(
            lambda job: edit_survey.with_another_station(job, (x, y + 0.2, z)), "add a station"
        )

    def _drop_unused(self) -> None:
        names = edit_survey.unused_stations(self._page.job)
        self._page.apply(
            lambda job: edit_survey.without_stations(job, names), f"take out {len(names)} stations"
        )


def _keep_refusals(session: JobSession, surveyed: commissioning.Surveyed) -> None:
    _FINDINGS[session] = tuple(f for f in surveyed.findings if f.severity == "refusal")


def _figures(title: str, named: Sequence[tuple[str, float]]) -> None:
    """A line of figures under their names."""
    if not named:
        return
    ui.label(title).classes("rw-small rw-quiet")
    with ui.element("div").classes("rw-figures"):
        for name, value in named:
            with ui.element("div"):
                Word(name, "span", "rw-quiet")
                Word(f"{value:.0f}")
