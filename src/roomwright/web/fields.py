"""Fields that take what was typed when they are left, and say in place what is allowed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui
from nicegui.elements.mixins.validation_element import ValidationElement

from roomwright._errors import InputError, JobError


class Entry(ui.input):
    """A text field for one value.

    Parameters
    ----------
    label
        What the value is.
    show
        Gives the value as text.
    take
        Takes what was typed; its `InputError` is shown under the field, and nothing has changed.
    said
        Words a refusal in the chosen naming scheme, as `JobPage.said` does.
    """

    def __init__(
        self,
        label: str,
        show: Callable[[], str],
        take: Callable[[str], object],
        said: Callable[[str], str] = str,
    ) -> None:
        self._shown = show()
        #: The last value that the server sent; what is typed is none.
        self._sent: str | None = None
        super().__init__(label, value=self._shown)
        self._sent = self._shown
        self._show, self._take, self._said = show, take, said
        self.props("outlined dense hide-bottom-space")
        self.on("blur", self._typed)
        self.on("keydown.enter", self._typed)
        self.on("keydown.escape", self._reset)

    def refresh(self) -> None:
        """Show the value as it is now; what is being typed stays while that is as it was."""
        if self._show() != self._shown:
            self._reset()

    def _handle_value_change(self, value: Any) -> None:  # noqa: ANN401 - theirs
        """As the toolkit's, but `updateValue` is sent only where the browser needs it.

        It comes behind all that waits to be sent, and would undo what is typed meanwhile. A value
        unlike the last one that was sent shows without it.
        """
        ValidationElement._handle_value_change(self, value)  # noqa: SLF001
        if self._send_update_on_value_change:
            if value == self._sent:
                self.run_method("updateValue")
            self._sent = value

    def _reset(self) -> None:
        self.error = None
        self.value = self._shown = self._show()

    def _typed(self) -> None:
        text = str(self.value or "").strip()
        if text == self._show():
            self.error = None
            return
        if answered(self, lambda: self._take(text), self._said):
            self._reset()


def answered(
    field: ValidationElement[Any], action: Callable[[], object], said: Callable[[str], str] = str
) -> bool:
    """Do what a field asks for; False, and said under the field, if that is refused.

    `said` may word the refusal in the chosen naming scheme, as `JobPage.said` does.
    """
    try:
        action()
    except InputError as error:
        problems = error.problems if isinstance(error, JobError) else ()
        field.error = said((problems or (str(error),))[0])
        return False
    field.error = None
    return True


def read_number(text: str, what: str, low: float, high: float) -> float:
    """Read a number within limits, with a decimal point or comma.

    Raises
    ------
    InputError
        If it is no number or outside the limits.
    """
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        number = float("nan")
    if not low <= number <= high:
        raise InputError(f"{what}: a number from {low:g} to {high:g} is allowed")
    return number


def number_in(field: ui.input, what: str, low: float, high: float) -> float | None:
    """The number in a field, as `read_number`; None, and said under the field, if it is none."""
    read: list[float] = []
    answered(field, lambda: read.append(read_number(str(field.value or ""), what, low, high)))
    return read[0] if read else None
