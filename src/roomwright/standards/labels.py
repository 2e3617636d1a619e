"""Names of a channel: IEC 62574 label and number, and plain English, by its BS.2051 label.

The IEC 62574 numbers were transcribed from a public audio-file library. IEC labels carry no
angles, so which BS.2051 label they stand for is judged here, from memory.

In the 22.2 system (BS.2051 system H) the IEC labels FL and FR mean the pair at 60 degrees and
FLc and FRc the pair at 30; in every other system FL and FR are the pair at 30 degrees.

English names are ours and differ for every label; where two labels are usually called the same,
one says its angle.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from roomwright.standards.bs2051 import system_name


class _Name(NamedTuple):
    iec: str
    number: int
    english: str


def _sides(label: str, iec: tuple[str, str], number: int, english: str) -> dict[str, _Name]:
    head, _, tail = label.partition("±")
    return {
        f"{head}{sign}{tail}": _Name(name, number + offset, english.format(side))
        for sign, name, offset, side in (
            ("+", iec[0], 0, "left"),
            ("-", iec[1], 1, "right"),
        )
    }


#: In the customary order of channels.
_NAMES: dict[str, _Name] = {
    **_sides("M±030", ("FL", "FR"), 1, "{}"),
    "M+000": _Name("FC", 3, "centre"),
    "LFE1": _Name("LFE1", 4, "low-frequency effects"),
    "LFE2": _Name("LFE2", 10, "second low-frequency effects"),
    **_sides("M±SC", ("FLc", "FRc"), 7, "{} of centre"),
    **_sides("M±060", ("FLw", "FRw"), 25, "{} wide"),
    **_sides("M±090", ("SiL", "SiR"), 11, "{} side surround"),
    **_sides("M±110", ("LS", "RS"), 27, "{} surround"),
    **_sides("M±135", ("BL", "BR"), 5, "{} back surround"),
    "M+180": _Name("BC", 9, "back centre"),
    "U+000": _Name("TpFC", 15, "top front centre"),
    **_sides("U±030", ("TpFL", "TpFR"), 13, "top front {} 30°"),
    **_sides("U±045", ("TpFL", "TpFR"), 13, "top front {}"),
    **_sides("U±090", ("TpSiL", "TpSiR"), 19, "top side {}"),
    **_sides("U±110", ("TpBL", "TpBR"), 17, "top back {} 110°"),
    **_sides("U±135", ("TpBL", "TpBR"), 17, "top back {}"),
    "U+180": _Name("TpBC", 21, "top back centre"),
    "UH+180": _Name("TpBC", 21, "high top back centre"),
    "T+000": _Name("TpC", 16, "top centre"),
    "B+000": _Name("BtFC", 22, "bottom front centre"),
    **_sides("B±045", ("BtFL", "BtFR"), 23, "bottom front {}"),
}

_NAMES_IN_22_2: dict[str, _Name] = {
    **_NAMES,
    **_sides("M±060", ("FL", "FR"), 1, "{} wide"),
    **_sides("M±030", ("FLc", "FRc"), 7, "{}"),
}


def _name(label: str, layout: str) -> _Name | None:
    names = _NAMES_IN_22_2 if system_name(layout) == "9+10+3" else _NAMES
    return names.get(label)


def iec_label(label: str, layout: str = "") -> str | None:
    """IEC 62574 label of a BS.2051 label, None if there is none.

    `layout` is the system the channel belongs to: in 22.2 (H, 9+10+3) FL and FR are another pair.
    """
    name = _name(label, layout)
    return name.iec if name else None


def iec_number(label: str, layout: str = "") -> int | None:
    """IEC 62574 number of a BS.2051 label, None if there is none; `layout` as in `iec_label`."""
    name = _name(label, layout)
    return name.number if name else None


def english(label: str) -> str:
    """Plain English name of a BS.2051 label; a label without one is returned as it is."""
    return _NAMES[label].english if label in _NAMES else label


def label_order(labels: Iterable[str]) -> tuple[str, ...]:
    """Labels in the customary order of channels, those without a place in it last, by name."""
    order = {label: place for place, label in enumerate(_NAMES)}
    return tuple(sorted(labels, key=lambda label: (order.get(label, len(order)), label)))
