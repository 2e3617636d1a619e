"""Names set beside the marks of a drawing where they cover nothing."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from roomwright.handover import svg

LABEL_PT: Final = 7.0

Flat = tuple[float, float]
Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Label:
    """A name and the half-width of the mark it belongs to, points."""

    name: str
    at: Flat
    reach: float


def along(corners: list[Flat]) -> list[Box]:
    """Small boxes that cover the outline."""
    boxes = []
    for (x0, y0), (x1, y1) in zip(corners, [*corners[1:], corners[0]], strict=True):
        pieces = max(1, int(math.hypot(x1 - x0, y1 - y0) / 3.0))
        for piece in range(pieces):
            share = (piece + 0.5) / pieces
            boxes.append(around((x0 + share * (x1 - x0), y0 + share * (y1 - y0)), 1.5))
    return boxes


def around(at: Flat, half: float) -> Box:
    """A square box about a point."""
    return at[0] - half, at[1] - half, at[0] + half, at[1] + half


def beside(
    items: Sequence[Label], centre: Flat, taken: Sequence[Box], size: Flat, *, bold: bool = False
) -> Iterator[str]:
    """Each name beside its mark where it covers nothing, away from the centre if it can."""
    taken = [*taken, *(around(item.at, item.reach) for item in items)]
    for item in items:
        outward = math.atan2(item.at[1] - centre[1], item.at[0] - centre[0])
        width = svg.text_width(item.name, LABEL_PT)
        best, least = None, math.inf
        for ring in (1.0, 1.9, 2.8, 3.7):
            for turn in range(12):
                angle = outward + math.pi / 6 * ((turn + 1) // 2) * (-1) ** turn
                box = _label_box(item, angle, ring, width)
                cost = sum(_overlap(box, other) for other in taken) + _outside(box, size)
                if cost < least - 0.5:
                    best, least = box, cost
        if best is not None:
            taken.append(best)
            middle = (best[0] + best[2]) / 2
            yield svg.text(middle, best[3] - 1.6, item.name, LABEL_PT, anchor="middle", bold=bold)


def _label_box(item: Label, angle: float, ring: float, width: float) -> Box:
    reach = item.reach + 1.5 + (ring - 1.0) * LABEL_PT
    x = item.at[0] + math.cos(angle) * (reach + width / 2)
    y = item.at[1] + math.sin(angle) * (reach + LABEL_PT / 2)
    return x - width / 2, y - LABEL_PT / 2, x + width / 2, y + LABEL_PT / 2


def _overlap(a: Box, b: Box) -> float:
    across = min(a[2], b[2]) - max(a[0], b[0])
    down = min(a[3], b[3]) - max(a[1], b[1])
    return across * down if across > 0 and down > 0 else 0.0


def _outside(box: Box, size: Flat) -> float:
    left, top = max(0.0, 1 - box[0]), max(0.0, 11 - box[1])
    right = max(0.0, box[2] - size[0] + 1)
    bottom = max(0.0, box[3] - size[1] + 12)
    return 50.0 * (left + top + right + bottom)
