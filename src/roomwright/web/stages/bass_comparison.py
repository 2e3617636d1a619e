"""The ways to feed the subwoofers side by side on one page, and the room before and after."""

from __future__ import annotations

import math
from collections.abc import Awaitable, Callable
from dataclasses import replace
from typing import Final

import numpy as np
from nicegui import background_tasks, ui

from roomwright.commissioning import BassComparison
from roomwright.commissioning.bass.compare import WayCompared, is_asked_for
from roomwright.commissioning.bass.pressure import BassMap, BassMaps, bass_maps
from roomwright.commissioning.bass.sheet import (
    WAY_WORDS,
    SheetRow,
    comparison_sheet,
    drives_say,
    origin_says,
)
from roomwright.commissioning.plan_view import PlanView, plan_view
from roomwright.commissioning.room_view import why_no_field
from roomwright.model import Job
from roomwright.web.components.graph_desk import Axis, Curve, GraphDesk, distinct
from roomwright.web.components.plan import Plan, PlanMap
from roomwright.web.elements import PRIMARY, SECOND, Part, Word, style
from roomwright.web.newest import Newest
from roomwright.web.page import JobPage
from roomwright.web.room_forecast import signed

_STYLE: Final = """
.rw-ways { width: 100%; border-collapse: collapse; font-size: 12px; }
.rw-ways th, .rw-ways td { padding: 2px 8px; border-bottom: 1px solid var(--rw-line);
  text-align: right; white-space: nowrap; }
.rw-ways th[scope=row] { text-align: left; font-weight: 500; color: var(--rw-quiet); }
.rw-ways .rw-link { background: none; border: 0; padding: 0; font: inherit; cursor: pointer;
  color: var(--rw-accent); text-decoration: underline; text-underline-offset: 2px; }
.rw-ways .chosen { background: var(--rw-panel); }
.rw-ways thead th { vertical-align: bottom; }
.rw-ways-page { width: 100%; min-height: 100%; padding: 12px 16px; background: var(--rw-raised); }
.rw-ways-table { overflow-x: auto; flex: none; }
.rw-ways-below { display: grid; grid-template-columns: minmax(360px, 1.3fr) minmax(420px, 1fr);
  gap: 12px; }
.rw-ways-below > * { min-width: 0; }
.rw-ways-maps { display: grid; grid-template-columns: 1fr 1fr; gap: 8px; height: 300px; }
.rw-ways-maps > * { min-width: 0; border: 1px solid var(--rw-line); border-radius: 4px; }
@media (max-width: 900px) { .rw-ways-below { grid-template-columns: minmax(0, 1fr); } }
"""


