"""Axes for curves of each quantity: words, unit, and limits that hold the curves."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from roomwright.commissioning.desk.curves import OVER_TIME, Line, Quantity


@dataclass(frozen=True, slots=True)
class Scale:
    """What the axis of a quantity says and which values it shows at first."""

    label: str
    unit: str
    low: float
    high: float
    log: bool = False
    decimals: int = 1
    turns: bool = False


def scale_of(quantity: Quantity, lines: Sequence[Line], *, absolute: bool) -> Scale:
    """The vertical axis of a quantity, made to hold the lines."""
    if quantity == "level":
        label = "sound pressure level" if absolute else "level"
        return Scale(label, "dB", *_level_limits(lines))
    if quantity in {"phase", "excess phase"}:
        return Scale(quantity, "°", -180.0, 180.0, decimals=0, turns=True)
    if quantity in {"group delay", "excess group delay"}:
        return Scale(quantity, "ms", *_delay_limits(lines), decimals=2)
    if quantity == "energy-time":
        return Scale("level re peak", "dB", -60.0, 3.0)
    return Scale("amplitude re peak", "%", -110.0, 110.0)


def x_scale_of(quantity: Quantity, arrival_ms: float = 0.0) -> Scale:
    """The horizontal axis of a quantity; one of time begins a little before the direct sound."""
    if quantity not in OVER_TIME:
        return Scale("frequency", "Hz", 20.0, 20_000.0, log=True)
    long_ms = {"impulse": 30.0, "step": 60.0, "energy-time": 300.0}[quantity]
    start_ms = 5.0 * math.floor((arrival_ms - 0.1 * long_ms) / 5.0)
    return Scale("time", "ms", start_ms, start_ms + long_ms, decimals=2)


def _level_limits(lines: Sequence[Line]) -> tuple[float, float]:
    """50 dB that hold the highest levels between 20 Hz and 20 kHz."""
    seen = [one.y[(one.x >= 20.0) & (one.x <= 20_000.0) & np.isfinite(one.y)] for one in lines]
    highest = max((float(values.max()) for values in seen if values.size), default=90.0)
    high = 5.0 * math.ceil(highest / 5.0 + 0.2)
    return high - 50.0, high


def _delay_limits(lines: Sequence[Line]) -> tuple[float, float]:
    """Milliseconds that hold nine tenths of the values, in round numbers."""
    values = [one.y[(one.x >= 20.0) & (one.x <= 20_000.0) & np.isfinite(one.y)] for one in lines]
    known = np.concatenate(values) if values else np.zeros(0)
    if not known.size:
        return -10.0, 50.0
    low, high = np.percentile(known, [2, 98])
    return 5.0 * math.floor(low / 5.0 - 0.2), 5.0 * math.ceil(high / 5.0 + 0.2)
