"""Which loudspeakers a layout asks for, however it is written."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass

from roomwright._errors import InputError
from roomwright.standards import bs2051, domestic, labels
from roomwright.standards.bs2051 import Position

_COUNT_LIKE = re.compile(r"\d+(\.\d+)+")


@dataclass(frozen=True, slots=True)
class Layout:
    """Loudspeakers and LFE channels in customary order, and the number of subwoofers."""

    loudspeakers: tuple[Position, ...]
    lfe: tuple[Position, ...]
    subwoofers: int


def read_layout(layout: str) -> Layout:
    """Loudspeakers asked for by a BS.2051 system, a domestic count, or a list of labels.

    A system of BS.2051 ("J", "4+7+0") and a list of BS.2051 labels separated by commas
    ("M+030, M-030, LFE1") have as many subwoofers as LFE channels; a domestic count ("7.4.4")
    says its own number.

    Raises
    ------
    InputError
        If it is none of these, or names a loudspeaker twice.
    """
    if bs2051.system_name(layout) is not None:
        return _gathered(bs2051.system(layout))
    if _COUNT_LIKE.fullmatch(layout.strip()):
        bed, subwoofers, heights = domestic.counts(layout)
        return _gathered(domestic.positions(bed, heights), subwoofers)
    names = [name.strip() for name in layout.split(",")]
    for name, count in Counter(names).items():
        if count > 1:
            raise InputError(f"the layout names {name} {count} times; once is enough")
    if len(names) == 1 and not bs2051.is_label(names[0]):
        raise InputError(
            f"the layout {layout!r} is not known; give a system of ITU-R BS.2051 (J or 4+7+0), "
            "a count (7.4.4), or labels separated by commas (M+030, M-030, LFE1)"
        )
    return _gathered(tuple(bs2051.position(name) for name in names))


def _gathered(positions: tuple[Position, ...], subwoofers: int | None = None) -> Layout:
    by_label = {position.label: position for position in positions}
    ordered = [by_label[label] for label in labels.label_order(by_label)]
    lfe = tuple(position for position in ordered if position.is_lfe)
    return Layout(
        loudspeakers=tuple(position for position in ordered if not position.is_lfe),
        lfe=lfe,
        subwoofers=len(lfe) if subwoofers is None else subwoofers,
    )
