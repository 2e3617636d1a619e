"""Lengths as engineers write them: metres, or feet and inches."""

from __future__ import annotations

import math
import re
from fractions import Fraction
from typing import Final, Literal

from roomwright._errors import InputError

Units = Literal["m", "ft"]

FOOT_M: Final = 0.3048
INCH_M: Final = 0.0254

#: Inches are shown to this part: the marks of a tape measure.
_INCH_PARTS: Final = 8

_NUMBER = r"\d+(?:[.,]\d+)?|[.,]\d+"
_METRIC = re.compile(rf"(?P<sign>-?)\s*(?P<number>{_NUMBER})\s*(?P<unit>mm|cm|m)", re.IGNORECASE)
_PLAIN = re.compile(rf"(?P<sign>-?)\s*(?P<number>{_NUMBER})")
_IMPERIAL = re.compile(
    rf"""(?P<sign>-?)\s*
    (?:(?P<feet>{_NUMBER})\s*(?:ft\.?|feet|foot|'|′))?\s*
    (?:(?P<inches>
        \d+\s+\d+/\d+ | \d+/\d+ | {_NUMBER}
    )\s*(?:in\.?|inch|inches|"|″|'')?)?""",
    re.IGNORECASE | re.VERBOSE,
)
_METRES_PER: Final = {"m": 1.0, "cm": 0.01, "mm": 0.001}


def parse_length(text: str, units: Units = "m") -> float:
    """Read a length; metres.

    Parameters
    ----------
    text
        Such as ``5.2``, ``5,2 m``, ``520 cm``, ``17 ft``, ``17' 3"`` or ``17' 3 1/2"``; the unit
        may always be written.
    units
        What a number without a unit is in: metres or feet.

    Raises
    ------
    InputError
        If the text is not a length.
    """
    written = text.strip()
    metric = _METRIC.fullmatch(written)
    if metric is not None:
        return _signed(metric, _number(metric["number"]) * _METRES_PER[metric["unit"].lower()])
    plain = _PLAIN.fullmatch(written)
    if plain is not None:
        return _signed(plain, _number(plain["number"]) * (1.0 if units == "m" else FOOT_M))
    imperial = _IMPERIAL.fullmatch(written)
    if imperial is not None and (imperial["feet"] or imperial["inches"]):
        feet = _number(imperial["feet"] or "0")
        return _signed(imperial, feet * FOOT_M + _inches(imperial["inches"] or "0") * INCH_M)
    raise InputError(f"{text!r} is no length; write 5.2, 520 cm or 17' 3 1/2\"")


def format_length(length_m: float, units: Units = "m") -> str:
    """A length to the centimetre, or to the eighth of an inch, with its unit."""
    if units == "m":
        return f"{length_m:.2f} m"
    eighths = round(abs(length_m) / INCH_M * _INCH_PARTS)
    feet, rest = divmod(eighths, 12 * _INCH_PARTS)
    inches, parts = divmod(rest, _INCH_PARTS)
    sign = "-" if length_m < 0 and eighths else ""
    fraction = f" {Fraction(parts, _INCH_PARTS)}" if parts else ""
    return f"{sign}{feet}′ {inches}{fraction}″"


def _signed(match: re.Match[str], length_m: float) -> float:
    return -length_m if match["sign"] else length_m


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _inches(text: str) -> float:
    if "/" not in text:
        return _number(text)
    *whole, fraction = text.split()
    above, below = (int(part) for part in fraction.split("/"))
    if below == 0:
        raise InputError(f"{text!r} inches divides by 0; write a fraction such as 1/2")
    return math.fsum((*map(float, whole), above / below))
