"""Faults for the rehearsal room as words of the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from roomwright._errors import InputError

if TYPE_CHECKING:
    from roomwright.model import Fault

_FIELDS = {
    "quiet": ("output", "amount"),
    "late": ("output", "amount"),
    "swapped": ("output", "other"),
    "distorting": ("output", "amount"),
    "displaced": ("output", "amount"),
    "moved": ("output", "amount"),
    "hot_input": ("output", "amount"),
}


def fault(text: str) -> Fault:
    """Read a fault such as ``reversed:3``, ``quiet:3:-6`` or ``swapped:3:4``.

    Raises
    ------
    InputError
        If the text is not of one of these forms.
    """
    from pydantic import ValidationError

    from roomwright.model import Fault

    kind, *numbers = text.split(":")
    names = _FIELDS.get(kind, ("output",))
    if len(numbers) != len(names):
        raise InputError(f"the fault {text!r} is not complete; --help lists the forms")
    try:
        fields = dict(zip(names, numbers, strict=True))
        return Fault.model_validate({"kind": kind, **fields})
    except ValidationError as error:
        raise InputError(f"the fault {text!r} is not one of the forms that --help lists") from error
