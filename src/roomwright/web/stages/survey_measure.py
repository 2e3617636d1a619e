"""Measuring: where the microphone goes next, what each take is worth, again, on, stop."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from typing import Final

from nicegui import ui
from nicegui.events import KeyEventArguments

from roomwright import commissioning
from roomwright._errors import InputError
from roomwright._progress import Progress
from roomwright.commissioning import Surveyed
from roomwright.commissioning.edits import levels as edit_levels
from roomwright.commissioning.plan_view import unit_label
from roomwright.commissioning.survey.redo import Pair
from roomwright.commissioning.survey.words import (
    input_words,
    next_station,
    place_words,
    state_words,
)
from roomwright.commissioning.verdict import Verdict
from roomwright.model import Take
from roomwright.web.elements import PRIMARY, SECOND, Part, Word, style
from roomwright.web.fields import Entry, read_number
from roomwright.web.live import live
from roomwright.web.measuring import measuring
from roomwright.web.page import JobPage
from roomwright.web.stages.survey_facing import build_facing

#: Runs a survey in the window, and notes its takes: title, operation.
Surveying = Callable[[str, Callable[[Progress, Callable[[Take], None]], Surveyed]], Awaitable[None]]

_LOOK_S: Final = 0.2
_SHOWN_VERDICTS: Final = 12

_SHAPES: Final = {
    "good": ("●", "rw-good"),
    "usable": ("◐", ""),
    "doubtful": ("▲", "rw-doubt"),
    "refused": ("✕", "rw-bad"),
}

_CAUTION: Final = (
    "▲ Sweeps are loud and sudden: nobody near a loudspeaker, ears protected. Escape stops them."
)

_STYLE: Final = """
.rw-measure { display: grid; grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); gap: 18px;
  align-items: start; }
