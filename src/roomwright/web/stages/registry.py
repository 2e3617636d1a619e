"""Which stages there are, and where their screens come from."""

from __future__ import annotations

import importlib
from collections.abc import Callable

from roomwright.web.page import JobPage

#: In the order of the work.
STAGES = ("room", "layout", "outputs", "survey", "tuning", "proof", "handover")


def screen(stage: str) -> Callable[[JobPage], None]:
    """The function that builds a stage's screen in the current slot."""
    module = importlib.import_module(f"roomwright.web.stages.{stage}")
    show: Callable[[JobPage], None] = module.show
    return show