class ComparisonDialog:
    """One page with every way's figures, decay against its line, and pressure before and after.

    Parameters
    ----------
    page
        The window.
    use
        Called with the way that was chosen.
    """

    def __init__(self, page: JobPage, use: Callable[[WayCompared], Awaitable[None]]) -> None:
        style(_STYLE)
        self._page, self._use = page, use
        self._found: BassComparison | None = None
        self._looked_at = ""
        self._hertz = 40.0
        self._newest = Newest(_maps, self._draw_maps, self._refuse)
        with (
            ui.dialog().props('maximized aria-label="ways to feed the subwoofers"') as self._dialog,
            ui.element("div").classes("rw-ways-page rw-column"),
        ):
            with ui.element("div").classes("rw-row"):
                Word("Ways to feed the subwoofers", "h2", "rw-title")
                self._origin = Word("", "span", "rw-quiet rw-small")
                ui.element("div").classes("rw-space")
                ui.button("Close", on_click=self._dialog.close).props(SECOND)
            self._table = Part("rw-ways-table")
            self._says = Part("rw-column rw-small")
            with ui.element("div").classes("rw-ways-below"):
                self._decay = GraphDesk(
                    x=Axis("frequency", "Hz", 20.0, 125.0, log=True),
                    y=Axis("decay for 60 dB", "s", 0.0, 1.2, decimals=2),
                    name="Decay by third octave, worst station",
                ).style("height: 350px")
                with ui.element("div").classes("rw-column"):
                    self._build_maps()

    def open(self) -> None:
        """Open it."""
        self._dialog.open()
        self._ask()

    def show(self, found: BassComparison | None) -> None:
        """Show a comparison; with None the page closes."""
        if self._dialog.is_deleted:
            return
        if found is None:
            self._found = None
            self._dialog.close()
            return
        if found is not self._found:
            self._found = found
            asked = [way for way in found.ways if is_asked_for(self._page.job, found, way)]
            best = min((way for way in found.ways if way.method), key=lambda way: way.score)
            self._looked_at = (asked or [best])[0].name
            self._origin.text = origin_says(found)
            steps = found.frequency_hz
            self._slider.props(f":max={len(steps) - 1}")
            self._slider.value = min(range(len(steps)), key=lambda n: abs(steps[n] - self._hertz))
        self._refresh()

    def _refresh(self) -> None:
        found, job = self._found, self._page.job
        if found is None:
            return
        asked = tuple(way.name for way in found.ways if is_asked_for(job, found, way))
        key = (id(found), self._looked_at, asked)
        self._table.show(key, lambda: self._build_table(found, asked))
        self._says.show(key, lambda: self._build_says(found))
        self._draw_decay(found)

    # The table

    def _build_table(self, found: BassComparison, asked: tuple[str, ...]) -> None:
        with ui.element("table").classes("rw-ways"):
            with ui.element("thead"), ui.element("tr"):
                Word("", "td")
                for way in found.ways:
                    with ui.element("th").props("scope=col").classes(self._column(way)):
                        button = Word(WAY_WORDS[way.name], "button", "rw-link")
                        button.props("type=button").on(
                            "click", lambda way=way: self._look(way.name), []
                        )
                        button.props(f"aria-pressed={str(way.name == self._looked_at).lower()}")
            with ui.element("tbody"):
                for row in comparison_sheet(found):
                    self._build_row(found, row)
                with ui.element("tr"):
                    Word("", "td")
                    for way in found.ways:
                        with ui.element("td").classes(self._column(way)):
                            self._build_use(way, asked=way.name in asked)

    def _build_row(self, found: BassComparison, row: SheetRow) -> None:
        with ui.element("tr"):
            with ui.element("th").props("scope=row"):
                Word(row.title).tooltip(row.hint)
            for way, cell in zip(found.ways, row.cells, strict=True):
                tone = f"rw-{cell.tone}" if cell.tone else ""
                Word(cell.text, "td", f"{tone} {self._column(way)}")

    def _build_use(self, way: WayCompared, *, asked: bool) -> None:
        if asked:
            Word("■ in use", "span", "rw-good")
        elif way.method is not None:
            button = ui.button("Use", on_click=lambda: self._use(way)).props(
                PRIMARY if way.name == self._looked_at else SECOND
            )
            button.props(f'aria-label="feed them as {WAY_WORDS[way.name]}"')

    def _column(self, way: WayCompared) -> str:
        return "chosen" if way.name == self._looked_at else ""

    def _build_says(self, found: BassComparison) -> None:
        way = found.way(self._looked_at)
        if way is None:
            return
        Word(f"{WAY_WORDS[way.name]}: largest drive in dB re all alike: {drives_say(found, way)}.")
        for said in dict.fromkeys(way.says):
            Word(f"{said[0].upper()}{said[1:]}.", "span", "rw-quiet")
        for finding in found.findings:
            if finding.text not in way.says and finding.severity != "note":
                Word(f"▲ {finding.text}", "span", "rw-doubt")
            elif finding.text not in way.says:
                Word(f"{finding.text[0].upper()}{finding.text[1:]}.", "span", "rw-quiet")

    def _look(self, name: str) -> None:
        self._looked_at = name
        self._refresh()
        self._ask()

    # Decay

    def _draw_decay(self, found: BassComparison) -> None:
        ways = [way for way in found.ways if way.decay]
        curves = [
            _curve(way, number, chosen=way.name == self._looked_at)
            for number, way in enumerate(ways, start=1)
        ]
        if ways:
            bands = ways[0].decay
            frequency = np.array([band.frequency_hz for band in bands])
            line = np.array([math.nan if b.limit_s is None else b.limit_s for b in bands])
            curves.append(Curve("line", "threshold", frequency, line, dash=1, emphasis=True))
            way = found.way(self._looked_at)
            own = way.decay if way is not None and way.decay else bands
            readable = np.array([band.readable_s for band in own])
            curves.append(Curve("readable", "analysis limit", frequency, readable, dash=2))
        self._decay.set_curves(curves)
        self._decay.set_caption(
            "longest over the stations that judge; shorter than the analysis limit cannot be read"
        )

    # Pressure

    def _build_maps(self) -> None:
        view = _seats(self._page.job)
        with ui.element("div").classes("rw-row").style("flex-wrap: nowrap"):
            self._slider = ui.slider(min=0, max=1, step=1, value=0).props(
                'aria-label="frequency of the pressure"'
            )
            self._slider.on_value_change(lambda event: self._tune(int(event.value or 0)))
            self._at = ui.label("").classes("rw-number").style("width: 64px; flex: none")
        with ui.element("div").classes("rw-ways-maps"):
            self._before = Plan(view, name="Pressure, all alike", units=self._page.units)
            self._after = Plan(view, name="Pressure, fed this way", units=self._page.units)
        self._legend = ui.label("").classes("rw-small")

    def _tune(self, step: int) -> None:
        found = self._found
        if found is None:
            return
        self._hertz = found.frequency_hz[min(step, len(found.frequency_hz) - 1)]
        self._at.text = f"{self._hertz:.1f} Hz"
        self._ask()

    def _ask(self) -> None:
        found, job = self._found, self._page.job
        way = None if found is None else found.way(self._looked_at)
        if found is None or way is None or not self._dialog.value:
            return
        why = why_no_field(job)
        if why:
            self._refuse(why)
            return
        question = (job, found, way, self._hertz)
        background_tasks.create(self._newest.ask(question), name="bass maps")

    def _draw_maps(self, maps: BassMaps) -> None:
        if self._page.gone or self._dialog.is_deleted:
            return
        self._at.text = f"{maps.frequency_hz:.1f} Hz"
        view = _seats(self._page.job)
        for plan, one in ((self._before, maps.before), (self._after, maps.after)):
            plan.show_map(_drawn(maps, one))
            plan.show(_badged(view, one))
        self._before.say(f"all alike: seats within {maps.before.spread_db:.1f} dB")
        word = WAY_WORDS[self._looked_at].lower()
        self._after.say(f"{word}: seats within {maps.after.spread_db:.1f} dB")
        self._legend.text = (
            f"dark {signed(maps.low_db, 0)} to light {signed(maps.high_db, 0)} dB re the mean of "
            f"the seats, at {self._page.length(maps.height_m)}, computed from the drawing"
        )

    def _refuse(self, sentence: str) -> None:
        if not self._page.gone and not self._dialog.is_deleted:
            self._legend.text = f"▲ {sentence}"


