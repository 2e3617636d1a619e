"""The way through the job: the stages in order, how each stands, what is missing."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final

from nicegui import ui

from roomwright.commissioning import StageState
from roomwright.web.elements import PRIMARY, Word
from roomwright.web.stages import STAGES

#: A state's shape and tone; its word stands beside them.
SHAPES: Final = {
    "done": ("■", "rw-good"),
    "empty": ("□", "rw-quiet"),
    "out of date": ("▲", "rw-doubt"),
}
_TONES: Final = " ".join(tone for _, tone in SHAPES.values())


def next_button(go: Callable[[str], None], stage: str) -> ui.button:
    """A button at the end of a row, on to the stage that follows."""
    button = ui.button(f"Next: {stage}", on_click=lambda: go(stage)).props(PRIMARY)
    return button.style("margin-left: auto")


class Way:
    """The list of stages; built once, then kept up to date, so that it keeps the focus."""

    def __init__(self, go: Callable[[str], None]) -> None:
        with (
            ui.element("nav").classes("rw-way").props('aria-label="stages of the job"'),
            ui.element("ol"),
        ):
            self._steps = {
                stage: _Step(number, stage, go) for number, stage in enumerate(STAGES, start=1)
            }

    def show(self, states: Iterable[StageState], current: str) -> None:
        """Show how the stages stand, and which of them is open."""
        for state in states:
            self._steps[state.stage].show(state, open_now=state.stage == current)


class _Step:
    def __init__(self, number: int, stage: str, go: Callable[[str], None]) -> None:
        with ui.element("li"):
            self._button = ui.element("button").classes("rw-step").props("type=button")
        self._button.on("click", lambda: go(stage))
        with self._button:
            self._shape = Word("", classes="rw-shape").props("aria-hidden=true")
            Word(stage, "b")
            self._state = Word("", classes="rw-state")
            Word(str(number), classes="rw-key").props("aria-hidden=true")
            self._says = Word("", classes="rw-says")

    def show(self, state: StageState, *, open_now: bool) -> None:
        shape, tone = SHAPES[state.state]
        self._shape.text, self._state.text, self._says.text = shape, state.state, state.says
        for part in (self._shape, self._state):
            part.classes(add=tone, remove=_TONES.replace(tone, ""))
        if open_now:
            self._button.props("aria-current=step")
        else:
            self._button.props(remove="aria-current")
