"""The bass in figures: of a unit as surveyed, of a channel predicted and re-measured."""

from __future__ import annotations

import asyncio
from typing import Final

from nicegui import background_tasks, ui

from roomwright._errors import InputError
from roomwright.commissioning.bass.figures_sheet import BassSheet, bass_sheet, sources_of
from roomwright.handover.bass_figures import DECAY_WORDS, DEFINITIONS, Rows, mode_words
from roomwright.measurement import ResponseSet
from roomwright.web.elements import SECOND, Part, Word, style
from roomwright.web.page import JobPage

_STYLE: Final = """
.rw-figures { width: min(860px, 94vw); max-width: none; padding: 14px 18px; }
.rw-figures-table { border-collapse: collapse; font-size: 12px; width: 100%; }
.rw-figures-table th, .rw-figures-table td { padding: 2px 8px; text-align: right;
  border-bottom: 1px solid var(--rw-line); white-space: nowrap; }
.rw-figures-table th[scope=row] { text-align: left; font-weight: 500; color: var(--rw-quiet); }
.rw-figures-two { display: grid; grid-template-columns: 1fr 1fr; gap: 18px; align-items: start; }
@media (max-width: 800px) { .rw-figures-two { grid-template-columns: minmax(0, 1fr); } }
"""


class FiguresDialog:
    """Opened from the bass's panel; computes when asked, off the event loop."""

    def __init__(self, page: JobPage) -> None:
        style(_STYLE)
        self._page = page
        with (
            ui.dialog().props('aria-label="bass in figures"') as self._dialog,
            ui.card().classes("rw-figures rw-column"),
        ):
            with ui.element("div").classes("rw-row w-full"):
                Word("The bass in figures", "h2", "rw-title")
                self._source = ui.select({}, on_change=self._ask).props(
                    'outlined dense options-dense aria-label="figures of"'
                )
                ui.element("div").classes("rw-space")
                ui.button("Close", on_click=self._dialog.close).props(SECOND)
            self._body = Part("rw-column w-full")

    def open(self) -> None:
        """Open it for the channel it showed last."""
        self._dialog.open()
        self._ask()

    def _ask(self) -> None:
        if self._dialog.value:
            background_tasks.create(self._load(), name="figures of the bass")

    async def _load(self) -> None:
        job, session, wanted = self._page.job, self._page.session, self._source.value

        def compute() -> tuple[dict[str, str], BassSheet]:
            kept = {
                "survey": session.survey(),
                "predicted": session.predicted(),
                "re-measured": session.measured(),
            }
            sets: dict[str, ResponseSet] = {
                name: one for name, one in kept.items() if one is not None
            }
            sources = sources_of(job, sets)
            if not sources:
                raise InputError("nothing is measured yet; survey first")
            names = {source: self._page.label(source) for source in sources}
            return names, bass_sheet(job, sets, wanted if wanted in names else sources[0])

        try:
            names, sheet = await asyncio.to_thread(compute)
        except InputError as error:
            sentence = f"▲ {self._page.said(str(error))}"
            self._body.show(sentence, lambda: self._refuse(sentence))
            return
        if self._page.gone or self._dialog.is_deleted:
            return
        if self._source.options != names or self._source.value != sheet.source:
            self._source.set_options(names, value=sheet.source)
        self._body.show(sheet, lambda: self._build(sheet))

    def _refuse(self, sentence: str) -> None:
        Word(sentence, "div", "rw-doubt")

    def _build(self, sheet: BassSheet) -> None:
        low, high = sheet.band_hz
        places = f"{len(sheet.stations)} places"
        Word(f"{low:.0f} to {high:.0f} Hz at {places}.", "div", "rw-quiet rw-small")
        with ui.element("div").classes("rw-figures-two"):
            with ui.element("div").classes("rw-column"):
                _table(("", *sheet.sets), sheet.figures)
                if sheet.modes:
                    _table(("mode", "decay, s", "main seat, dB", "seats, dB"), sheet.modes)
            decays = (f"{name}, s" for name in sheet.sets)
            _table(("decay", *decays, "shortest", "line"), sheet.decay)
        for words in (DEFINITIONS, DECAY_WORDS):
            Word(words, "div", "rw-quiet rw-small")
        if sheet.misfit_db is not None and sheet.modes:
            modes = mode_words(sheet.modes, sheet.misfit_db)
            Word(modes, "div", "rw-quiet rw-small")


def _table(head: tuple[str, ...], rows: Rows) -> None:
    with ui.element("table").classes("rw-figures-table"):
        with ui.element("thead"), ui.element("tr"):
            for word in head:
                Word(word, "th").props("scope=col")
        with ui.element("tbody"):
            for name, *values in rows:
                with ui.element("tr"):
                    Word(name, "th").props("scope=row")
                    for value in values:
                        Word(value, "td")
