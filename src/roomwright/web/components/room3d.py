"""The room in three dimensions, for browsers that can draw it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

from nicegui import ui
from nicegui.elements.scene.scene_object3d import Object3D
from nicegui.events import SceneClickEventArguments

from roomwright.commissioning.plan_view import PlanItem, PlanView
from roomwright.model import Point

#: Surface, line, and the colours of what stands in the room, for a light and a dark page.
_LIGHT = {
    "ground": "#fafbfa",
    "floor": "#d5dad9",
    "line": "#717c7c",
    "text": "#191e1f",
    "loudspeaker": "#0b5a8f",
    "height": "#4f8fb8",
    "subwoofer": "#a06a08",
    "seat": "#8a9494",
    "station": "#0b6b52",
    "out": "#a8330b",
    "chosen": "#14655a",
}
_DARK = {
    "ground": "#1a1e21",
    "floor": "#2c3337",
    "line": "#7d878d",
    "text": "#e6e9ea",
    "loudspeaker": "#7cc0ec",
    "height": "#a9d6f2",
    "subwoofer": "#e8b455",
    "seat": "#7d878d",
    "station": "#55cba7",
    "out": "#ff9a6b",
    "chosen": "#7cc7b5",
}
_SIZES_M = {"loudspeaker": 0.24, "height": 0.2, "subwoofer": 0.4}
#: Words stand this far above what they are of.
_WORDS_M = 0.45


class Room3D:
    """A view into the room that can be turned; it follows what is moved in the plan.

    Parameters
    ----------
    view
        What to draw.
    dark
        Whether the page is dark.
    on_choose
        Called with the id of what was clicked.
    """

    def __init__(
        self, view: PlanView, *, dark: bool, on_choose: Callable[[str], object] | None = None
    ) -> None:
        self._colours = _DARK if dark else _LIGHT
        self._made: dict[tuple[str, str], Object3D] = {}
        self._words: dict[str, Object3D] = {}
        self._lines: list[Object3D] = []
        self._seen: tuple[object, ...] = ()
        self._size: Point | None = None
        self.scene = ui.scene(
            width=320,
            height=220,
            grid=False,
            background_color=self._colours["ground"],
            on_click=lambda event: _clicked(event, on_choose),
        )
        self.scene.style("width:100%;height:100%").props('role=img aria-label="room in 3D"')
        self.show(view)

    def show(self, view: PlanView) -> None:
        """Draw another state of the room; things that only moved are moved."""
        key = (
            view.outline_m,
            view.height_m,
            tuple((item.kind, item.id, item.mark) for item in view.items),
        )
        if key == self._seen:
            for item in view.items:
                self._made[item.kind, item.id].move(*_turned(item.position_m))
                if item.id in self._words:
                    self._words[item.id].move(*_above(item))
            return
        self._seen = key
        self._look_at(_size(view))
        self.scene.clear()
        self._made.clear()
        self._words.clear()
        self._lines.clear()
        with self.scene:
            self._draw_shell(view)
            for item in view.items:
                self._draw_item(item)

    def show_paths(self, paths: Sequence[Sequence[Point]]) -> None:
        """Draw lines through the room instead of those before."""
        for line in self._lines:
            line.delete()
        self._lines.clear()
        with self.scene:
            for path in paths:
                for start, end in pairwise(path):
                    line = ui.scene.line(list(_turned(start)), list(_turned(end)))
                    self._lines.append(line.material(self._colours["chosen"]))

    def _look_at(self, size_m: Point) -> None:
        """See the whole room, unless it is still of the size it was looked at before."""
        if size_m == self._size:
            return
        self._size = size_m
        width, length, height = size_m
        reach = max(width * 1.2, length, height * 2)
        self.scene.move_camera(
            x=width / 2 + reach * 0.6,
            y=-length / 2 - reach * 0.92,
            z=height + reach * 0.58,
            look_at_x=width / 2,
            look_at_y=-length / 2,
            look_at_z=height * 0.25,
            duration=0,
        )

    def _draw_shell(self, view: PlanView) -> None:
        outline = [[x, -y] for x, y in view.outline_m]
        ui.scene.extrusion(outline, 0.01).material(self._colours["floor"]).move(z=-0.02)
        corners = [*view.outline_m, view.outline_m[0]]
        for (x0, y0), (x1, y1) in pairwise(corners):
            for z in (0.0, view.height_m):
                self._line((x0, y0, z), (x1, y1, z))
            self._line((x0, y0, 0.0), (x0, y0, view.height_m))

    def _line(self, start: Point, end: Point) -> None:
        line = ui.scene.line(list(_turned(start)), list(_turned(end)))
        line.material(self._colours["line"])

    def _draw_item(self, item: PlanItem) -> None:
        colour = self._colours["out" if item.mark == "out" else item.kind]
        made: Object3D
        if item.mark == "launches":
            made = ui.scene.cylinder(0.28, 0.0, 0.5).rotate(0.0, 0.0, _turn(item))
        elif item.kind in _SIZES_M:
            side = _SIZES_M[item.kind]
            made = ui.scene.box(side, side, side, wireframe=item.mark == "absorbs")
        else:
            made = ui.scene.sphere(0.11 if item.kind == "seat" else 0.06)
        made.material(self._colours["chosen"] if item.main else colour)
        made.move(*_turned(item.position_m))
        self._made[item.kind, item.id] = made.with_name(item.id)
        if item.kind == "subwoofer" and item.mark:
            look = f"color: {self._colours['text']}; font-size: 10px; line-height: 1"
            text = ui.scene.text(f"{item.label} {item.mark}", look)
            self._words[item.id] = text.move(*_above(item))


def _turn(item: PlanItem) -> float:
    """How far a cone that points to the back is turned to point where an item aims, radians."""
    if item.aim_m is None:
        return 0.0
    return math.atan2(item.aim_m[0] - item.position_m[0], item.aim_m[1] - item.position_m[1])


def _above(item: PlanItem) -> Point:
    """Where an item's words stand in the scene."""
    x, y, z = item.position_m
    return _turned((x, y, z + _WORDS_M))


def _clicked(event: SceneClickEventArguments, on_choose: Callable[[str], object] | None) -> None:
    named = next((hit.object_name for hit in event.hits if hit.object_name), "")
    if on_choose is not None and named:
        on_choose(named)


def _turned(place: Point) -> Point:
    """A place as the scene has it: its y axis runs the other way."""
    x, y, z = place
    return (x, -y, z)


def _size(view: PlanView) -> Point:
    xs, ys = zip(*view.outline_m, strict=True)
    return (max(xs) - min(xs), max(ys) - min(ys), view.height_m)
