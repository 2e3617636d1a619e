"""Drawings as SVG text: the few elements that plots and plans need, in points.

Colours are those of Okabe & Ito, "Color Universal Design" (2008, from memory), told apart by
people with any common colour blindness; every line also has a dash pattern of its own.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

BLACK = "#000000"
ORANGE = "#E69F00"
SKY_BLUE = "#56B4E9"
GREEN = "#009E73"
BLUE = "#0072B2"
VERMILLION = "#D55E00"
PURPLE = "#CC79A7"
GREY = "#767676"
LIGHT = "#DDDDDD"
SHADE = "#EFEFEF"

#: A font that the typesetter brings along, so that drawings look alike everywhere.
FONT = "Libertinus Serif"

#: Mean width of a character in ems, measured on this font's digits and letters.
_CHARACTER_EM = 0.54


@dataclass(frozen=True, slots=True)
class Drawing:
    """One SVG picture, its size in points, and in words what it shows."""

    svg: str
    width_pt: float
    height_pt: float
    alt: str


@dataclass(frozen=True, slots=True)
class Stroke:
    """How a line is drawn; `dash` holds lengths of dashes and gaps in points, "" for none."""

    colour: str = BLACK
    width_pt: float = 1.0
    dash: str = ""


def drawing(
    width_pt: float, height_pt: float, parts: Iterable[str], alt: str, *, unit: str = ""
) -> Drawing:
    """Elements put together as one picture; the y axis runs down.

    With the `unit` "pt" the picture says how large it is, and is printed to scale by itself.
    """
    size = (
        f'width="{width_pt:g}{unit}" height="{height_pt:g}{unit}" '
        f'viewBox="0 0 {width_pt:g} {height_pt:g}"'
    )
    body = "".join(parts)
    return Drawing(
        f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{body}</svg>', width_pt, height_pt, alt
    )


def path(
    points: Iterable[tuple[float, float]],
    stroke: Stroke | None = None,
    *,
    fill: str = "none",
    closed: bool = False,
) -> str:
    """Straight lines through points."""
    steps = " ".join(f"{x:.2f},{y:.2f}" for x, y in points)
    if not steps:
        return ""
    end = "Z" if closed else ""
    return f'<path d="M{steps}{end}" fill="{fill}"{_stroked(stroke)}/>'


def line(x0: float, y0: float, x1: float, y1: float, stroke: Stroke) -> str:
    """One straight line."""
    return path(((x0, y0), (x1, y1)), stroke)


def rectangle(
    x: float,
    y: float,
    width: float,
    height: float,
    stroke: Stroke | None = None,
    *,
    fill: str = "none",
    radius: float = 0.0,
) -> str:
    """A rectangle by its upper left corner."""
    return (
        f'<rect x="{x:.2f}" y="{y:.2f}" width="{width:.2f}" height="{height:.2f}" '
        f'rx="{radius:g}" fill="{fill}"{_stroked(stroke)}/>'
    )


def text(
    x: float,
    y: float,
    words: str,
    size_pt: float,
    *,
    anchor: str = "start",
    colour: str = BLACK,
    bold: bool = False,
    turned: bool = False,
    turn_deg: float = 0.0,
) -> str:
    """Words whose baseline starts, is centred or ends (`anchor`) at a point.

    `turned` they run upwards, else turned clockwise by `turn_deg`.
    """
    weight = ' font-weight="bold"' if bold else ""
    angle = -90.0 if turned else turn_deg
    turn = f' transform="rotate({angle:g} {x:.2f} {y:.2f})"' if angle else ""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-family={quoteattr(FONT)} font-size="{size_pt:g}" '
        f'text-anchor="{anchor}" fill="{colour}"{weight}{turn}>{escape(words)}</text>'
    )


def text_width(words: str, size_pt: float) -> float:
    """About how wide words are, points."""
    return len(words) * _CHARACTER_EM * size_pt


def clipped(name: str, x: float, y: float, width: float, height: float, body: str) -> str:
    """Elements of which only what lies in a rectangle is seen; `name` is unique in the picture."""
    frame = f'<rect x="{x:.2f}" y="{y:.2f}" width="{width:.2f}" height="{height:.2f}"/>'
    return f'<clipPath id="{name}">{frame}</clipPath><g clip-path="url(#{name})">{body}</g>'


def _stroked(stroke: Stroke | None) -> str:
    if stroke is None:
        return ""
    dash = f' stroke-dasharray="{stroke.dash}"' if stroke.dash else ""
    return (
        f' stroke="{stroke.colour}" stroke-width="{stroke.width_pt:g}" '
        f'stroke-linejoin="round"{dash}'
    )
