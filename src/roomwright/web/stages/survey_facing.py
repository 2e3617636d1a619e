"""By how much to turn a microphone of four capsules, as a dial and a sentence."""

from __future__ import annotations

from roomwright.commissioning.survey.facing import Facing
from roomwright.web.components.turn_dial import TurnDial
from roomwright.web.elements import Word


def build_facing(found: Facing | None) -> None:
    """Build it in the current slot; nothing, if nothing was found yet."""
    if found is None:
        return
    TurnDial(found.turn_deg, found.figure, found.side, found.says)
    Word(f"{found.says[0].upper()}{found.says[1:]}.", "div").props("role=status").style(
        "flex: 1 1 16ch; font-size: 15px"
    )
