"""What a report is made of: sections of text, tables and pictures, before any typesetting."""

from __future__ import annotations

from dataclasses import dataclass, field

from roomwright.handover.svg import Drawing


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph."""

    text: str
    kind: str = field(default="text", init=False)


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading within a section."""

    text: str
    kind: str = field(default="heading", init=False)


@dataclass(frozen=True, slots=True)
class Small:
    """A paragraph in small print."""

    text: str
    kind: str = field(default="small", init=False)


@dataclass(frozen=True, slots=True)
class Note:
    """A paragraph that must not be overlooked."""

    text: str
    kind: str = field(default="note", init=False)


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list; each item a bold beginning (may be empty) and its text."""

    items: tuple[tuple[str, str], ...]
    kind: str = field(default="bullets", init=False)


@dataclass(frozen=True, slots=True)
class Facts:
    """Names and values, in `columns` side by side."""

    pairs: tuple[tuple[str, str], ...]
    columns: int = 2
    kind: str = field(default="facts", init=False)


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of words. `widths` are shares of the page's width, 0 as wide as needed.

    `align` has one letter a column, l, c or r. The words of a verdict in the column number `marked`
    (`met`, `within`; `not met`, `outside`; `not judged`) get a shape beside them.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...]
    align: str
    caption: str = ""
    marked: int | None = None
    kind: str = field(default="table", init=False)


@dataclass(frozen=True, slots=True)
class Figure:
    """Pictures in rows of `columns` under a `key`, and what they were computed from.

    The rows part at the end of a page where they `may_break`.
    """

    drawings: tuple[Drawing, ...]
    caption: str
    columns: int = 1
    may_break: bool = False
    key: Drawing | None = None
    kind: str = field(default="figure", init=False)


@dataclass(frozen=True, slots=True)
class Beside:
    """Two columns of blocks; `left_share` of the width for the left one."""

    left: tuple[Block, ...]
    right: tuple[Block, ...]
    left_share: float = 0.5
    kind: str = field(default="beside", init=False)


Block = Heading | Text | Small | Note | Bullets | Facts | Table | Figure | Beside


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what stands under it."""

    title: str
    blocks: tuple[Block, ...]
