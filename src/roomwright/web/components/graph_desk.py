"""The graph desk: curves over a frequency or time axis, drawn in the browser.

How a page uses it::

    desk = GraphDesk(x=FREQUENCY, y=Axis("level", "dB", 40, 100), name="Response at the main seat")
    desk.set_curves([Curve("a", "left, main seat", frequency_hz, level_db, **distinct(0))])
    desk.update_curves([...])        # only these ids; the others stay as they are
    desk.set_handles([Handle("t1", "bass", x=40.0, y=6.0, low_y=-10, high_y=10)])
    desk.set_points([Point("f1", "filter 1", frequency_hz=63.0, level_db=-4.0, q=3.0)])
    desk.set_bands([Band("limits", frequency_hz, low_db, high_db)])
    desk.set_marks([Mark(120.0, "crossover")])
    desk.set_shades([Shade(10.0, 24.0, "not trusted")])
    desk.set_caption("smoothed over 1/12 octave, whole response")
    desk.on_handle(lambda moved: ...)   # Moved: id, x, y, done
    desk.on_point(lambda moved: ...)    # PointMoved: id, frequency_hz, level_db, q, done
    desk.on_cursor(lambda x: ...)       # x under the crosshair, None when it leaves
    desk.on_select(lambda id: ...)      # a handle, point or curve was chosen (click or focus)
    desk.on_add(lambda x, y: ...)       # Alt+click in the plot, or key "a" at the crosshair
    desk.on_remove(lambda id: ...)      # Delete pressed on a handle or point

Callbacks may be plain or async. While one still runs, only the newest event of the same thing is
kept, so a slow answer never builds a queue; the event with ``done`` always arrives, last. A thing
that is being dragged keeps to the pointer: positions sent meanwhile do not move it. What was set
is kept here and sent again whenever the browser mounts the element anew. Arrays travel as base64
float32, an x array shared by several curves once; NaN interrupts a line. All methods are called
from the page's own event loop.

Elements built inside it (``with desk: ui.select(...)``) stand in its head, in the place of its
name. `set_empty` says in the middle of the graph why there is nothing to see.

A second panel under the first one shares its x axis: give ``lower`` as an axis, and curves
``panel=1``. A map (a level over x and y) is drawn instead of curves by ``set_map``.
"""

from __future__ import annotations

import base64
import inspect
from collections.abc import Awaitable, Callable, Iterable
from dataclasses import asdict
from typing import Any, Literal, Self

import numpy as np
from nicegui.element import Element
from nicegui.events import GenericEventArguments
from numpy.typing import NDArray

from roomwright.web.components.graph_parts import (
    DASHES,
    FREQUENCY,
    PALETTE,
    Axis,
    Band,
    Curve,
    Handle,
    Look,
    Map,
    Mark,
    Moved,
    Point,
    PointMoved,
    Shade,
    distinct,
)

__all__ = [
    "DASHES",
    "FREQUENCY",
    "PALETTE",
    "Axis",
    "Band",
    "Curve",
    "GraphDesk",
    "Handle",
    "Look",
    "Map",
    "Mark",
    "Moved",
    "Point",
    "PointMoved",
    "Shade",
    "distinct",
]

Answer = Awaitable[None] | None


