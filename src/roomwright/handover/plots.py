"""Line plots over a logarithmic frequency axis."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.handover import svg
from roomwright.handover.svg import Drawing, Stroke

F = NDArray[np.float64]

_LABELLED_HZ = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000)
_OCTAVES_HZ = (16, 31.5, 63, 125, 250, 500, 1000, 2000, 4000, 8000)
_FEW_HZ = (20, 100, 1000, 10000)
_GRID_HZ = tuple(step * decade for decade in (10, 100, 1000, 10000) for step in range(1, 10))

_GRID = Stroke(svg.LIGHT, 0.4)
_FRAME = Stroke(svg.GREY, 0.7)
_SIZE_PT = 7.5

#: Narrower axes have no room for every label.
_NARROW_PT = 150.0


@dataclass(frozen=True, slots=True)
class Curve:
    """One line: frequencies and values of the same shape (m,); NaN interrupts it.

    `label` stands at its right end; "" leaves it out.
    """

    frequency_hz: F
    value: F
    stroke: Stroke
    label: str = ""


@dataclass(frozen=True, slots=True)
class Area:
    """What is allowed: the area between two lines, shaped as in `Curve`."""

    frequency_hz: F
    low: F
    high: F


@dataclass(frozen=True, slots=True)
class Plot:
    """What a plot shows and how large it is.

    `trusted_hz` are the limits between which the data are believed: the rest is shaded.
    `at_octaves` labels the octave bands instead of round frequencies. Values outside `range_y`
    are cut off at the frame.
    """

    title: str
    y_label: str
    curves: tuple[Curve, ...]
    range_hz: tuple[float, float]
    range_y: tuple[float, float]
    width_pt: float
    height_pt: float
    areas: tuple[Area, ...] = ()
    trusted_hz: tuple[float, float] | None = None
    at_octaves: bool = False
    has_x_label: bool = True


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where the axes lie in the picture."""

    plot: Plot
    left: float
    top: float
    right: float
    bottom: float

    def x(self, frequency_hz: float | F) -> F:
        low, high = np.log(self.plot.range_hz)
        share = (np.log(frequency_hz) - low) / (high - low)
        return np.asarray(self.left + share * (self.right - self.left))

    def y(self, value: float | F) -> F:
        low, high = self.plot.range_y
        share = (np.asarray(value) - low) / (high - low)
        return np.asarray(self.bottom - share * (self.bottom - self.top))


def draw(plot: Plot, alt: str) -> Drawing:
    """Draw a plot; `alt` says in words what it shows."""
    labels = [curve.label for curve in plot.curves if curve.label]
    room = max((svg.text_width(label, _SIZE_PT) for label in labels), default=0.0)
    frame = _Frame(
        plot,
        left=30.0,
        top=13.0 if plot.title else 5.0,
        right=plot.width_pt - (room + 12.0 if labels else 8.0),
        bottom=plot.height_pt - (23.0 if plot.has_x_label else 13.0),
    )
    parts = [
        *_background(frame),
        *_axes(frame),
        _lines(frame),
        svg.rectangle(
            frame.left, frame.top, frame.right - frame.left, frame.bottom - frame.top, _FRAME
        ),
        *_end_labels(frame),
    ]
    return svg.drawing(plot.width_pt, plot.height_pt, parts, alt)


def steps(low: float, high: float, most: int = 7) -> tuple[float, ...]:
    """Round values from `low` to `high`, at most `most` of them."""
    span = high - low
    step = 10.0 ** math.floor(math.log10(span / most))
    step *= next(factor for factor in (1, 2, 5, 10, 20) if span / (step * factor) <= most - 1)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return tuple(step * count for count in range(first, last + 1))


