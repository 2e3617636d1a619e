"""Loudspeaker systems of ITU-R BS.2051: labels, nominal directions, allowed ranges.

The angles were transcribed from the layout file of the public reference renderer that goes with
ITU-R BS.2127, which itself transcribes BS.2051; the Recommendation was not opened. The letters
A to J are from memory, apart from C, D and I, which a second public document confirms. For the
pair M+SC, M-SC the Recommendation gives no angle: the nominal 15 and the range 5 to 25 degrees
are the renderer's own. Where no place is specified for the LFE channel any direction is allowed,
and its nominal direction means nothing.

Azimuth is positive to the left, 0 straight ahead; elevation is positive upwards; degrees.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from roomwright._errors import InputError

Span = tuple[float, float]
Layer = Literal["upper", "middle", "lower", "lfe"]

ANY_AZIMUTH_DEG: Span = (-180.0, 180.0)
ANY_ELEVATION_DEG: Span = (-90.0, 90.0)


@dataclass(frozen=True, slots=True)
class Position:
    """Where a channel's loudspeaker belongs, as seen from the main seat.

    Ranges are (lowest, highest) allowed, both included, in degrees.
    """

    label: str
    azimuth_deg: float
    elevation_deg: float
    azimuth_range_deg: Span
    elevation_range_deg: Span
    is_lfe: bool = False


def _one(label: str, azimuth: float, elevation: float, elevations: Span) -> tuple[Position]:
    return (Position(label, azimuth, elevation, (azimuth, azimuth), elevations),)


def _pair(
    layer: str,
    azimuth: float,
    elevation: float,
    azimuths: Span,
    elevations: Span,
    *,
    name: str = "",
) -> tuple[Position, Position]:
    name = name or f"{azimuth:03.0f}"
    low, high = azimuths
    return (
        Position(f"{layer}+{name}", azimuth, elevation, (low, high), elevations),
        Position(f"{layer}-{name}", -azimuth, elevation, (-high, -low), elevations),
    )


_FLAT: Span = (0.0, 0.0)
_LOW: Span = (-30.0, -15.0)
_LFE_ANYWHERE = (Position("LFE1", 0.0, -30.0, ANY_AZIMUTH_DEG, ANY_ELEVATION_DEG, is_lfe=True),)
_LFE_PAIR = (
    Position("LFE1", 45.0, -30.0, (30.0, 90.0), _LOW, is_lfe=True),
    Position("LFE2", -45.0, -30.0, (-90.0, -30.0), _LOW, is_lfe=True),
)
_FRONT_PAIR = _pair("M", 30, 0, (30, 30), _FLAT)
_CENTRE = _one("M+000", 0, 0, _FLAT)
_TOP_FRONT_PAIR = _pair("U", 30, 30, (30, 45), (30, 55))
_TOP_BACK_PAIR = _pair("U", 110, 30, (100, 135), (30, 55))


def _five(surround_elevations: Span) -> tuple[Position, ...]:
    return (
        *_FRONT_PAIR,
        *_CENTRE,
        *_LFE_ANYWHERE,
        *_pair("M", 110, 0, (100, 120), surround_elevations),
    )


_SEVEN = (
    *_pair("M", 30, 0, (30, 45), _FLAT),
    *_CENTRE,
    *_LFE_ANYWHERE,
    *_pair("M", 90, 0, (85, 110), _FLAT),
    *_pair("M", 135, 0, (120, 150), _FLAT),
)
_FOUR_HEIGHTS = (
    *_pair("U", 45, 30, (30, 45), (30, 55)),
    *_pair("U", 135, 30, (100, 150), (30, 55)),
)

#: Every system by its name "upper + middle + lower", loudspeakers in customary order.
SYSTEMS: Mapping[str, tuple[Position, ...]] = MappingProxyType(
    {
        "0+2+0": _FRONT_PAIR,
        "0+5+0": _five((0, 15)),
        "2+5+0": (*_five((0, 15)), *_TOP_FRONT_PAIR),
        "4+5+0": (*_five(_FLAT), *_TOP_FRONT_PAIR, *_TOP_BACK_PAIR),
        "4+5+1": (
            *_five(_FLAT),
            *_TOP_FRONT_PAIR,
            *_TOP_BACK_PAIR,
            *_one("B+000", 0, -30, _LOW),
        ),
        "3+7+0": (
            *_FRONT_PAIR,
            *_CENTRE,
            *_LFE_PAIR,
            *_pair("M", 90, 0, (60, 150), _FLAT),
            *_pair("M", 135, 0, (60, 150), _FLAT),
            *_pair("U", 45, 30, (30, 45), (30, 45)),
            *_one("UH+180", 180, 45, (45, 90)),
        ),
        "4+9+0": (*_SEVEN, *_pair("M", 15, 0, (5, 25), _FLAT, name="SC"), *_FOUR_HEIGHTS),
        "9+10+3": (
            *_pair("M", 30, 0, (22.5, 30), (0, 5)),
            *_one("M+000", 0, 0, (0, 5)),
            *_LFE_PAIR,
            *_pair("M", 60, 0, (45, 60), (0, 5)),
            *_pair("M", 90, 0, (90, 90), (0, 15)),
            *_pair("M", 135, 0, (110, 135), (0, 15)),
            *_one("M+180", 180, 0, (0, 15)),
            *_one("U+000", 0, 30, (30, 45)),
            *_pair("U", 45, 30, (45, 60), (30, 45)),
            *_pair("U", 90, 30, (90, 90), (30, 45)),
            *_pair("U", 135, 30, (110, 135), (30, 45)),
            *_one("U+180", 180, 30, (30, 45)),
            Position("T+000", 0.0, 90.0, ANY_AZIMUTH_DEG, (90, 90)),
            *_one("B+000", 0, -30, _LOW),
            *_pair("B", 45, -30, (45, 60), _LOW),
        ),
        "0+7+0": _SEVEN,
        "4+7+0": (*_SEVEN, *_FOUR_HEIGHTS),
    }
)

#: The system each letter of BS.2051 stands for.
LETTERS: Mapping[str, str] = MappingProxyType(dict(zip("ABCDEFGHIJ", SYSTEMS, strict=True)))


def system_name(name: str) -> str | None:
    """Name "upper + middle + lower" of a system given by name or letter; None if unknown."""
    key = name.strip()
    key = LETTERS.get(key.upper(), key)
    return key if key in SYSTEMS else None


def system(name: str) -> tuple[Position, ...]:
    """Loudspeakers of a system given by its name ("4+7+0") or letter ("J").

    Raises
    ------
    InputError
        If there is no such system; the message lists those that exist.
    """
    key = system_name(name)
    if key is None:
        known = ", ".join(f"{letter} ({system})" for letter, system in LETTERS.items())
        raise InputError(f"{name!r} is no system of ITU-R BS.2051; those are {known}")
    return SYSTEMS[key]


def _widest(positions: list[Position]) -> Position:
    first = positions[0]
    azimuths = [p.azimuth_range_deg for p in positions]
    elevations = [p.elevation_range_deg for p in positions]
    return Position(
        first.label,
        first.azimuth_deg,
        first.elevation_deg,
        (min(low for low, _ in azimuths), max(high for _, high in azimuths)),
        (min(low for low, _ in elevations), max(high for _, high in elevations)),
        first.is_lfe,
    )


def _gathered() -> dict[str, Position]:
    by_label: dict[str, list[Position]] = {}
    for positions in SYSTEMS.values():
        for one in positions:
            by_label.setdefault(one.label, []).append(one)
    return {label: _widest(found) for label, found in by_label.items()}


_LABELS = _gathered()
_PATTERN = re.compile(r"(?P<layer>[MUB])(?P<azimuth>[+-]\d{3})")
_LAYER_ELEVATION = {"M": (0.0, (0.0, 15.0)), "U": (30.0, (30.0, 55.0)), "B": (-30.0, _LOW)}


def labels() -> tuple[str, ...]:
    """Every label that some system uses."""
    return tuple(_LABELS)


def is_label(name: str) -> bool:
    """Whether `position` knows a name."""
    return name in _LABELS or _by_pattern(name) is not None


def position(label: str) -> Position:
    """Nominal direction of one label and the widest range that any system allows it.

    A label that no system uses but that follows the pattern of the Recommendation (layer, sign,
    three digits of azimuth, as in "M+045") gets its own azimuth as the only one allowed and the
    elevations usual in its layer: common practice, no source.

    Raises
    ------
    InputError
        If the label follows no such pattern.
    """
    found = _LABELS.get(label) or _by_pattern(label)
    if found is None:
        raise InputError(
            f"{label!r} is no loudspeaker label of ITU-R BS.2051; "
            "examples are M+030, U-110, T+000, B+045, LFE1"
        )
    return found


def _by_pattern(label: str) -> Position | None:
    match = _PATTERN.fullmatch(label)
    if match is None or abs(azimuth := float(match["azimuth"])) > 180:
        return None
    elevation, elevations = _LAYER_ELEVATION[match["layer"]]
    return Position(label, azimuth, elevation, (azimuth, azimuth), elevations)


def layer(label: str) -> Layer:
    """Layer a label belongs to: upper (U and T), middle (M), lower (B) or lfe.

    Raises
    ------
    InputError
        As `position`.
    """
    one = position(label)
    if one.is_lfe:
        return "lfe"
    layers: dict[str, Layer] = {"U": "upper", "T": "upper", "M": "middle", "B": "lower"}
    return layers[one.label[0]]
