"""Beside the graph: the target, its roll-offs, and the ranges that follow the loudspeaker."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Final

from nicegui import ui

from roomwright.commissioning.edits import target as edit_target
from roomwright.commissioning.edits.target import Side, target_shared_by
from roomwright.commissioning.tuning.handles import usual_range_to_follow
from roomwright.model import RollOff, Target
from roomwright.web.elements import Word
from roomwright.web.stages.tuning_fields import NumberField, Panel, small_button

if TYPE_CHECKING:
    from roomwright.web.stages.tuning import TuningScreen

_SIDES: Final[tuple[tuple[Side, str], ...]] = (("low", "low end"), ("high", "high end"))


class TargetPanel(Panel):
    """The target that edits apply to: points, roll-offs, ranges to follow."""

    title = "Target"

    def __init__(self, screen: TuningScreen) -> None:
        self._screen = screen
        super().__init__(opened=True)

    @property
    def _target(self) -> Target:
        return target_shared_by(self._screen.job, self._screen.channels)

    def make(self) -> None:
        """Make the parts, each of which changes by itself."""
        screen = self._screen
        self.add_rows(lambda: (screen.channels, self._own()), self._build_whose)
        self.add_rows(lambda: len(self._target.points), self._build_points)
        Word("Roll-off", "h2", "rw-part")
        for side, end in _SIDES:
            with ui.element("div").classes("rw-row"):
                Word(end, "span", "rw-end")
                self.add_rows(partial(self._rolls, side), partial(self._build_roll_off, side, end))
                ui.button("As measured", on_click=partial(screen.take_roll_off, side)).props(
                    f'outline dense aria-label="take the roll-off at the {end} from the '
                    'measurement"'
                )
        Word("Follow the loudspeaker's own response", "h2", "rw-part")
        self.add_rows(lambda: len(self._target.follows), self._build_follows)
        self._follow = ui.button("Follow a range", on_click=self._add_follow).props("outline dense")
        ui.button(
            "Start over with the usual target",
            on_click=lambda: screen.change(edit_target.reset_target, "target"),
        ).props("flat dense")

    def show_values(self) -> None:
        """Say which range would be followed."""
        span = self._usual_range()
        if span is not None:
            self._follow.text = f"Follow it from {span[0]:g} to {span[1]:g} Hz"

    def _usual_range(self) -> tuple[float, float] | None:
        ready = self._screen.ready
        return None if ready is None else usual_range_to_follow(ready, self._screen.job)

    def _add_follow(self) -> None:
        span = self._usual_range()
        if span is None:
            self._screen.page.notify("nothing is measured yet; there is no response to follow")
        else:
            self._screen.change(edit_target.add_follow, "range to follow", *span)

    def _build_whose(self) -> None:
        own = self._own()
        with ui.element("div").classes("rw-row rw-small"):
            ui.label(
                f"a target of its own: {own}" if own else "the job's target, shared by all channels"
            ).classes("rw-quiet")
            if own:
                ui.button(
                    "Back to the job's",
                    on_click=lambda: self._screen.change(edit_target.follow_job_target, "target"),
                ).props("outline dense")

    def _own(self) -> str:
        job, channels = self._screen.job, self._screen.channels
        having = {name for own in job.own_targets for name in own.channels}
        named = [self._screen.page.label(c) for c in (channels or ()) if c in having]
        return ", ".join(named)

    def _build_points(self) -> None:
        with ui.element("div").classes("rw-rows rw-rows-3"):
            Word("point at", "span", "rw-quiet")
            Word("level", "span", "rw-quiet")
            ui.element("span")
            for number in range(len(self._target.points)):
                self._build_point(number)
        Word(
            "Drag the diamonds; Alt and click adds one, Delete removes it.",
            "div",
            "rw-quiet rw-small",
        )

    def _build_point(self, number: int) -> None:
        self._number(
            f"target, frequency of point {number + 1}",
            lambda: self._target.points[number].frequency_hz,
            lambda hz: self._move(number, hz, self._target.points[number].level_db),
            "Hz",
            2,
        )
        self._number(
            f"target, level of point {number + 1}",
            lambda: self._target.points[number].level_db,
            lambda db: self._move(number, self._target.points[number].frequency_hz, db),
            "dB",
            1,
        )
        small_button(
            "close",
            f"Remove point {number + 1}",
            lambda: self._screen.change(edit_target.remove_point, "target", number),
        )

    def _rolls(self, side: Side) -> bool:
        return any(roll.side == side for roll in self._target.roll_offs)

    def _build_roll_off(self, side: Side, end: str) -> None:
        if not self._rolls(side):
            return
        self._number(
            f"roll-off at the {end}, frequency",
            lambda: self._roll(side).frequency_hz,
            lambda hz: self._set_roll(side, hz, self._roll(side).order),
            "Hz",
            2,
            80,
        )
        self._number(
            f"roll-off at the {end}, slope",
            lambda: edit_target.slope_db(self._roll(side)),
            lambda db: self._set_roll(side, self._roll(side).frequency_hz, edit_target.order(db)),
            "dB/oct",
            0,
            86,
        )
        small_button(
            "close",
            f"Remove the roll-off at the {end}",
            lambda: self._screen.change(edit_target.remove_roll_off, "roll-off", side),
        )

    def _build_follows(self) -> None:
        for number in range(len(self._target.follows)):
            with ui.element("div").classes("rw-row"):
                self._build_follow(number)

    def _build_follow(self, number: int) -> None:
        self._number(
            f"range to follow {number + 1}, from",
            lambda: self._target.follows[number].low_hz,
            lambda hz: self._set_follow(number, hz, self._target.follows[number].high_hz),
            "Hz",
            2,
        )
        Word("to", "span")
        self._number(
            f"range to follow {number + 1}, to",
            lambda: self._target.follows[number].high_hz,
            lambda hz: self._set_follow(number, self._target.follows[number].low_hz, hz),
            "Hz",
            2,
        )
        small_button(
            "close",
            f"Remove the range to follow {number + 1}",
            lambda: self._screen.change(edit_target.remove_follow, "range to follow", number),
        )

    def _roll(self, side: Side) -> RollOff:
        return next(roll for roll in self._target.roll_offs if roll.side == side)

    def _number(
        self,
        name: str,
        read: Callable[[], float],
        write: Callable[[float], None],
        unit: str,
        digits: int,
        width: int = 92,
    ) -> None:
        self.fields.append(NumberField(name, read, write, unit=unit, digits=digits, width=width))

    def _move(self, number: int, frequency_hz: float, level_db: float) -> None:
        self._screen.must_change(edit_target.move_point, "target", number, frequency_hz, level_db)

    def _set_roll(self, side: Side, frequency_hz: float, order: int) -> None:
        self._screen.must_change(edit_target.set_roll_off, "roll-off", side, frequency_hz, order)

    def _set_follow(self, number: int, low_hz: float, high_hz: float) -> None:
        self._screen.must_change(
            edit_target.move_follow, "range to follow", number, low_hz, high_hz
        )

    _follow: ui.button
