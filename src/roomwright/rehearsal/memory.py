"""A bounded memory of arrays that are expensive to make."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any

from numpy.typing import NDArray


class Memory:
    """The latest arrays made, by key; the one unused longest is forgotten first."""

    def __init__(self, limit: int) -> None:
        self._limit = limit
        self._arrays: dict[Hashable, NDArray[Any]] = {}

    def __call__(self, key: Hashable, make: Callable[[], NDArray[Any]]) -> NDArray[Any]:
        """Return the array remembered under `key`, made by `make` if there is none."""
        array = self._arrays.pop(key, None)
        if array is None:
            array = make()
        self._arrays[key] = array
        if len(self._arrays) > self._limit:
            del self._arrays[next(iter(self._arrays))]
        return array
