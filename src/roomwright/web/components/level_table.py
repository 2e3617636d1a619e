"""Outputs with their levels, worked by keys."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass

from nicegui.element import Element


@dataclass(frozen=True, slots=True)
class LevelLine:
    """One output as text; `tone` is good, off or none, `words` is what screen readers say."""

    drives: str
    number: int
    label: str
    group: str
    level: str
    wanted: str
    trim: str
    asked: str
    shape: str
    tone: str
    words: str
    says: str


class LevelTable(Element, component="level_table.js"):
    """A table of which one row is chosen.

    Parameters
    ----------
    name
        What screen readers call it.
    on_key
        Called with what is to be done (next, previous, louder, softer, accept, play, measure or
        choose) and with the row it is for.
    """

    def __init__(self, name: str, on_key: Callable[[str, str], object]) -> None:
        super().__init__()
        self._props["name"] = name
        self._props["rows"] = []
        self._props["chosen"] = ""
        self.on(
            "key",
            lambda event: on_key(str(event.args["does"]), str(event.args["drives"])),
            ["does", "drives"],
        )

    def show(self, lines: Sequence[LevelLine], chosen: str) -> None:
        """Show these lines, and which is chosen."""
        shown = {"rows": [asdict(line) for line in lines], "chosen": chosen}
        if any(self._props[name] != value for name, value in shown.items()):
            self._props.update(shown)
            self.update()
