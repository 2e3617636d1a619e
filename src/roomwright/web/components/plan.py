"""Plan and section of a room as one SVG component; things are dragged in the browser."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

from nicegui.element import Element
from nicegui.events import GenericEventArguments

from roomwright.commissioning.plan_view import PlanView
from roomwright.model import Point

#: From above; from the left side; from the front.
Plane = Literal["plan", "side", "front"]

#: While something is dragged, its place comes at most this often, seconds.
_THROTTLE_S = 0.05


@dataclass(frozen=True, slots=True)
class PlanMove:
    """Something is being moved, or was dropped, in the browser."""

    id: str
    kind: str
    position_m: Point


@dataclass(frozen=True, slots=True)
class PlanMap:
    """Levels over a rectangle of the plan, drawn beneath everything.

    `levels_db` holds rows from the front, each from the left; None where there is none. The
    colours run from `low_db` to `high_db`.
    """

    corner_m: tuple[float, float]
    size_m: tuple[float, float]
    levels_db: Sequence[Sequence[float | None]]
    low_db: float
    high_db: float
    says: str


@dataclass(frozen=True, slots=True)
class PlanPath:
    """A line through the room, such as a reflection, and its label."""

    points_m: Sequence[Point]
    label: str = ""
    faint: bool = False


class Plan(Element, component="plan.js", esm={"roomwright-drawing": "drawing"}):
    """A drawing of the room in one plane.

    Parameters
    ----------
    view
        What to draw.
    plane
        Where it is seen from.
    name
        What screen readers call it.
    on_choose
        Called with an item's id, or "" when the choice is lifted.
    on_drag
        Called while an item is moved, at most 20 times a second.
    on_drop
        Called when it was let go, and after a pause in moving it by keys.
    on_box
        Called with two opposite corners of a box that was drawn, see `outline_boxes`.
    on_webgl
        Called once with whether the browser can draw in three dimensions.
    units
        "m" or "ft": what the scale bar is in.
    """

    def __init__(
        self,
        view: PlanView,
        plane: Plane = "plan",
        *,
        name: str = "Plan of the room",
        on_choose: Callable[[str], object] | None = None,
        on_drag: Callable[[PlanMove], object] | None = None,
        on_drop: Callable[[PlanMove], object] | None = None,
        on_box: Callable[[tuple[float, float], tuple[float, float]], object] | None = None,
        on_webgl: Callable[[bool], object] | None = None,
        units: str = "m",
    ) -> None:
        super().__init__()
        self._props["view"] = asdict(view)
        self._props["plane"] = plane
        self._props["name"] = name
        self._props["units"] = units
        self._props["chosen"] = ""
        self._props["readout"] = ""
        self._props["map"] = None
        self._props["paths"] = []
        self._props["together"] = False
        self._props["outlining"] = False
        if on_choose is not None:
            self.on("choose", lambda event: on_choose(str(event.args["id"])), ["id"])
        if on_webgl is not None:
            self.on("webgl", lambda event: on_webgl(bool(event.args["drawn"])), ["drawn"])
        if on_box is not None:
            self.on("box", lambda event: on_box(*_corners(event)), ["x1", "y1", "x2", "y2"])
        keys = ["id", "kind", "x", "y", "z"]
        if on_drag is not None:
            self.on("move", lambda event: on_drag(_move(event)), keys, throttle=_THROTTLE_S)
        if on_drop is not None:
            self.on("drop", lambda event: on_drop(_move(event)), keys)

    def show(self, view: PlanView) -> None:
        """Draw another state of the room; what is being dragged stays under the pointer."""
        self._set("view", asdict(view))

    def choose(self, item_id: str) -> None:
        """Mark one item as chosen; none with ""."""
        self._set("chosen", item_id)

    def say(self, readout: str) -> None:
        """Show a line of figures in the corner, for instance of what is being dragged."""
        self._set("readout", readout)

    def show_map(self, levels: PlanMap | None) -> None:
        """Draw levels over the floor, or take them away."""
        self._set("map", None if levels is None else asdict(levels))

    def show_paths(self, paths: Sequence[PlanPath]) -> None:
        """Draw lines through the room; none with an empty list."""
        self._set("paths", [asdict(path) for path in paths])

    def move_together(self, together: bool) -> None:  # noqa: FBT001 - a state
        """Say whether twins move together; then nothing snaps to its twin."""
        self._set("together", together)

    def outline_boxes(self, outlining: bool) -> None:  # noqa: FBT001 - a state
        """Say whether pressing the free floor and dragging draws a box."""
        self._set("outlining", outlining)

    def show_units(self, units: str) -> None:
        """Change the units of the scale bar."""
        self._set("units", units)

    def _set(self, prop: str, value: Any) -> None:  # noqa: ANN401 - any JSON value
        if self._props.get(prop) != value:
            self._props[prop] = value
            self.update()


def _corners(event: GenericEventArguments) -> tuple[tuple[float, float], tuple[float, float]]:
    args = event.args
    return (float(args["x1"]), float(args["y1"])), (float(args["x2"]), float(args["y2"]))


def _move(event: GenericEventArguments) -> PlanMove:
    args = event.args
    return PlanMove(
        str(args["id"]), str(args["kind"]), (float(args["x"]), float(args["y"]), float(args["z"]))
    )