.rw-measure > div { min-width: 0; }
.rw-measure .q-field { width: 190px; }
.rw-next-station { font-size: 30px; font-weight: 600; line-height: 1.15; }
.rw-go .q-btn { min-height: 44px; font-size: 15px; padding: 2px 16px; }
.rw-verdict-list { list-style: none; margin: 0; padding: 0; max-height: 300px; overflow-y: auto; }
.rw-verdict-list li { padding: 2px 0; border-top: 1px solid var(--rw-line); }
@media (max-width: 900px) { .rw-measure { grid-template-columns: minmax(0, 1fr); } }
"""


class MeasurePanel:
    """What is asked on one side, verdicts on the other.

    Parameters
    ----------
    page
        The window.
    survey
        Runs a survey, see `Surveying`.
    mark
        Marks a station on the plan.
    """

    def __init__(self, page: JobPage, survey: Surveying, mark: Callable[[str], object]) -> None:
        self._page, self._survey, self._mark = page, survey, mark
        self._live, self._measuring = live(page.session), measuring(page.session)
        self._asked = ""
        self._marked = ""
        style(_STYLE)
        Word(_CAUTION, "div", "rw-doubt rw-small")
        with ui.element("div").classes("rw-measure"):
            with ui.element("div").classes("rw-column"):
                self._build()
            with ui.element("div").classes("rw-column"):
                Word("Verdicts, the newest first", "h2", "rw-title")
                self._verdicts = Part("w-full")
        ui.keyboard(self._key, ignore=["input", "select", "textarea", "button"])
        self._timer = ui.timer(_LOOK_S, self._show)
        self.update()

    def update(self) -> None:
        """Follow the job."""
        self._ceiling.refresh()
        free = not self._page.session.work.holds
        missing = len(commissioning.missing_pairs(self._page.job))
        self._rest.text = f"Measure the {missing} that are missing"
        self._rest.set_visibility(missing > 0)
        for button in (self._all, self._rest, self._again):
            button.set_enabled(free)
        self._show()

    def shown(self, *, shown: bool) -> None:
        """Work only while it is seen."""
        self._timer.active = shown

    async def measure(self, title: str, pairs: Sequence[Pair] | None) -> None:
        """Measure pairs of source and station, or everything."""
        if self._page.session.work.holds:
            self._page.notify(f"{self._page.session.work.holds} is running; stop it first")
            return
        try:
            await self._live.lend()
        except InputError as error:
            self._page.complain(error)
            return
        try:
            await self._survey(
                title, lambda progress, on_take: self._measuring.work(pairs, progress, on_take)
            )
        finally:
            self._live.give_back()

    def _build(self) -> None:
        with ui.element("div").props("role=status aria-live=polite"):
            self._where = Word("", "div", "rw-next-station")
            self._place = Word("", "div")
        with ui.element("div").classes("rw-row rw-go") as self._go:
            self._stands = ui.button(
                "It stands there: go on (Enter)", on_click=lambda: self._answer(stands=True)
            ).props(PRIMARY)
            ui.button("Skip it (S)", on_click=lambda: self._answer(stands=False)).props(SECOND)
        with ui.element("div").classes("rw-row"):
            self._all = ui.button("Measure everything", on_click=self._measure_all).props(SECOND)
            self._rest = ui.button(on_click=self._measure_rest).props(PRIMARY)
            self._again = ui.button("Redo the last take (R)", on_click=self._redo).props(SECOND)
        self._ceiling = Entry(
            "ceiling, dB SPL",
            lambda: f"{self._page.job.levels.ceiling_db:g}",
            self._take_ceiling,
        )
        self._dial = Part("rw-row")
        self._input = Word("", "div", "rw-input-now")
        self._state = Part("w-full")

    def _take_ceiling(self, text: str) -> None:
        """It is the job's: noise and sweeps stop above the same level."""
        ceiling_db = read_number(text, "the ceiling", 40.0, 120.0)
        self._page.session.apply(
            lambda job: edit_levels.with_levels(job, ceiling_db=ceiling_db), "ceiling"
        )

    # Showing

    def _show(self) -> None:
        asks, job = self._measuring.asks, self._page.job
        state = self._measuring.state if self._page.session.work.holds else None
        station = state.station if state is not None else next_station(job)
        verb = "Microphone to" if asks is not None else "Next:" if state is None else "At"
        where = f"{verb} {station}" if station else "Nothing is missing"
        if self._where.text != where:
            self._where.text = where
            known = next((one for one in job.stations if one.id == station), None)
            self._place.text = "" if known is None else place_words(known, self._page.length)
        if self._go.visible != (asks is not None):
            self._go.set_visibility(asks is not None)
        if asks is not None and self._asked != asks.id:
            ui.run_javascript(
                "if (!document.activeElement.matches('input, textarea'))"
                f" getHtmlElement({self._stands.id}).focus()"
            )
        self._asked = "" if asks is None else asks.id
        if station and self._marked != station and (state is not None or self._timer.active):
            self._marked = station
            self._mark(station)
        words = () if state is None else state_words(state, self._label)
        self._state.show(words, lambda: self._build_state(words))
        watch = self._measuring.watch
        heard = "" if watch is None else input_words(watch.level_db(), absolute=watch.absolute)
        if self._input.text != heard:
            self._input.text = heard
        facing = self._measuring.facing
        self._dial.show(facing, lambda: build_facing(facing))
        latest = tuple(self._measuring.verdicts)[:_SHOWN_VERDICTS]
        self._verdicts.show(latest, lambda: self._build_verdicts(latest))

    def _label(self, source: str) -> str:
        if source == "background":
            return "background noise"
        return unit_label(self._page.job, source, self._page.label)

    def _build_state(self, words: Sequence[tuple[str, str]]) -> None:
        with ui.element("dl").classes("rw-pairs"):
            for name, text in words:
                Word(name, "dt")
                Word(text, "dd")

    def _build_verdicts(self, verdicts: Sequence[Verdict]) -> None:
        if not verdicts:
            Word("They come as soon as a take is made.", "div", "rw-quiet")
            return
        with ui.element("ul").classes("rw-verdict-list"):
            for one in verdicts:
                shape, tone = _SHAPES[one.worth]
                with ui.element("li"):
                    Word(f"{shape} {one.worth}: ", "b", tone)
                    Word(f"{self._label(one.source)} at {one.station}; {'; '.join(one.says)}")

    # Doing

    async def _key(self, event: KeyEventArguments) -> None:
        if not event.action.keydown or event.action.repeat or not self._timer.active:
            return
        key = str(event.key.name)
        if event.modifiers.ctrl or event.modifiers.meta or event.modifiers.alt:
            return
        if key == "Enter":
            self._answer(stands=True)
        elif key in ("s", "S"):
            self._answer(stands=False)
        elif key in ("r", "R") and not self._page.session.work.holds:
            await self._redo()

    def _answer(self, *, stands: bool) -> None:
        self._measuring.answer(stands=stands)
        self._show()

    async def _measure_all(self) -> None:
        await self.measure("Survey", None)

    async def _measure_rest(self) -> None:
        await self.measure("Survey", commissioning.missing_pairs(self._page.job))

    async def _redo(self) -> None:
        latest = next(iter(self._measuring.verdicts), None)
        if latest is None:
            self._page.notify("No take was made yet; choose one in the table to redo it.")
            return
        pair = latest.source, latest.station
        await self.measure(f"Redo of {pair[0]} at {pair[1]}", [pair])