class GraphDesk(
    Element,
    component="graph_desk.js",
    esm={"roomwright-graph": "graph"},
    default_classes="roomwright-graph",
):
    """Curves that can be zoomed, read and drawn on; see the module for how it is used.

    Parameters
    ----------
    x, y, lower
        Axes of the (upper) panel and, if given, of the lower one.
    name
        What the graph shows, for its title in exports and for screen readers.
    """

    def __init__(
        self, *, x: Axis = FREQUENCY, y: Axis, lower: Axis | None = None, name: str = "graph"
    ) -> None:
        super().__init__()
        self._curves: dict[str, Curve] = {}
        self._parts: dict[str, Any] = {}
        self._callbacks: dict[str, list[Callable[..., Answer]]] = {}
        self._waiting: dict[tuple[str, str], tuple[int, tuple[Any, ...]]] = {}
        self._busy: set[tuple[str, str]] = set()
        self._seen: dict[str, int] = {}
        self.set_axes(x, y, lower)
        self._push("name", name)
        self.on("ready", self._send_all, [])
        for kind in ("handle", "point", "cursor", "select", "add", "remove"):
            self.on(f"desk-{kind}", self._heard)

    @property
    def curves(self) -> tuple[Curve, ...]:
        """The curves shown, in the order in which they were set."""
        return tuple(self._curves.values())

    def set_axes(self, x: Axis, y: Axis, lower: Axis | None = None) -> None:
        """Show other axes; the zoom goes back to what they give if they differ."""
        self._push("axes", {"x": asdict(x), "y": asdict(y), "lower": lower and asdict(lower)})

    def set_name(self, name: str) -> None:
        """Say what the graph shows."""
        self._push("name", name)

    def set_curves(self, curves: Iterable[Curve]) -> None:
        """Show these curves instead of all others."""
        self._curves = {curve.id: curve for curve in curves}
        self._send("set_curves", packed_curves(self._curves.values()))

    def update_curves(self, curves: Iterable[Curve]) -> None:
        """Show these curves in the place of those of the same id; new ones come last."""
        changed = {curve.id: curve for curve in curves}
        self._curves.update(changed)
        self._send("update_curves", packed_curves(changed.values()))

    def remove_curves(self, ids: Iterable[str]) -> None:
        """Take curves away; ids that are not shown are passed over."""
        gone = set(ids)
        self.set_curves(curve for curve in self.curves if curve.id not in gone)

    def set_bands(self, bands: Iterable[Band]) -> None:
        """Show these areas behind the curves."""
        self._push("bands", [_packed(band, "x", "low", "high") for band in bands])

    def set_handles(self, handles: Iterable[Handle]) -> None:
        """Show these handles instead of all others."""
        self._push("handles", [asdict(handle) for handle in handles])

    def set_points(self, points: Iterable[Point]) -> None:
        """Show these filter points instead of all others."""
        self._push("points", [asdict(point) for point in points])

    def set_marks(self, marks: Iterable[Mark]) -> None:
        """Show these vertical lines."""
        self._push("marks", [asdict(mark) for mark in marks])

    def set_shades(self, shades: Iterable[Shade]) -> None:
        """Shade these ranges of x."""
        self._push("shades", [asdict(shade) for shade in shades])

    def set_caption(self, caption: str) -> None:
        """Say under the graph how it was computed: smoothing, window, what is averaged."""
        self._push("caption", caption)

    def set_empty(self, sentence: str) -> None:
        """Say in the middle of the graph why nothing is shown; "" says nothing."""
        self._push("empty", sentence)

    def set_map(self, shown: Map | None) -> None:
        """Show a map in the upper panel; None takes it away."""
        self._push("map", None if shown is None else _packed(shown, "x", "y", "value"))

    def reset_view(self) -> None:
        """Go back to what the axes give."""
        self._send("reset_view")

    def export(self, kind: Literal["svg", "png", "csv"]) -> None:
        """Let the browser save the graph as seen (CSV: the curves with all their points)."""
        self._send("export_as", kind)

    def on_handle(self, callback: Callable[[Moved], Answer]) -> Self:
        """Call back while and after a handle is dragged."""
        return self._call("handle", callback)

    def on_point(self, callback: Callable[[PointMoved], Answer]) -> Self:
        """Call back while and after a filter point is dragged."""
        return self._call("point", callback)

    def on_cursor(self, callback: Callable[[float | None], Answer]) -> Self:
        """Call back with the x under the crosshair, None when it leaves."""
        return self._call("cursor", callback)

    def on_select(self, callback: Callable[[str], Answer]) -> Self:
        """Call back with the id of the handle, point or curve that was chosen."""
        return self._call("select", callback)

    def on_add(self, callback: Callable[[float, float], Answer]) -> Self:
        """Call back with x and y where something new is wanted."""
        return self._call("add", callback)

    def on_remove(self, callback: Callable[[str], Answer]) -> Self:
        """Call back with the id of a handle or point that is to go."""
        return self._call("remove", callback)

    def _call(self, kind: str, callback: Callable[..., Answer]) -> Self:
        self._callbacks.setdefault(kind, []).append(callback)
        self._push("hears", sorted(self._callbacks))
        return self

    def _push(self, part: str, value: object) -> None:
        """Keep one part of what is shown, and send it if it is new."""
        if part not in self._parts or self._parts[part] != value or part in {"handles", "points"}:
            self._parts[part] = value
            self._send("set_part", part, value, self._seen)

    def _send(self, method: str, *arguments: object) -> None:
        self.run_method(method, *arguments)

    def _send_all(self) -> None:
        """Send everything: the browser has just mounted the element, and counts anew."""
        self._seen.clear()
        for part, value in self._parts.items():
            self._send("set_part", part, value, self._seen)
        self._send("set_curves", packed_curves(self._curves.values()))

    async def _heard(self, event: GenericEventArguments) -> None:
        """Pass an event on; of those that come while its like is answered only the newest."""
        kind, about, number, values = _read(event.args)
        key = kind, about
        self._waiting[key] = number, values
        if key in self._busy:
            return
        self._busy.add(key)
        try:
            while (newest := self._waiting.pop(key, None)) is not None:
                # Counted only now: an answer to an older event must not pass for one to this.
                number, values = newest
                self._seen[about] = max(number, self._seen.get(about, 0))
                for callback in self._callbacks.get(kind, ()):
                    answer = callback(*values)
                    if inspect.isawaitable(answer):
                        await answer
        finally:
            self._busy.discard(key)


