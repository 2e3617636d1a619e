"""Plan, side view, 3D view and what the room will do: the same in the room and layout stages."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Final, Literal

from nicegui import ui

from roomwright._errors import InputError
from roomwright.commissioning.bass.plan import box_of, is_of_box, with_box_moved, with_places
from roomwright.commissioning.edits.layout import moved
from roomwright.commissioning.plan_view import PlanItem, PlanView, place_says, plan_view
from roomwright.model import Job, Point
from roomwright.web.components.plan import Plan, PlanMove
from roomwright.web.components.room3d import Room3D
from roomwright.web.page import JobPage
from roomwright.web.room_forecast import RoomForecast

#: What is drawn over the plan.
Overlay = Literal["angles", "pressure", "reflections", "places"]

_OVERLAYS: Final[dict[Overlay, str]] = {
    "angles": "Angles",
    "pressure": "Pressure",
    "reflections": "Reflections",
}

#: Where subwoofers may stand, for the stages that ask for it.
_PLACES: Final[dict[Overlay, str]] = {"places": "Places"}

Flat = tuple[float, float]

#: A tab beside the 3D view: its title and what builds it.
Tab = tuple[str, Callable[[], None]]

_STYLE: Final = """
.rw-room { display: grid; gap: 10px; height: calc(100dvh - 44px - 24px); min-height: 480px;
  grid-template-columns: minmax(280px, 1.1fr) minmax(260px, 1fr) minmax(320px, 370px); }
.rw-room > * { min-width: 0; min-height: 0; }
.rw-room-wide { grid-template-columns: minmax(280px, 1fr) minmax(260px, 1.7fr); }
.rw-room-wide .rw-room-panel { display: none; }
.rw-room-column { display: flex; flex-direction: column; gap: 8px; }
.rw-view { flex: 1 1 0; min-height: 0; border: 1px solid var(--rw-line); border-radius: 4px;
  background: var(--rw-panel); position: relative; overflow: hidden; }
.rw-room .q-btn-toggle .q-btn { padding: 2px 5px; font-size: 12px; }
.rw-room .q-tab { min-height: 30px; padding: 0 5px; text-transform: none; }
.rw-room .q-tab__label { font-size: 13px; }
.rw-room .q-tabs { min-height: 30px; }
.rw-room .q-tab-panels, .rw-room .q-panel { background: transparent; }
.rw-room .q-tab-panel { padding: 0; height: 100%; }
.rw-room .q-field__label { font-size: 13px; }
.rw-room-panel { overflow-y: auto; scrollbar-gutter: stable; }
.rw-room-panel h2 { margin: 0; }
.rw-fields { display: grid; grid-template-columns: repeat(3, minmax(0, 1fr)); gap: 8px; }
.rw-facts { display: grid; grid-template-columns: 1fr auto; gap: 2px 10px; font-size: 12px; }
.rw-list { width: 100%; border-collapse: collapse; font-size: 12px; }
.rw-list th { text-align: left; font-weight: 500; color: var(--rw-quiet); padding: 2px 4px;
  border-bottom: 1px solid var(--rw-line); }
.rw-list th.rw-number { text-align: right; }
.rw-list td { padding: 3px 4px; border-bottom: 1px solid var(--rw-line); vertical-align: top; }
.rw-list .rw-number span { white-space: nowrap; display: inline-block; }
.rw-list tr.chosen { background: var(--rw-raised); }
.rw-link { background: none; border: 0; padding: 0; font: inherit; color: var(--rw-accent);
  text-decoration: underline; text-underline-offset: 2px; cursor: pointer; text-align: left; }
