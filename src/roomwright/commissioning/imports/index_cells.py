"""An index of recordings as the words in its cells: what a person edits before importing."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import astuple, dataclass, fields
from pathlib import Path

from roomwright._errors import InputError
from roomwright.store import read_text

#: The line of the first row; the columns' names stand on line 1.
FIRST_LINE = 2

_MOST_ROWS = 20_000


@dataclass(frozen=True, slots=True)
class IndexCells:
    """One row of an index, as text; the fields are its columns."""

    file: str
    wav_channel: str = "1"
    channel: str = ""
    station: str = ""
    kind: str = "response"
    x_m: str = ""
    y_m: str = ""
    z_m: str = ""


_COLUMNS = tuple(field.name for field in fields(IndexCells))


def read_cells(index: Path) -> tuple[IndexCells, ...]:
    """Read an index as it stands; whether it can be used is for the import to say.

    Raises
    ------
    InputError
        If it is not UTF-8 text, has no column `file`, or has more than 20,000 rows.
    """
    reader = csv.DictReader(io.StringIO(read_text(index)), skipinitialspace=True)
    if "file" not in (reader.fieldnames or ()):
        raise InputError(f"the index {index.name} lacks the column file")
    rows: list[IndexCells] = []
    for cells in reader:
        if len(rows) == _MOST_ROWS:
            raise InputError(f"the index {index.name} has more than {_MOST_ROWS} rows")
        rows.append(IndexCells(**{name: (cells.get(name) or "").strip() for name in _COLUMNS}))
    return tuple(rows)


def write_cells(index: Path, rows: Sequence[IndexCells]) -> None:
    """Write rows as an index; the first stands on line `FIRST_LINE`, each takes one line."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_COLUMNS)
    writer.writerows([" ".join(cell.splitlines()) for cell in astuple(row)] for row in rows)
    index.write_text(text.getvalue(), encoding="utf-8")
