"""Checks of arguments at the entry of public functions, each one clear sentence."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._errors import InputError


def positive(value: float, name: str) -> float:
    """Return `value` as a float if it is finite and above zero.

    Raises
    ------
    InputError
        If it is not.
    """
    number = float(value)
    if not np.isfinite(number) or number <= 0:
        raise InputError(f"{name} is {value}; it must be a number above 0")
    return number


def finite(values: ArrayLike, name: str) -> NDArray[Any]:
    """Return `values` as an array if every element is finite.

    Raises
    ------
    InputError
        If any element is NaN or infinite; the message gives the first place.
    """
    array = np.asarray(values)
    bad = ~np.isfinite(array)
    if bad.any():
        where = ", ".join(str(i) for i in np.argwhere(bad)[0])
        raise InputError(f"{name} holds a value that is not a number at index {where}")
    return array


def within(value: float, low: float, high: float, name: str) -> float:
    """Return `value` as a float if low <= value <= high.

    Raises
    ------
    InputError
        If it is not.
    """
    number = float(value)
    if not low <= number <= high:
        raise InputError(f"{name} is {value:g}; allowed is {low:g} to {high:g}")
    return number
