"""Sources by stations: a table of shapes that is walked with the arrow keys."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass

from nicegui.element import Element


@dataclass(frozen=True, slots=True)
class TakeCell:
    """One pair: `worth` is good, usable, doubtful, missing or made; `says` is for hovering."""

    worth: str
    says: str


@dataclass(frozen=True, slots=True)
class TakeLine:
    """One source: its name, how far it is, its cells in the order of the stations."""

    source: str
    label: str
    count: str
    cells: tuple[TakeCell, ...]


class TakeTable(Element, component="take_table.js"):
    """A table with one small shape for each source at each station.

    Parameters
    ----------
    name
        What screen readers call it.
    on_choose
        Called with source and station.
    on_redo
        Called with source and station when R is pressed on a cell.
    """

    def __init__(
        self,
        name: str,
        on_choose: Callable[[str, str], object],
        on_redo: Callable[[str, str], object],
    ) -> None:
        super().__init__()
        self._props["name"] = name
        self._props["stations"] = []
        self._props["lines"] = []
        self._props["chosen"] = []
        self.on(
            "choose",
            lambda event: on_choose(str(event.args["source"]), str(event.args["station"])),
            ["source", "station"],
        )
        self.on(
            "redo",
            lambda event: on_redo(str(event.args["source"]), str(event.args["station"])),
            ["source", "station"],
        )

    def show(self, stations: Sequence[str], lines: Sequence[TakeLine]) -> None:
        """Show these lines."""
        shown = {"stations": list(stations), "lines": [asdict(line) for line in lines]}
        if any(self._props[name] != value for name, value in shown.items()):
            self._props.update(shown)
            self.update()

    def choose(self, source: str, station: str) -> None:
        """Mark one cell as chosen."""
        self._props["chosen"] = [source, station]
        self.update()
