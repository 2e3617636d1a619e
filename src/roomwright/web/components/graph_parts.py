"""What the graph desk shows: axes, curves, handles, filter points, bands, marks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, TypedDict

import numpy as np
from numpy.typing import NDArray

F = NDArray[np.float64]

#: Colours of Okabe and Ito (Color Universal Design, 2008), in the order in which curves take
#: them; the first is black, drawn near-white on a dark page.
PALETTE: Final = (
    "black",
    "blue",
    "vermillion",
    "bluish green",
    "orange",
    "reddish purple",
    "sky blue",
    "yellow",
)

#: Line styles, in the order in which curves take them.
DASHES: Final = ("solid", "dashed", "dotted", "dash-dot", "long dashes", "dash-dot-dot")


class Look(TypedDict):
    """Colour and dash of a curve, as indices into `PALETTE` and `DASHES`."""

    colour: int
    dash: int


def distinct(number: int) -> Look:
    """Look of curve `number`: 24 differ, and neighbours differ in both colour and dash."""
    return Look(colour=number % len(PALETTE), dash=number % len(DASHES))


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis: what it shows, its unit, and what is seen before anyone zooms.

    `decimals` are those of values read at the crosshair; an axis in hertz reads with four
    significant digits instead. `turns` marks an axis on which low and high are the same (phase).
    """

    label: str
    unit: str
    low: float
    high: float
    log: bool = False
    decimals: int = 1
    turns: bool = False


FREQUENCY: Final = Axis("frequency", "Hz", 20.0, 20_000.0, log=True)


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """One line: x rising, y of the same shape (m,); NaN interrupts it.

    `colour` and `dash` are indices (see `distinct`). `emphasis` draws it thicker and on top,
    `faint` thinner, without a label of its own. `panel` 1 is the lower panel.
    """

    id: str
    label: str
    x: F
    y: F
    colour: int = 0
    dash: int = 0
    emphasis: bool = False
    faint: bool = False
    panel: Literal[0, 1] = 0


@dataclass(frozen=True, slots=True, eq=False)
class Band:
    """What is allowed, or how far something spreads: the area between two lines, each (m,)."""

    label: str
    x: F
    low: F
    high: F
    colour: int = 0
    panel: Literal[0, 1] = 0


@dataclass(frozen=True, slots=True)
class Handle:
    """Something to be dragged, of the target or the like; it stays within its limits."""

    id: str
    label: str
    x: float
    y: float
    free: Literal["both", "x", "y"] = "both"
    colour: int = 0
    low_x: float | None = None
    high_x: float | None = None
    low_y: float | None = None
    high_y: float | None = None


@dataclass(frozen=True, slots=True)
class Point:
    """A filter to be dragged: frequency and gain by dragging, q by the wheel or the keys [ ].

    It stands at `base_db` + `level_db`, so that it can sit on a curve while its own value stays
    the filter's gain. A `locked` one is shown only.
    """

    id: str
    label: str
    frequency_hz: float
    level_db: float
    q: float
    base_db: float = 0.0
    colour: int = 0
    locked: bool = False
    low_db: float = -24.0
    high_db: float = 24.0
    low_q: float = 0.1
    high_q: float = 20.0


@dataclass(frozen=True, slots=True)
class Mark:
    """A vertical line with a few words."""

    x: float
    label: str


@dataclass(frozen=True, slots=True)
class Shade:
    """A range of x that is not to be relied on, or is treated differently, with a few words."""

    low: float
    high: float
    label: str


@dataclass(frozen=True, slots=True, eq=False)
class Map:
    """A level over x (m,) and y (k,), both rising: `value` has the shape (k, m).

    Shown from `low` to `high` in lightness alone, so that it reads in greyscale.
    """

    x: F
    y: F
    value: F
    low: float
    high: float
    label: str
    unit: str


@dataclass(frozen=True, slots=True)
class Moved:
    """A handle was dragged here; `done` once it was let go."""

    id: str
    x: float
    y: float
    done: bool


@dataclass(frozen=True, slots=True)
class PointMoved:
    """A filter point was dragged; `done` once it was let go."""

    id: str
    frequency_hz: float
    level_db: float
    q: float
    done: bool
