"""Domestic loudspeaker counts, written bed.subwoofers.heights as in 7.4.4.

Which labels a count means is common practice, no source; the angles allowed to each label are
those of ITU-R BS.2051 (see `roomwright.standards.bs2051`) in the system named beside it here.
"""

from __future__ import annotations

import re

from roomwright._errors import InputError
from roomwright.standards.bs2051 import Position, system

#: Labels of the middle layer by their number; ranges of system B for 5, of I for 7 and 9, the
#: wide pair of 9 from H.
_BEDS = {
    5: (("B", "M+030 M-030 M+000 LFE1 M+110 M-110"),),
    7: (("I", "M+030 M-030 M+000 LFE1 M+090 M-090 M+135 M-135"),),
    9: (
        ("I", "M+030 M-030 M+000 LFE1"),
        ("H", "M+060 M-060"),
        ("I", "M+090 M-090 M+135 M-135"),
    ),
}

#: Labels of the upper layer by their number; ranges of system J, the side pair from H.
_HEIGHTS: dict[int, tuple[tuple[str, str], ...]] = {
    0: (),
    2: (("H", "U+090 U-090"),),
    4: (("J", "U+045 U-045 U+135 U-135"),),
    6: (("J", "U+045 U-045"), ("H", "U+090 U-090"), ("J", "U+135 U-135")),
}

_MOST_SUBWOOFERS = 24
_COUNT = re.compile(r"(\d+)\.(\d+)(?:\.(\d+))?")


def counts(name: str) -> tuple[int, int, int]:
    """Loudspeakers of the bed, subwoofers and heights of a count such as "7.4.4" or "5.1".

    Raises
    ------
    InputError
        If it is not written like that, or a number is not one that is known here.
    """
    match = _COUNT.fullmatch(name.strip())
    if match is None:
        raise InputError(
            f"{name!r} is no loudspeaker count; write bed.subwoofers.heights, as in 7.4.4"
        )
    bed, subwoofers, heights = (int(group or 0) for group in match.groups())
    for what, number, known in (("bed", bed, _BEDS), ("heights", heights, _HEIGHTS)):
        if number not in known:
            allowed = ", ".join(str(k) for k in known)
            raise InputError(f"{name!r} asks for {number} {what}; allowed is {allowed}")
    if not 1 <= subwoofers <= _MOST_SUBWOOFERS:
        raise InputError(
            f"{name!r} asks for {subwoofers} subwoofers; allowed is 1 to {_MOST_SUBWOOFERS}"
        )
    return bed, subwoofers, heights


def positions(bed: int, heights: int) -> tuple[Position, ...]:
    """Where the loudspeakers of a domestic count belong, the LFE channel among them.

    Raises
    ------
    InputError
        If the bed is not 5, 7 or 9, or the heights are not 0, 2, 4 or 6.
    """
    if bed not in _BEDS or heights not in _HEIGHTS:
        raise InputError(
            f"a bed of {bed} with {heights} heights is not known; "
            "allowed is a bed of 5, 7 or 9 with 0, 2, 4 or 6 heights"
        )
    return tuple(
        {position.label: position for position in system(letter)}[label]
        for letter, wanted in (*_BEDS[bed], *_HEIGHTS[heights])
        for label in wanted.split()
    )
