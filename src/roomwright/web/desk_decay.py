"""A decay on the graph desk: as a map over time, or as a waterfall of slices."""

from __future__ import annotations

from roomwright.commissioning.desk.decay_map import RANGE_DB, RISE_S, STEP_S, DecayMap
from roomwright.commissioning.desk.waterfall import waterfall
from roomwright.web.components.graph_desk import FREQUENCY, Axis, Curve, GraphDesk, Map, distinct

_HOW = (
    "level of what arrives after each moment, re the highest; each slice is the whole rest of the "
    f"response, fading in over the {1000 * RISE_S:.0f} ms before its moment (half a Hann window), "
    "smoothed over 1/12 octave"
)


def show_map(graph: GraphDesk, shown: DecayMap, name: str) -> None:
    """Draw the level over frequency and time, in lightness."""
    time = Axis("time after the direct sound", "ms", 0.0, float(shown.time_ms[-1]), decimals=0)
    graph.set_axes(FREQUENCY, time)
    graph.set_name(f"Decay: {name}")
    graph.set_map(
        Map(shown.frequency_hz, shown.time_ms, shown.level_db, -RANGE_DB, 0.0, "level", "dB")
    )
    graph.set_caption(f"{name}; {_HOW}; slices {1000 * STEP_S:.0f} ms apart")


def show_waterfall(graph: GraphDesk, shown: DecayMap, name: str) -> None:
    """Draw the levels that are left at some moments, one under the other."""
    graph.set_axes(FREQUENCY, Axis("level of what is left", "dB", -RANGE_DB, 0.0))
    graph.set_name(f"Waterfall: {name}")
    graph.set_curves(
        [
            Curve(
                f"slice {cut.time_ms:g}",
                f"after {cut.time_ms:.0f} ms",
                cut.frequency_hz,
                cut.level_db,
                **distinct(number),
                emphasis=number == 0,
            )
            for number, cut in enumerate(waterfall(shown))
        ]
    )
    graph.set_caption(f"{name}; {_HOW}")