def round_range(
    values: Sequence[F], step: float, *, least: float, most: float
) -> tuple[float, float]:
    """Limits on multiples of `step` that hold the values, `least` to `most` apart.

    Where the values span more than `most`, the highest ones are kept.
    """
    known = np.concatenate([value[np.isfinite(value)].ravel() for value in values] or [np.zeros(1)])
    if not known.size:
        known = np.zeros(1)
    high = step * math.ceil(float(known.max()) / step + 0.1)
    low = step * math.floor(float(known.min()) / step - 0.1)
    low = min(low, high - least)
    return max(low, high - most), high


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Positions near the wanted ones, in their order, at least `gap` apart within low to high.

    Where there is no room for all, they stand evenly.
    """
    if (len(wanted) - 1) * gap > high - low:
        gap = (high - low) / max(len(wanted) - 1, 1)
    order = sorted(range(len(wanted)), key=lambda place: wanted[place])
    placed = [0.0] * len(wanted)
    floor = low
    for place in order:
        placed[place] = floor = max(wanted[place], floor)
        floor += gap
    ceiling = high
    for place in reversed(order):
        placed[place] = ceiling = min(placed[place], ceiling)
        ceiling -= gap
    return placed


def hertz(frequency_hz: float) -> str:
    """A frequency as an axis says it: 63, 1k, 31.5, 12.5k."""
    return f"{frequency_hz / 1000:g}k" if frequency_hz >= 1000 else f"{frequency_hz:g}"


def _background(frame: _Frame) -> Iterator[str]:
    plot = frame.plot
    height = frame.bottom - frame.top
    if plot.trusted_hz is not None:
        low, high = np.clip(frame.x(np.maximum(plot.trusted_hz, 1.0)), frame.left, frame.right)
        for start, stop in ((frame.left, low), (high, frame.right)):
            if stop - start > 0.5:
                yield svg.rectangle(start, frame.top, stop - start, height, fill=svg.SHADE)
    for number, area in enumerate(plot.areas):
        known = np.isfinite(area.low) & np.isfinite(area.high)
        x = frame.x(area.frequency_hz[known])
        outline = [
            *zip(x, frame.y(area.high[known]), strict=True),
            *zip(x[::-1], frame.y(area.low[known])[::-1], strict=True),
        ]
        body = svg.path(outline, Stroke("#B5CFE0", 0.5), fill="#E3EEF5", closed=True)
        yield svg.clipped(
            f"area{number}", frame.left, frame.top, frame.right - frame.left, height, body
        )


def _axes(frame: _Frame) -> Iterator[str]:
    plot = frame.plot
    low, high = plot.range_hz
    labelled: tuple[float, ...] = _OCTAVES_HZ if plot.at_octaves else _LABELLED_HZ
    if not plot.at_octaves and frame.right - frame.left < _NARROW_PT:
        labelled = _FEW_HZ
    for frequency in labelled if plot.at_octaves else _GRID_HZ:
        if low < frequency < high:
            x = float(frame.x(frequency))
            yield svg.line(x, frame.top, x, frame.bottom, _GRID)
    for frequency in labelled:
        if low * 0.999 <= frequency <= high * 1.001:
            x = float(frame.x(frequency))
            yield svg.text(x, frame.bottom + 9, hertz(frequency), _SIZE_PT, anchor="middle")
    values = steps(*plot.range_y, most=max(3, int((frame.bottom - frame.top) / 12)))
    for value in values:
        y = float(frame.y(value))
        yield svg.line(frame.left, y, frame.right, y, _GRID)
        label = f"{value:g}".replace("-", "−")
        yield svg.text(frame.left - 3, y + 2.6, label, _SIZE_PT, anchor="end")
    middle = (frame.top + frame.bottom) / 2
    yield svg.text(8, middle, plot.y_label, _SIZE_PT, anchor="middle", turned=True)
    if plot.has_x_label:
        across = (frame.left + frame.right) / 2
        yield svg.text(across, plot.height_pt - 3, "frequency, Hz", _SIZE_PT, anchor="middle")
    if plot.title:
        yield svg.text(frame.left, 9, plot.title, _SIZE_PT + 1, bold=True)


def _lines(frame: _Frame) -> str:
    low, high = frame.plot.range_hz
    body = []
    for curve in frame.plot.curves:
        inside = (curve.frequency_hz >= low * 0.999) & (curve.frequency_hz <= high * 1.001)
        known = inside & np.isfinite(curve.value)
        x = frame.x(curve.frequency_hz)
        # Far outside the frame numbers are of no use to a renderer.
        y = np.clip(frame.y(np.where(known, curve.value, 0.0)), -5000, 5000)
        starts = np.flatnonzero(np.diff(known.astype(np.int8), prepend=0) == 1)
        stops = np.flatnonzero(np.diff(known.astype(np.int8), append=0) == -1) + 1
        body += [
            svg.path(zip(x[a:b], y[a:b], strict=True), curve.stroke)
            for a, b in zip(starts, stops, strict=True)
        ]
    width, height = frame.right - frame.left, frame.bottom - frame.top
    return svg.clipped("lines", frame.left, frame.top, width, height, "".join(body))


def _end_labels(frame: _Frame) -> Iterator[str]:
    ends = []
    low, high = frame.plot.range_hz
    for curve in frame.plot.curves:
        known = np.isfinite(curve.value)
        known &= (curve.frequency_hz >= low * 0.999) & (curve.frequency_hz <= high * 1.001)
        if curve.label and known.any():
            last = int(np.flatnonzero(known)[-1])
            y = float(np.clip(frame.y(curve.value[last]), frame.top, frame.bottom))
            ends.append((curve, float(frame.x(curve.frequency_hz[last])), y))
    wanted = [y for _, _, y in ends]
    placed = spread(wanted, _SIZE_PT + 1.0, frame.top + 3, frame.bottom - 3)
    for (curve, x, y), at in zip(ends, placed, strict=True):
        thin = Stroke(curve.stroke.colour, 0.5)
        yield svg.path(((x, y), (frame.right + 1, y), (frame.right + 7, at)), thin)
        yield svg.text(
            frame.right + 9, at + 2.6, curve.label, _SIZE_PT, colour=_dark(curve.stroke.colour)
        )


def _dark(colour: str) -> str:
    """A colour that can be read as text on white: light ones give way to black."""
    return svg.BLACK if colour in {svg.SKY_BLUE, svg.ORANGE, svg.LIGHT} else colour
