"""Fields of the tuning screen: numbers that are applied when left, and refused in place."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, field

from nicegui import ui
from nicegui.events import GenericEventArguments

from roomwright._errors import InputError


class NumberField:
    """A number with its unit; a change is applied on Enter or when the field is left.

    What is refused is said under the field, and the field keeps what was typed.

    Parameters
    ----------
    name
        What it is, for screen readers and for sentences.
    read
        Its value now; None shows nothing.
    write
        Applies a typed value; may raise `InputError`.
    unit, digits, width
        Shown after the number; digits after the point; width in pixels.
    """

    def __init__(
        self,
        name: str,
        read: Callable[[], float | None],
        write: Callable[[float], None],
        *,
        unit: str = "",
        digits: int = 1,
        width: int = 86,
    ) -> None:
        self._name, self._read, self._write, self._digits = name, read, write, digits
        self._shown = ""
        self._field = (
            ui.input()
            .props(f"dense outlined hide-bottom-space no-error-icon aria-label={json.dumps(name)}")
            .props(f"suffix={json.dumps(unit)}" if unit else "")
            .style(f"width: {width}px")
            .classes("rw-value")
        )
        # The text comes with the event: what is synchronised apart from it might be late.
        for event in ("blur", "keydown.enter"):
            self._field.on(event, self._left, js_handler="(event) => emit(event.target.value)")
        self.refresh()

    def refresh(self) -> None:
        """Show the value there is now."""
        value = self._read()
        text = "" if value is None else shown(value, self._digits)
        if text != self._shown or self._field.error:
            self._shown = self._field.value = text
            self._field.error = None

    def _left(self, event: GenericEventArguments) -> None:
        text = str(event.args or "").strip()
        if text == self._shown:
            self._field.error = None
            return
        try:
            self._write(parsed(text, self._name))
        except InputError as error:
            self._field.error = str(error)
        else:
            self._field.error = None
            self.refresh()


def shown(value: float, digits: int) -> str:
    """A number as fields show it: trailing zeros of frequencies and the like left out."""
    text = f"{value:.{digits}f}"
    return text.rstrip("0").rstrip(".") if digits > 1 and "." in text else text


def parsed(text: str, name: str) -> float:
    """The number someone typed, with a decimal point or comma; k means thousand.

    Raises
    ------
    InputError
        If it is none.
    """
    plain = text.replace(",", ".").replace("\N{MINUS SIGN}", "-").strip()
    factor = 1.0
    if plain[-1:] in {"k", "K"}:
        plain, factor = plain[:-1].strip(), 1000.0
    try:
        value = factor * float(plain)
    except ValueError:
        raise InputError(f"{name}: {text!r} is not a number") from None
    if value - value != 0:
        raise InputError(f"{name}: {text!r} is not a number")
    return value


@dataclass(slots=True)
class _Rows:
    """Elements that are built again when their shape changes, else only refreshed."""

    shape: Callable[[], object]
    build: Callable[[], None]
    body: ui.element
    shown: object = None
    fields: list[NumberField] = field(default_factory=list)


class Panel:
    """One section beside the graph.

    By default it is built again when its shape changes, else only refreshed: a subclass says in
    `shape` what its elements depend on and makes them in `build`, where it lists its number fields
    in `fields`; `show_values` updates the rest. What must never move under a pointer stands
    outside, in `build_below`; a panel of several such parts overrides `make`.
    """

    title = ""

    def __init__(self, *, opened: bool = False) -> None:
        self.fields: list[NumberField] = []
        self._rows: list[_Rows] = []
        with (
            ui.expansion(self.title, value=opened)
            .classes("rw-section")
            .props("dense dense-toggle switch-toggle-side"),
            ui.element("div").classes("rw-section-body"),
        ):
            self.make()

    def make(self) -> None:
        """Make the parts of the section in the current slot, once."""
        self.add_rows(self.shape, self.build)
        self.build_below()

    def add_rows(self, shape: Callable[[], object], build: Callable[[], None]) -> None:
        """Put a part here that `build` makes anew whenever `shape` says something else."""
        self._rows.append(_Rows(shape, build, ui.element("div").classes("rw-section-rows")))

    def shape(self) -> object:
        """What the elements depend on, compared by `==`; nothing by default."""
        return None

    def build(self) -> None:
        """Make the elements in the current slot; none by default."""

    def build_below(self) -> None:
        """Make, once, what stands below and never changes its shape."""

    def show_values(self) -> None:
        """Update what is no number field."""

    def refresh(self) -> None:
        """Follow the job."""
        for rows in self._rows:
            shape = rows.shape()
            if shape != rows.shown:
                rows.shown = shape
                rows.fields.clear()
                rows.body.clear()
                self.fields = rows.fields
                with rows.body:
                    rows.build()
            for number in rows.fields:
                number.refresh()
        self.show_values()


def small_button(icon: str, name: str, action: Callable[[], object]) -> ui.button:
    """A small button known by its icon; its name shows on hover and is read aloud."""
    button = ui.button(icon=icon, on_click=action).props(
        f"flat dense size=sm aria-label={json.dumps(name)}"
    )
    with button:
        ui.tooltip(name)
    return button
