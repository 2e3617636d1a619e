"""What the room will do: pressure on the plan, bass at the seats, first reflections."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Protocol

from nicegui import background_tasks, ui

from roomwright._errors import InputError
from roomwright.commissioning.plan_view import unit_label
from roomwright.commissioning.room_view import (
    PressureMap,
    Reflection,
    SeatLevels,
    first_reflections,
    pressure_map,
    seat_levels,
    source_groups,
    why_no_field,
)
from roomwright.model import Job, Point
from roomwright.web.components.graph_desk import Axis, Curve, GraphDesk, Handle, Mark
from roomwright.web.components.plan import Plan, PlanMap, PlanPath
from roomwright.web.elements import Part, Word
from roomwright.web.newest import Newest
from roomwright.web.page import JobPage

_LOW_HZ: Final = 20.0
_HIGH_HZ: Final = 200.0
_STEPS_AN_OCTAVE: Final = 24
_STEPS: Final = round(math.log2(_HIGH_HZ / _LOW_HZ) * _STEPS_AN_OCTAVE)

_FREQUENCY: Final = Axis("frequency", "Hz", _LOW_HZ, _HIGH_HZ, log=True)
_LEVEL: Final = Axis("level", "dB", -24.0, 24.0)
_SPREAD: Final = Axis("spread", "dB", 0.0, 30.0)


class Canvas(Protocol):
    """What the forecast is drawn on: a plan, and what is chosen and laid over it there."""

    @property
    def overlay(self) -> str:
        """What is drawn over the plan."""

    @property
    def chosen(self) -> str:
        """The id of the chosen item, or ""."""

    @property
    def plan(self) -> Plan:
        """The plan itself."""

    def badge_seats(self, badges: Mapping[str, str]) -> None:
        """Write a few words at seats, by their ids."""

    def show_paths(self, paths: list[tuple[Point, ...]]) -> None:
        """Draw paths in the other views."""


@dataclass(frozen=True, slots=True)
class _Question:
    job: Job
    sources: tuple[str, ...]
    frequency_hz: float
    seat: str
    map: bool
    levels: bool


@dataclass(frozen=True, slots=True)
class _Answer:
    map: PressureMap | None
    levels: SeatLevels | None


class RoomForecast:
    """Controls and drawings of the forecast in one window; it follows what is dragged."""

    def __init__(self, page: JobPage, canvas: Canvas) -> None:
        self._page, self._canvas = page, canvas
        self._frequency_hz = 40.0
        self._group = ""
        self._looking = False
        self._newest = Newest(_answer, self._show, self._refuse)
        self._answered: SeatLevels | None = None

    # Building

    def build_controls(self) -> None:
        """Build what stands under the plan; shown with the overlays it belongs to."""
        self._pressure = ui.element("div").classes("rw-column").style("gap: 2px")
        with self._pressure:
            with ui.element("div").classes("rw-row").style("flex-wrap: nowrap"):
                self._slider = (
                    ui.slider(min=0, max=_STEPS, step=1, value=_step_of(self._frequency_hz))
                    .props(f'aria-label="frequency, {_LOW_HZ:g} to {_HIGH_HZ:g} Hz"')
                    .on_value_change(lambda event: self._tune(_hertz_of(event.value)))
                )
                self._hertz = ui.label(_hertz_text(self._frequency_hz)).classes("rw-number")
                self._hertz.style("width: 64px; flex: none")
                self._sources = (
                    ui.select([], label="Playing", on_change=lambda e: self._play(str(e.value)))
                    .props("outlined dense options-dense")
                    .style("width: 150px; flex: none")
                )
            with ui.element("div").classes("rw-row").style("flex-wrap: nowrap"):
                ui.element("div").style(
                    "width: 120px; height: 8px; flex: none; border-radius: 2px; background: "
                    "linear-gradient(90deg, rgb(12,34,76), rgb(58,78,108), rgb(112,113,115),"
                    "rgb(165,154,108), rgb(220,198,88), rgb(254,233,96))"
                )
                self._legend = ui.label("").classes("rw-small")
        self._list = Part("rw-small")
        self._why = ui.label("").classes("rw-small rw-doubt")

    def build_graph(self) -> None:
        """Build the graph of levels at the seats."""
        self._graph = GraphDesk(
            x=_FREQUENCY,
            y=_LEVEL,
            lower=_SPREAD,
            name="Bass at the seats",
        )
        self._graph.style("width: 100%; height: 100%")
        self._graph.on_handle(lambda moved: self._tune(moved.x))

    # Following

    def follow(self, job: Job) -> None:
        """Draw the forecast for a state of the job, which may be one that is being dragged."""
        overlay = self._canvas.overlay
        self._pressure.set_visibility(overlay == "pressure")
        self._list.element.set_visibility(overlay == "reflections")
        why = why_no_field(job)
        self._why.text = f"▲ {why}" if why and overlay != "angles" else ""
        self._why.set_visibility(bool(self._why.text))
        if overlay != "pressure" or why:
            self._canvas.plan.show_map(None)
            self._canvas.badge_seats({})
        self._draw_reflections(job, wanted=overlay == "reflections" and not why)
        if why:
            self._graph.set_curves([])
            self._graph.set_empty(why)
            return
        self._graph.set_empty("")
        self._offer(job)
        self._ask(job)

    def look(self, looking: bool) -> None:  # noqa: FBT001 - a state
        """Say whether the graph is seen; only then it is computed."""
        self._looking = looking
        self.follow(self._page.job)

    def _offer(self, job: Job) -> None:
        groups = dict(source_groups(job))
        if self._group not in groups:
            self._group = next(iter(groups), "")
        names = {key: _group_label(job, key, self._page) for key in groups}
        if self._sources.options != names:
            self._sources.set_options(names, value=self._group or None)

    def _play(self, group: str) -> None:
        if group != self._group and group in dict(source_groups(self._page.job)):
            self._group = group
            self._ask(self._page.job)

    def _tune(self, frequency_hz: float) -> None:
        frequency = min(max(frequency_hz, _LOW_HZ), _HIGH_HZ)
        if abs(frequency - self._frequency_hz) < 1e-6 * frequency:
            return
        self._frequency_hz = frequency
        self._hertz.text = _hertz_text(frequency)
        if abs(_hertz_of(self._slider.value) / frequency - 1) > 0.02:
            self._slider.value = _step_of(frequency)
        if self._answered is not None:
            self._mark(self._answered)
        self._ask(self._page.job, levels=False)

    def _ask(self, job: Job, *, levels: bool = True) -> None:
        question = _Question(
            job=job,
            sources=dict(source_groups(job)).get(self._group, ()),
            frequency_hz=self._frequency_hz,
            seat=self._page.seat,
            map=self._canvas.overlay == "pressure",
            levels=levels and self._looking,
        )
        if question.map or question.levels:
            background_tasks.create(self._newest.ask(question), name="room forecast")

    # Drawing

    def _show(self, answer: _Answer) -> None:
        if self._page.gone or self._list.left:
            return
        if answer.map is not None and self._canvas.overlay == "pressure":
            self._draw_map(answer.map)
        if answer.levels is not None:
            self._draw_levels(answer.levels)

    def _refuse(self, sentence: str) -> None:
        if self._page.gone or self._list.left:
            return
        self._canvas.plan.show_map(None)
        self._why.text = f"▲ {sentence}"
        self._why.set_visibility(True)

    def _draw_map(self, found: PressureMap) -> None:
        levels = [
            [None if math.isnan(level) else round(level, 1) for level in row]
            for row in found.levels_db.tolist()
        ]
        self._canvas.plan.show_map(
            PlanMap((0.0, 0.0), found.size_m, levels, found.low_db, found.high_db, "")
        )
        self._canvas.badge_seats({name: signed(level) for name, level in found.seats})
        spread = f"; seats within {found.spread_db:.1f} dB" if len(found.seats) > 1 else ""
        self._legend.text = (
            f"{signed(found.low_db, 0)} to {signed(found.high_db, 0)} dB re 1 m free field, at "
            f"{self._page.length(found.height_m)}{spread}"
        )

    def _draw_levels(self, found: SeatLevels) -> None:
        self._answered = found
        chosen = self._page.seat
        curves = [
            Curve(
                f"seat {name}",
                name,
                found.frequency_hz,
                level,
                colour=1 if name == chosen else 6,
                dash=0 if name == chosen else 2,
                faint=name != chosen,
            )
            for name, level in zip(found.seats, found.levels_db, strict=True)
        ]
        curves.append(
            Curve("mean", "mean", found.frequency_hz, found.mean_db, dash=1, emphasis=True)
        )
        curves.append(
            Curve("spread", "spread", found.frequency_hz, found.spread_db, colour=2, panel=1)
        )
        self._graph.set_curves(curves)
        self._graph.set_caption(
            f"{_group_label(self._page.job, self._group, self._page)} re 1 m in the free field, "
            "computed for the box with its absorption, not smoothed; lines: lowest axial modes"
        )
        self._mark(found)

    def _mark(self, found: SeatLevels) -> None:
        self._graph.set_marks([Mark(float(mode), "") for mode in found.modes_hz[:5]])
        near = int(abs(found.frequency_hz - self._frequency_hz).argmin())
        self._graph.set_handles(
            [
                Handle(
                    "frequency",
                    _hertz_text(self._frequency_hz),
                    self._frequency_hz,
                    float(found.mean_db[near]),
                    free="x",
                    low_x=_LOW_HZ,
                    high_x=_HIGH_HZ,
                )
            ]
        )

    def _draw_reflections(self, job: Job, *, wanted: bool) -> None:
        found: tuple[Reflection, ...] = ()
        refused = ""
        loudspeaker = self._loudspeaker(job) if wanted else ""
        if loudspeaker:
            try:
                found = first_reflections(job, loudspeaker, self._page.seat)
            except InputError as error:
                refused = str(error)
        self._canvas.plan.show_paths([_path(one) for one in found])
        self._canvas.show_paths([one.points_m for one in found])
        name = unit_label(job, loudspeaker, self._page.label) if loudspeaker else ""

        def build() -> None:
            if refused:
                ui.label(f"▲ {refused}").classes("rw-doubt")
            elif not loudspeaker:
                ui.label("Choose a loudspeaker to see its first reflections.").classes("rw-quiet")
            else:
                _list_reflections(found, name)

        if wanted:
            self._list.show((refused, name, found), build)

    def _loudspeaker(self, job: Job) -> str:
        names = [unit.id for unit in job.units]
        if self._canvas.chosen in names:
            return self._canvas.chosen
        return names[0] if names else ""


def _answer(question: _Question) -> _Answer:
    job, sources = question.job, question.sources
    return _Answer(
        pressure_map(job, sources, question.frequency_hz, seat=question.seat)
        if question.map
        else None,
        seat_levels(job, sources, _LOW_HZ, _HIGH_HZ) if question.levels else None,
    )


def _path(one: Reflection) -> PlanPath:
    label = f"{1000 * one.after_s:.1f} ms" if one.surface else ""
    return PlanPath(one.points_m, label, faint=not one.strong and bool(one.surface))


def _list_reflections(found: tuple[Reflection, ...], name: str) -> None:
    ui.label(
        f"{name}: first reflections re the direct sound, 1 to 8 kHz; strong are those above "
        "−10 dB within 15 ms"
    ).classes("rw-quiet")
    with ui.element("table").classes("rw-list"):
        for one in found[1:]:
            after, level = f"{1000 * one.after_s:.1f} ms", f"{signed(one.level_db)} dB"
            with ui.element("tr"):
                Word(one.surface, "td")
                Word(after, "td", "rw-number")
                Word(level, "td", "rw-number")
                Word("▲ strong" if one.strong else "", "td", "rw-doubt")


def _group_label(job: Job, key: str, page: JobPage) -> str:
    return key if key == "all subwoofers" else unit_label(job, key, page.label)


def signed(value: float, digits: int = 1) -> str:
    """A number with a minus sign as printed."""
    return f"{round(value, digits) + 0.0:.{digits}f}".replace("-", "−")


def _step_of(frequency_hz: float) -> int:
    return round(math.log2(frequency_hz / _LOW_HZ) * _STEPS_AN_OCTAVE)


def _hertz_of(step: float) -> float:
    return float(_LOW_HZ * 2.0 ** (step / _STEPS_AN_OCTAVE))


def _hertz_text(frequency_hz: float) -> str:
    return f"{frequency_hz:.1f} Hz"