def packed_curves(curves: Iterable[Curve]) -> dict[str, object]:
    """Curves for the browser: each different x array once, all arrays as base64 float32."""
    grids: dict[bytes, int] = {}
    listed = []
    for curve in curves:
        grid = _float32(curve.x).tobytes()
        look = {
            name: getattr(curve, name)
            for name in ("id", "label", "colour", "dash", "emphasis", "faint", "panel")
        }
        listed.append({**look, "x": grids.setdefault(grid, len(grids)), "y": _base64(curve.y)})
    return {"grids": [base64.b64encode(grid).decode() for grid in grids], "curves": listed}


def _packed(part: Band | Map, *arrays: str) -> dict[str, object]:
    names = type(part).__dataclass_fields__
    return {
        name: _base64(getattr(part, name)) if name in arrays else getattr(part, name)
        for name in names
    }


def _float32(values: NDArray[np.float64]) -> NDArray[np.float32]:
    return np.ascontiguousarray(values, dtype="<f4")


def _base64(values: NDArray[np.float64]) -> str:
    return base64.b64encode(_float32(values).tobytes()).decode()


def _read(said: Any) -> tuple[str, str, int, tuple[Any, ...]]:  # noqa: ANN401 - from the browser
    """Kind, id, running number and callback arguments of an event of the browser."""
    kind, about, number = str(said["kind"]), str(said.get("id", "")), int(said.get("number", 0))
    if kind == "handle":
        return (
            kind,
            about,
            number,
            (Moved(about, float(said["x"]), float(said["y"]), bool(said["done"])),),
        )
    if kind == "point":
        moved = PointMoved(
            about,
            float(said["frequency_hz"]),
            float(said["level_db"]),
            float(said["q"]),
            bool(said["done"]),
        )
        return kind, about, number, (moved,)
    if kind == "cursor":
        return kind, about, number, (None if said["x"] is None else float(said["x"]),)
    if kind == "add":
        return kind, about, number, (float(said["x"]), float(said["y"]))
    return kind, about, number, (about,)
