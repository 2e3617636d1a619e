"""How loudspeakers, subwoofers and stations are marked on a plan."""

from __future__ import annotations

import math

from roomwright.handover import svg
from roomwright.handover.labels_beside import Flat
from roomwright.handover.svg import Stroke


def loudspeaker_mark(at: Flat, aim: Flat, *, is_open: bool) -> str:
    """A cabinet with its baffle towards the aim; open where it hangs above."""
    along = math.atan2(aim[1] - at[1], aim[0] - at[0]) if aim != at else math.pi / 2
    shape = [(-3.5, -3.0), (-3.5, 3.0), (0.5, 3.0), (4.0, 5.2), (4.0, -5.2), (0.5, -3.0)]
    cosine, sine = math.cos(along), math.sin(along)
    points = [(at[0] + u * cosine - v * sine, at[1] + u * sine + v * cosine) for u, v in shape]
    fill = "#FFFFFF" if is_open else svg.BLUE
    return svg.path(points, Stroke(svg.BLUE, 1.0), fill=fill, closed=True)


def subwoofer_mark(at: Flat) -> str:
    """A square."""
    outline = Stroke(svg.BLACK, 0.8)
    return svg.rectangle(at[0] - 4.5, at[1] - 4.5, 9, 9, outline, fill=svg.ORANGE)


def station_mark(at: Flat) -> str:
    """A cross."""
    x, y = at
    stroke = Stroke(svg.VERMILLION, 0.7)
    return svg.line(x - 2.5, y, x + 2.5, y, stroke) + svg.line(x, y - 2.5, x, y + 2.5, stroke)