def _maps(question: tuple[Job, BassComparison, WayCompared, float]) -> BassMaps:
    job, found, way, frequency_hz = question
    return bass_maps(job, found, way, frequency_hz)


def _curve(way: WayCompared, number: int, *, chosen: bool) -> Curve:
    frequency = np.array([band.frequency_hz for band in way.decay])
    worst = np.array([band.worst_s for band in way.decay])
    name = WAY_WORDS[way.name]
    return Curve(
        way.name, name, frequency, worst, **distinct(number), emphasis=chosen, faint=not chosen
    )


def _seats(job: Job) -> PlanView:
    view = plan_view(job, movable=())
    kept = tuple(item for item in view.items if item.kind in {"seat", "subwoofer"})
    return replace(view, items=kept, sectors=())


def _badged(view: PlanView, one: BassMap) -> PlanView:
    badges = {name: signed(level) for name, level in one.seats}
    items = tuple(
        replace(item, badge=badges.get(item.id, "")) if item.kind == "seat" else item
        for item in view.items
    )
    return replace(view, items=items)


def _drawn(maps: BassMaps, one: BassMap) -> PlanMap:
    levels = [
        [None if math.isnan(level) else round(level, 1) for level in row]
        for row in one.levels_db.tolist()
    ]
    return PlanMap((0.0, 0.0), maps.size_m, levels, maps.low_db, maps.high_db, "")
