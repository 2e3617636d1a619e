"""A page with nothing but a graph desk, served for the tests; it answers what it hears in text."""

from __future__ import annotations

import asyncio
import sys

import numpy as np
from nicegui import ui

from roomwright.web.components.graph_desk import (
    Axis,
    Band,
    Curve,
    GraphDesk,
    Handle,
    Map,
    Mark,
    Point,
    Shade,
    distinct,
)

FREQUENCY_HZ = np.geomspace(20.0, 20000.0, 301)


def straight(slope_db: float) -> np.ndarray:
    """Levels that rise by `slope_db` a decade, 80 dB at 1 kHz."""
    return 80.0 + slope_db * np.log10(FREQUENCY_HZ / 1000.0)


@ui.page("/")
def page(curves: int = 2, slow: float = 0.0) -> None:
    heard: list[str] = []
    with ui.element("div").style("width: 900px; height: 420px"):
        desk = GraphDesk(y=Axis("level", "dB", 50.0, 110.0), name="Tests <of> the desk")
    desk.set_curves(
        Curve(f"c{n}", f"curve <{n}> & co", FREQUENCY_HZ, straight(n - 1.0), **distinct(n))
        for n in range(curves)
    )
    desk.set_bands([Band("limits", FREQUENCY_HZ, straight(0) - 3, straight(0) + 3)])
    desk.set_marks([Mark(80.0, "crossover")])
    desk.set_shades([Shade(10.0, 30.0, "not trusted")])
    desk.set_caption("smoothed over 1/12 octave")
    desk.set_handles([Handle("h", "bass", 100.0, 90.0, high_y=100.0)])
    desk.set_points(
        [
            Point("p", "filter", 500.0, -4.0, 2.0, base_db=80.0),
            Point("locked", "kept", 4000.0, 3.0, 2.0, base_db=80.0, locked=True),
        ]
    )
    words = ui.label("").props("id=heard")
    count = ui.label("0").props("id=count")

    def hear(what: object) -> None:
        heard.append(repr(what))
        words.text = heard[-1]
        count.text = str(len(heard))

    async def moved(event: object) -> None:
        hear(event)
        if slow:
            await asyncio.sleep(slow)
            desk.set_handles([Handle("h", "bass", event.x, event.y)])

    desk.on_handle(moved).on_point(hear).on_remove(lambda gone: hear(("removed", gone)))
    desk.on_add(lambda x, y: hear(("added", round(x, 3), round(y, 3))))
    desk.on_select(lambda chosen: hear(("selected", chosen)))
    ui.button("map", on_click=lambda: desk.set_map(a_map())).props("id=map")
    ui.button("more", on_click=lambda: desk.update_curves([more()])).props("id=more")
    ui.button("away", on_click=lambda: desk.set_visibility(visible=False)).props("id=away")


def a_map() -> Map:
    times = np.linspace(0.0, 60.0, 31) + 50.0
    levels = -np.add.outer(times - 50.0, np.zeros(FREQUENCY_HZ.size))
    return Map(FREQUENCY_HZ, times, levels, -60.0, 0.0, "level", "dB")


def more() -> Curve:
    return Curve("c0", "changed", FREQUENCY_HZ, np.full(FREQUENCY_HZ.size, 77.0))


ui.run(host="127.0.0.1", port=int(sys.argv[1]), show=False, reload=False)
