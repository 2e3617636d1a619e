"""How a long operation tells how far it is, and how it is stopped."""

from __future__ import annotations

from collections.abc import Callable

#: Called with the fraction done (0 to 1) and what is being done; it may raise `Cancelled`.
Progress = Callable[[float, str], None]


def silent(fraction: float, doing: str) -> None:
    """Tell nobody."""


def part(progress: Progress, start: float, stop: float) -> Progress:
    """Report the progress of one part of a longer operation, from `start` to `stop` of it."""

    def report(fraction: float, doing: str) -> None:
        progress(start + (stop - start) * fraction, doing)

    return report
