"""Numbers, lists and names as the report says them."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from roomwright.model import Biquad, Crossover, Job
from roomwright.standards import labels

_KINDS = {
    "peaking": "peak",
    "low_shelf": "low shelf",
    "high_shelf": "high shelf",
    "low_pass": "low-pass",
    "high_pass": "high-pass",
    "all_pass": "all-pass",
}
_FAMILIES = {"linkwitz_riley": "Linkwitz-Riley", "butterworth": "Butterworth"}

#: Units whose values are said with a fixed number of decimals.
_DECIMALS = {"dB": 1, "dB2": 1, "ms": 2, "s": 2, "NC": 0, "NR": 0}
_PRINTED_UNITS = {"dB2": "dB²"}

#: What plain text writes, and how it is printed.
_PRINTED = {"dB2": "dB²", " m3": " m³"}
_MINUS = re.compile(r"(?<![\w.])-(?=\d)")

#: What stands where there is no value.
MISSING = "–"


def number(value: float | None, decimals: int, *, signed: bool = False) -> str:
    """A number with a true minus sign; a dash if there is none."""
    if value is None or not math.isfinite(value):
        return MISSING
    written = f"{value:+.{decimals}f}" if signed else f"{value:.{decimals}f}"
    if not any(digit in written for digit in "123456789"):
        written = written.lstrip("+-")
    return written.replace("-", "−")


def hertz(frequency_hz: float) -> str:
    """A frequency with its unit, to about three figures."""
    if frequency_hz >= 1000:
        return f"{frequency_hz / 1000:.3g} kHz"
    return f"{frequency_hz:.0f} Hz" if frequency_hz >= 100 else f"{frequency_hz:.1f} Hz"


def quantity(value: float | None, unit: str) -> str:
    """A verdict's value with its unit; a dash if there is none."""
    if value is None or not math.isfinite(value):
        return MISSING
    if unit in {"NC", "NR"}:
        return f"{unit} {number(value, 0)}"
    decimals = _DECIMALS.get(unit, max(0, 2 - int(math.log10(max(abs(value), 1.0)))))
    if 0.0 < abs(value) < 0.5 * 10**-decimals:
        return f"< {10**-decimals:.{decimals}f} {_PRINTED_UNITS.get(unit, unit)}"
    return f"{number(value, decimals)} {_PRINTED_UNITS.get(unit, unit)}"


def printed(words: str) -> str:
    """A sentence of the program's with true minus signs and powers."""
    for plain, typeset in _PRINTED.items():
        words = words.replace(plain, typeset)
    return _MINUS.sub("−", words)


def listing(names: Sequence[str]) -> str:
    """Names as words: `a, b and c`."""
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def count(number_of: int, noun: str, plural: str = "") -> str:
    """A number and its noun: `1 seat`, `3 seats`."""
    return f"{number_of} {noun if number_of == 1 else plural or noun + 's'}"


def biquad(section: Biquad) -> str:
    """One equaliser section in a line."""
    gain = f" {number(section.gain_db, 1, signed=True)} dB" if _has_gain(section) else ""
    return f"{_KINDS[section.kind]} {hertz(section.frequency_hz)}{gain} Q {section.q:.2f}"


def crossover(filtered: Crossover) -> str:
    """One crossover filter in a line."""
    side = _KINDS[filtered.side]
    family = _FAMILIES[filtered.family]
    return f"{side} {filtered.frequency_hz:g} Hz, {family}, {6 * filtered.order} dB/octave"


def short_crossover(filtered: Crossover) -> str:
    """One crossover filter in as few words as a narrow column holds."""
    family = "".join(word[0] for word in _FAMILIES[filtered.family].split("-"))
    return f"{_KINDS[filtered.side]} {filtered.frequency_hz:g} Hz {family}{filtered.order}"


def channels_of(job: Job, unit_id: str) -> tuple[str, ...]:
    """The channels that a loudspeaker reproduces, in the customary order; none for a subwoofer."""
    return labels.label_order(c.id for c in job.channels if unit_id in c.loudspeakers)


def english_of(job: Job, unit_id: str) -> str:
    """What a loudspeaker or subwoofer is, in plain English."""
    names = [labels.english(channel) for channel in channels_of(job, unit_id)]
    return ", ".join(names) if names else "subwoofer"


def paired(names: Sequence[str]) -> str:
    """Labels of loudspeakers that hide each other in a side view, mirror pairs as one."""
    kept: list[str] = []
    for name in names:
        mirrored = name.replace("+", "-") if "+" in name else name.replace("-", "+")
        if mirrored in kept and mirrored != name:
            kept[kept.index(mirrored)] = name.replace("+", "±").replace("-", "±")
        else:
            kept.append(name)
    return ", ".join(kept)


def _has_gain(section: Biquad) -> bool:
    return section.kind in {"peaking", "low_shelf", "high_shelf"}