@media (max-width: 1100px) {
  .rw-room { height: auto; grid-template-columns: 1fr 1fr; }
  .rw-room > *:nth-child(-n+2) { height: 560px; }
  .rw-room-panel { grid-column: 1 / 3; overflow: visible; }
}
@media (max-width: 700px) {
  .rw-room { grid-template-columns: 1fr; }
  .rw-room-panel { grid-column: 1; }
}
"""


class RoomCanvas:
    """The drawings of one window, kept at one state of the job and one choice.

    Parameters
    ----------
    page
        The window.
    root
        The element of class `rw-room` that it is built in; it fills the first two columns.
    overlay
        What is drawn over the plan at first.
    chose
        Called after another item was chosen.
    tab
        A further tab beside the 3D view; with one, places for subwoofers can be drawn too.
    moving
        Called with the job as it would be while something is dragged.
    """

    def __init__(
        self,
        page: JobPage,
        root: ui.element,
        overlay: Overlay,
        chose: Callable[[], None],
        *,
        tab: Tab | None = None,
        moving: Callable[[Job], None] = lambda _: None,
    ) -> None:
        ui.add_css(_STYLE)
        self.page = page
        self._root = root
        self.chosen = ""
        self._overlay = overlay
        self._chose = chose
        self._tab, self._moving = tab, moving
        self._places: tuple[Point, ...] = ()
        self._more = ""
        self._pairs = False
        self._badges: dict[str, str] = {}
        self.drew_box: Callable[[Flat, Flat], object] = lambda _from, _to: None
        self._scene: Room3D | None = None
        self._forecast = RoomForecast(page, self)
        self._build()

    @property
    def item(self) -> PlanItem | None:
        """The chosen item, if there is one."""
        return next((item for item in self._view(self.page.job).items if self._is(item)), None)

    @property
    def kind(self) -> str:
        """What the chosen item is: "seat", "unit", "box" to keep clear, or "" without one."""
        if is_of_box(self.chosen):
            there = {box.name for box in self.page.job.bass.keep_clear}
            return "box" if box_of(self.chosen) in there else ""
        if any(seat.id == self.chosen for seat in self.page.job.seats):
            return "seat"
        return "unit" if any(unit.id == self.chosen for unit in self.page.job.units) else ""

    @property
    def overlay(self) -> Overlay:
        """What is drawn over the plan."""
        return self._overlay

    def update(self) -> None:
        """Follow a change of the job, the seat or the choice."""
        job = self.page.job
        if not self.kind:
            self.chosen = ""
        if self.page.seat not in {seat.id for seat in job.seats}:
            self.page.seat = job.main_seat
        seats = [seat.id for seat in job.seats]
        if self._seat.options != seats or self._seat.value != self.page.seat:
            self._seat.set_options(seats, value=self.page.seat)
        self._draw(job)
        self._forecast.follow(job)

    def choose(self, item_id: str) -> None:
        """Choose an item by its id; "" chooses none."""
        if item_id == self.chosen:
            return
        self.chosen = item_id
        self._draw(self.page.job)
        self._forecast.follow(self.page.job)
        self._chose()

    def badge_seats(self, badges: Mapping[str, str]) -> None:
        """Write a few words under each seat; an empty mapping takes them away."""
        if dict(badges) != self._badges:
            self._badges = dict(badges)
            self.plan.show(self._shown)

    def show_places(self, places: tuple[Point, ...]) -> None:
        """Draw places for subwoofers besides those left, where places are drawn at all."""
        if places != self._places:
            self._places = places
            self.plan.show(self._shown)

    def outline_boxes(self, outlining: bool) -> None:  # noqa: FBT001 - a state
        """Let boxes to keep clear be drawn on the plan, or no longer."""
        self.plan.outline_boxes(outlining)

    def lay(self, overlay: Overlay) -> None:
        """Draw something else over the plan."""
        self._toggle.value = overlay

    def look_at_tab(self) -> None:
        """Show the further tab."""
        if self._tab is not None:
            self._tabs.value = self._tab[0]

    def say_more(self, says: str) -> None:
        """Add a few words to the line of figures under the plan."""
        if says != self._more:
            self._more = says
            self._say(self.page.job)

    def show_paths(self, paths: list[tuple[tuple[float, float, float], ...]]) -> None:
        """Draw paths in the 3D view."""
        if self._scene is not None:
            self._scene.show_paths(paths)

    def _is(self, item: PlanItem) -> bool:
        return item.id == self.chosen and item.kind != "station"

    def _build(self) -> None:
        view = self._view(self.page.job)
        with ui.element("section").classes("rw-room-column").props('aria-label="plan"'):
            with ui.element("div").classes("rw-row").style("flex-wrap: nowrap; gap: 4px"):
                overlays = _OVERLAYS if self._tab is None else _OVERLAYS | _PLACES
                self._toggle = ui.toggle(
                    dict(overlays), value=self._overlay, on_change=lambda e: self._lay(e.value)
                ).props('dense unelevated no-caps aria-label="drawn over the plan"')
                ui.element("div").classes("rw-space")
                self._seat = (
                    ui.select(
                        [seat.id for seat in self.page.job.seats],
                        value=self.page.seat,
                        label="Seat",
                        on_change=lambda event: self._sit(str(event.value)),
                    )
                    .props("outlined dense options-dense")
                    .style("width: 92px; flex: none")
                )
            with ui.element("div").classes("rw-view"):
                self.plan = Plan(
                    view,
                    name="Plan of the room, arrow keys move what is focused",
                    on_choose=self.choose,
                    on_drag=self._dragged,
                    on_drop=self._dropped,
                    on_box=self._drew_box,
                    on_webgl=self._with_webgl,
                    units=self.page.units,
                )
            self._forecast.build_controls()
            ui.checkbox(
                "Move left and right together", on_change=lambda e: self._pair(pairs=e.value)
            ).props("dense size=sm").classes("rw-small")
        with ui.element("section").classes("rw-room-column").props('aria-label="other views"'):
            with ui.element("div").classes("rw-view").style("flex: 0 0 35%"):
                self._side = Plan(
                    view,
                    "side",
                    name="Section from the left, arrow keys move what is focused",
                    on_choose=self.choose,
                    on_drag=self._dragged,
                    on_drop=self._dropped,
                    units=self.page.units,
                )
            with ui.element("div").classes("rw-row").style("flex-wrap: nowrap"):
                with ui.tabs().props("dense align=left no-caps") as tabs:
                    solid = ui.tab("3D")
                    levels = ui.tab("Bass at the seats")
                    further = None if self._tab is None else ui.tab(self._tab[0])
                self._tabs = tabs
                ui.element("div").classes("rw-space")
                ui.button(icon="open_in_full", on_click=self._widen).props(
                    'flat dense aria-label="larger views, without the form"'
                ).tooltip("Larger views, without the form")
            with (
                ui.tab_panels(tabs, value=solid, animated=False)
                .classes("rw-view")
                .props("keep-alive")
            ):
                with ui.tab_panel(solid):
                    self._solid = ui.element("div").style("width: 100%; height: 100%")
                with ui.tab_panel(levels):
                    self._forecast.build_graph()
                if self._tab is not None and further is not None:
                    with ui.tab_panel(further):
                        self._tab[1]()
            tabs.on_value_change(
                lambda event: self._forecast.look(event.value == "Bass at the seats")
            )

    def _with_webgl(self, drawn: bool) -> None:  # noqa: FBT001 - what the browser says
        self._solid.clear()
        with self._solid:
            if not drawn:
                ui.label(
                    "This browser cannot draw in 3D (no WebGL); plan and section show everything."
                ).classes("rw-quiet").style("padding: 12px")
                return
            self._scene = Room3D(
                self._view(self.page.job), dark=self.page.dark, on_choose=self.choose
            )

    def _view(self, job: Job) -> PlanView:
        return plan_view(job, seat=self.page.seat, label=self.page.label)

    def _draw(self, job: Job) -> None:
        view = self._view(job)
        for plan in (self.plan, self._side):
            plan.choose(self.chosen)
        self._view_now, self._job_now = view, job
        self.plan.show(self._shown)
        self._side.show(self._shown_beside)
        self._say(job)
        if self._scene is not None:
            self._scene.show(view)

    @property
    def _shown(self) -> PlanView:
        """The plan with what belongs to the overlay."""
        view = self._view_now
        if self._overlay == "angles":
            return view
        if self._overlay == "places":
            bare = replace(view, sectors=())
            return with_places(bare, self._job_now, self._places)
        items = tuple(
            replace(item, badge=self._badges.get(item.id, "")) if item.kind == "seat" else item
            for item in view.items
        )
        return replace(_without_angles(view, self.chosen), items=items)

    @property
    def _shown_beside(self) -> PlanView:
        """The section with what belongs to the overlay."""
        if self._overlay == "angles":
            return self._view_now
        view = _without_angles(self._view_now, self.chosen)
        if self._overlay != "places":
            return view
        return replace(with_places(view, self._job_now, self._places), items=view.items)

    def _say(self, job: Job) -> None:
        item = next((item for item in self._view(job).items if self._is(item)), None)
        if item is None:
            self.plan.say(self._more)
            return
        says = place_says(job, item.kind, item.id, self.page.seat, self.page.length)
        self.plan.say(self._more or says.split("; ")[0])
        self._side.say(says.split("; ")[-1])

    def _lay(self, overlay: Overlay) -> None:
        self._overlay = overlay
        self._draw(self.page.job)
        self._forecast.follow(self.page.job)

    def _sit(self, seat: str) -> None:
        if seat != self.page.seat:
            self.page.seat = seat
            self._draw(self.page.job)
            self._forecast.follow(self.page.job)
            self._chose()

    def _drew_box(self, from_m: Flat, to_m: Flat) -> None:
        self.drew_box(from_m, to_m)

    def _widen(self) -> None:
        self._root.classes(toggle="rw-room-wide")
        ui.run_javascript("setTimeout(() => window.dispatchEvent(new Event('resize')), 50)")

    def _pair(self, *, pairs: bool) -> None:
        self._pairs = pairs
        for plan in (self.plan, self._side):
            plan.move_together(pairs)

    def _change(self, move: PlanMove, job: Job) -> Job:
        if is_of_box(move.id):
            return with_box_moved(job, move.id, move.position_m)
        kind: Literal["seat", "unit"] = "seat" if move.kind == "seat" else "unit"
        return moved(job, kind, move.id, move.position_m, twin=self._pairs)

    def _dragged(self, move: PlanMove) -> None:
        try:
            job = self._change(move, self.page.job)
        except InputError:  # a box drawn too small: it is said when it is let go
            return
        self._draw(job)
        self._forecast.follow(job)
        self._moving(job)

    def _dropped(self, move: PlanMove) -> None:
        name = self.page.label(move.id)
        try:
            same = self._change(move, self.page.job) == self.page.job
        except InputError:
            same = False
        if same or not self.page.apply(lambda job: self._change(move, job), f"move {name}"):
            self.update()
            self._moving(self.page.job)


def _without_angles(view: PlanView, chosen: str) -> PlanView:
    """The view with no sector but the chosen loudspeaker's."""
    return replace(view, sectors=tuple(one for one in view.sectors if one.id == chosen))
