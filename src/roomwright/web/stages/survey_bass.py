"""Beside the survey's plan: stations for the bass, a grid, those held back, further ones."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from nicegui import ui

from roomwright.commissioning import with_bass_grid
from roomwright.commissioning.bass.stations import (
    SuggestedStations,
    held_back_names,
    stations_say,
    suggest_stations,
    with_held_back,
    with_stations_at,
)
from roomwright.commissioning.lengths import parse_length
from roomwright.model import Point
from roomwright.web.elements import SECOND, Part, Word, style
from roomwright.web.fields import Entry, read_number
from roomwright.web.page import JobPage

_STYLE: Final = """
.rw-stations .q-item { padding: 4px 0; min-height: 30px; font-weight: 600; }
.rw-stations .q-item__section--side { padding-right: 4px; min-width: 0; }
.rw-stations .rw-column { gap: 6px; }
.rw-stations .q-field__control { min-height: 40px !important; height: 40px !important; }
.rw-stations .q-field--labeled .q-field__native { padding: 16px 0 2px !important; }
.rw-stations .q-field__label { font-size: 13px; }
.rw-stations .rw-column > .q-btn { align-self: flex-start; }
"""


class BassStations:
    """One window's look at the stations as a grid for the bass.

    Attributes
    ----------
    opened
        Whether the section is unfolded; then the plan tells heights and what is held back.
    chosen
        The id of the chosen station, or "".
    """

    def __init__(self, page: JobPage, redraw: Callable[[], None]) -> None:
        style(_STYLE)
        self._page, self._redraw = page, redraw
        self.opened = False
        self.chosen = ""
        self._count = 3
        self._spacing_m: float | None = None
        self._found: SuggestedStations | None = None
        self._found_for: object = None

    @property
    def further(self) -> tuple[Point, ...]:
        """Places suggested for further stations."""
        return () if self._found is None else self._found.places_m

    def build(self) -> None:
        """Build the section in the current slot."""
        with (
            ui.expansion("Stations for the bass", on_value_change=self._unfold)
            .classes("rw-stations")
            .props("dense dense-toggle switch-toggle-side"),
            ui.element("div").classes("rw-column"),
        ):
            self._says = Part("rw-column rw-small")
            self._held = Part("rw-row")
            with ui.element("div").classes("rw-row").style("align-items: start"):
                self._spacing = Entry("Grid at most every", self._spacing_text, self._take_spacing)
                self._spacing.style("width: 150px")
                ui.button("Add the grid", on_click=self._add_grid).props(SECOND)
            with ui.element("div").classes("rw-row").style("align-items: start"):
                self._number = Entry("How many", lambda: str(self._count), self._take_count)
                self._number.style("width: 90px")
                ui.button("Which further stations help most?", on_click=self._suggest).props(SECOND)
            self._suggested = Part("rw-column rw-small")

    def update(self) -> None:
        """Follow the job."""
        job = self._page.job
        if self._found is not None and self._found_for != self._basis():
            self._found = None
        if self.chosen not in {station.id for station in job.stations}:
            self.chosen = ""
        said = stations_say(job, self._page.length)
        self._says.show(said, lambda: _list(said))
        self._show_held()
        self._suggested.show(self._found, self._build_suggested)
        self._spacing.refresh()

    def choose(self, item: str) -> None:
        """Choose a station on the plan; "" chooses none."""
        self.chosen = item
        self._show_held()
        self._redraw()

    def _basis(self) -> object:
        job = self._page.job
        return job.room, job.seats, job.stations, job.subwoofers, job.bass.band_hz

    def _unfold(self, event: object) -> None:
        self.opened = bool(getattr(event, "value", False))
        self._redraw()

    # Held back

    def _show_held(self) -> None:
        job = self._page.job
        known = self.chosen in {station.id for station in job.stations}
        name = self.chosen if known else ""
        held = name in held_back_names(job)
        self._held.show((name, held), lambda: self._build_held(name, held=held))

    def _build_held(self, name: str, *, held: bool) -> None:
        if not name:
            Word("Choose a station on the plan to hold it back.", "span", "rw-quiet rw-small")
            return
        ui.button(
            f"Let the design use {name}" if held else f"Hold {name} back",
            on_click=lambda: self._page.apply(
                lambda job: with_held_back(job, name, held=not held), f"hold {name} back"
            ),
        ).props(SECOND)

    # The grid

    def _spacing_text(self) -> str:
        return "band's third" if self._spacing_m is None else self._page.length(self._spacing_m)

    def _take_spacing(self, text: str) -> None:
        self._spacing_m = parse_length(text, self._page.units) if text else None
        with_bass_grid(self._page.job, self._spacing_m)

    def _add_grid(self) -> None:
        before = len(self._page.job.stations)
        self._page.apply(lambda job: with_bass_grid(job, self._spacing_m), "add a grid of stations")
        if len(self._page.job.stations) == before:
            self._page.notify("the stations are close enough already; no station was added")

    # Further stations

    def _take_count(self, text: str) -> None:
        self._count = round(read_number(text, "how many", 1, 20))

    async def _suggest(self) -> None:
        job, count, basis = self._page.job, self._count, self._basis()
        found = await self._page.run(
            "Further stations",
            lambda progress: suggest_stations(job, count, progress),
            yields=True,
        )
        if found is None or self._page.gone or self._suggested.left:
            return
        self._found, self._found_for = found, basis
        self.update()
        self._redraw()

    def _build_suggested(self) -> None:
        found = self._found
        if found is None:
            return
        Word(f"{found.says[0].upper()}{found.says[1:]}.")
        if found.places_m:
            ui.button(
                f"Add {'it' if len(found.places_m) == 1 else 'them'}",
                on_click=lambda: self._page.apply(
                    lambda job: with_stations_at(job, found.places_m), "add further stations"
                ),
            ).props(SECOND)


def _list(sentences: tuple[str, ...]) -> None:
    for sentence in sentences:
        Word(sentence)
