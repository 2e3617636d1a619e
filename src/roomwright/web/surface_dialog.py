"""The dialog that says what a surface is made of."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from nicegui import ui

from roomwright._errors import InputError
from roomwright.commissioning.edits.surfaces import shares_of, with_absorption, with_surface
from roomwright.model import OCTAVE_BANDS_HZ, Job, Surface
from roomwright.standards.materials import MATERIALS
from roomwright.web.elements import Word
from roomwright.web.fields import read_number
from roomwright.web.page import JobPage

_ROWS = 4


class _Use(Protocol):
    def __call__(self, *, everywhere: bool) -> None: ...


class SurfaceDialog:
    """Shares of known materials, or the absorption of a test report."""

    def __init__(self, page: JobPage) -> None:
        self._page = page
        with (
            ui.dialog().props('aria-label="surface"') as self._dialog,
            ui.card().style("width: 560px"),
        ):
            self._body = ui.element("div").classes("rw-column w-full")

    def open(self, where: str, title: str) -> None:
        """Open it for one surface."""
        self._where, self._title = where, title
        surface = self._surface()
        self._body.clear()
        with self._body:
            Word(title.capitalize(), "h2", "rw-title")
            with ui.tabs().props("dense align=left no-caps") as tabs:
                mixed, stated = ui.tab("Materials"), ui.tab("Absorption from a test report")
            known = bool(shares_of(surface))
            with ui.tab_panels(tabs, value=mixed if known else stated, animated=False).classes(
                "w-full"
            ):
                with ui.tab_panel(mixed).classes("rw-column").style("padding: 4px 0"):
                    self._build_shares(shares_of(surface))
                with ui.tab_panel(stated).classes("rw-column").style("padding: 4px 0"):
                    self._build_absorption(surface)
            self._error = ui.label("").classes("rw-bad").props("role=alert")
        self._dialog.open()

    def _surface(self) -> Surface:
        room = self._page.job.room
        named = {"floor": room.floor, "ceiling": room.ceiling}
        named |= {f"wall {number}": wall for number, wall in enumerate(room.walls, start=1)}
        return named[self._where]

    def _build_shares(self, shares: dict[str, float]) -> None:
        rows = [*shares.items(), *[("", 0.0)] * _ROWS][: max(_ROWS, len(shares))]
        fields = []
        for number, (name, share) in enumerate(rows, start=1):
            with ui.element("div").classes("rw-row w-full").style("flex-wrap: nowrap"):
                choice = ui.select(
                    {"": "none", **{m: m for m in MATERIALS}},
                    value=name,
                    label=f"Material {number}",
                ).props("outlined dense options-dense")
                choice.style("flex: 1")
                part = ui.number(f"Share {number}, %", value=round(100 * share) or None)
                part.props("outlined dense").style("width: 110px")
                fields.append((choice, part))
        ui.label(
            "Typical values from handbooks; a test report of the product in hand is better."
        ).classes("rw-quiet rw-small")

        def use(*, everywhere: bool) -> None:
            wanted: dict[str, float] = {}
            for choice, part in fields:
                if choice.value:
                    share = float(part.value or 0.0) / 100.0
                    wanted[choice.value] = wanted.get(choice.value, 0.0) + share
            where = "all walls" if everywhere else self._where
            self._use(lambda job: with_surface(job, where, wanted), everywhere=everywhere)

        self._buttons(use)

    def _build_absorption(self, surface: Surface) -> None:
        name = ui.input("Name", value=surface.material).props("outlined dense").classes("w-full")
        fields = []
        with ui.element("div").style(
            "display: grid; grid-template-columns: repeat(4, 1fr); gap: 8px"
        ):
            for band, value in zip(OCTAVE_BANDS_HZ, surface.absorption, strict=True):
                title = f"{band // 1000} kHz" if band >= 1000 else f"{band} Hz"
                fields.append((title, ui.input(title, value=f"{value:.2f}")))
                fields[-1][1].props("outlined dense")

        def use(*, everywhere: bool) -> None:
            try:
                values = [read_number(field.value, title, 0, 1) for title, field in fields]
            except InputError as error:
                self._error.text = str(error)
                return
            where = "all walls" if everywhere else self._where
            self._use(
                lambda job: with_absorption(job, where, name.value, values), everywhere=everywhere
            )

        self._buttons(use)

    def _buttons(self, use: _Use) -> None:
        with ui.element("div").classes("rw-row"):
            ui.button("Use it", on_click=lambda: use(everywhere=False)).props("unelevated dense")
            if self._where.startswith("wall"):
                ui.button("Use it on all walls", on_click=lambda: use(everywhere=True)).props(
                    "outline dense"
                )
            ui.button("Cancel", on_click=self._dialog.close).props("flat dense")

    def _use(self, change: Callable[[Job], Job], *, everywhere: bool) -> None:
        what = "all walls" if everywhere else f"the {self._title}"
        try:
            self._page.session.apply(change, f"change {what}")
        except InputError as error:
            self._error.text = str(error)
        else:
            self._dialog.close()
