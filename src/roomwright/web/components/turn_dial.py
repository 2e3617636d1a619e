"""A dial that shows by how much a microphone is to be turned."""

from __future__ import annotations

from nicegui.element import Element


class TurnDial(Element, component="turn_dial.js"):
    """Seen from above, ahead is up.

    Parameters
    ----------
    turn_deg
        By how much to turn it, positive to the left.
    figure, side
        The same as text: degrees, and left or right.
    says
        What screen readers say.
    """

    def __init__(self, turn_deg: float, figure: str, side: str, says: str) -> None:
        super().__init__()
        self._props["turn"] = turn_deg
        self._props["figure"] = figure
        self._props["side"] = side
        self._props["says"] = says
