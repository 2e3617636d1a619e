"""A stage's screen above a graph desk of its own, which the screen can turn to something."""

from __future__ import annotations

from typing import Final, Self

from nicegui import ui

from roomwright.commissioning.desk.view import Choice
from roomwright.commissioning.proof_view import scale_of_drawing
from roomwright.proof import Drawing
from roomwright.web import desk
from roomwright.web.components.graph_desk import Axis, Band, Curve, GraphDesk, distinct
from roomwright.web.elements import Word, style
from roomwright.web.page import JobPage

_STYLE: Final = """
.rw-screen:has(> .rw-with-desk) { padding: 0; height: 100%; min-height: 0; }
.rw-with-desk { width: 100%; height: 100%; }
.rw-with-desk .rw-desk { width: 100%; }
.rw-with-desk > .q-splitter__before { max-height: fit-content; }
.rw-waits { margin: 0; padding: 16px; }
.rw-above { width: 100%; padding: 10px 12px; display: flex; flex-direction: column; gap: 8px; }
.rw-above .q-field--dense .q-field__control, .rw-above .q-field--dense .q-field__marginal {
  min-height: 30px; height: 30px; }
.rw-above .q-field--dense.q-field--outlined .q-field__native { min-height: 30px; padding: 0; }
.rw-above .q-btn--dense { padding: 1px 9px; }
"""

#: From so many curves on, those within what is allowed are drawn faint.
_MANY: Final = 12

#: Choices that follow each other faster than this are shown once, seconds.
_SETTLE_S: Final = 0.25


class AboveDesk:
    """A splitter: `with AboveDesk(page, 60) as desk:` builds what stands above.

    Parameters
    ----------
    page
        The window.
    share
        Of the height that is above at first, percent; no more than what is there needs.
    waits
        What the desk says until it is turned to something; without it, it shows what it had.
    """

    def __init__(self, page: JobPage, share: float, *, waits: str = "") -> None:
        self._page = page
        self._wanted: Choice | Drawing | None = None
        style(_STYLE)
        splitter = ui.splitter(horizontal=True, value=share).classes("rw-with-desk")
        with splitter.after:
            self._slot = ui.element("div").classes("rw-desk")
        with splitter.before:
            self._above = ui.element("div").classes("rw-above")
        self._timer: ui.timer | None = None
        if waits:
            self.say(waits)
        else:
            with self._slot:
                desk.show(page)

    def __enter__(self) -> Self:
        """Build what follows above the desk."""
        self._above.__enter__()
        return self

    def __exit__(self, *_: object) -> None:
        """Go back to the slot the splitter stands in."""
        self._above.__exit__()

    def turn_to(self, wanted: Choice | Drawing) -> None:
        """Show something else in the desk, as soon as nothing else is wanted after it."""
        self._wanted = wanted
        if self._timer is not None:
            self._timer.cancel()
        with self._above:
            self._timer = ui.timer(_SETTLE_S, self._turn, once=True)

    def say(self, sentence: str) -> None:
        """Say something in the desk's place until it is turned to what comes next."""
        self._slot.clear()
        with self._slot:
            Word(sentence, "p", "rw-quiet rw-waits").props("role=status")

    def _turn(self) -> None:
        if self._slot.is_deleted:
            return
        self._slot.clear()
        with self._slot:
            if isinstance(self._wanted, Drawing):
                _draw(self._page, self._wanted)
            else:
                desk.show(self._page, self._wanted)


def _draw(page: JobPage, drawing: Drawing) -> None:
    """Curves of a criterion over what it allows."""
    scale = scale_of_drawing(drawing)
    with ui.element("div").style("width: 100%; height: 100%; min-height: 240px"):
        graph = GraphDesk(
            y=Axis(drawing.quantity, drawing.unit, scale.low, scale.high, decimals=scale.decimals),
            name=drawing.quantity.capitalize(),
        )
    graph.set_curves(
        Curve(
            name,
            page.label(name),
            drawing.frequency_hz,
            values,
            **distinct(number),
            faint=len(drawing.curves) > _MANY and name not in scale.outside,
        )
        for number, (name, values) in enumerate(drawing.curves)
    )
    graph.set_bands(
        [Band("allowed", drawing.frequency_hz, scale.allowed_low, scale.allowed_high)]
        if scale.has_limits
        else []
    )
    graph.set_caption(drawing.caption)
