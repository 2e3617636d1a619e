"""How results look in a terminal, and as one JSON object."""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table

from roomwright import _progress


@contextlib.contextmanager
def bar() -> Iterator[_progress.Progress]:
    """A progress bar on standard error, gone when the work is done."""
    with pausable_bar() as (report, _):
        yield report


@contextlib.contextmanager
def pausable_bar() -> Iterator[
    tuple[_progress.Progress, Callable[[], contextlib.AbstractContextManager[None]]]
]:
    """A progress bar, and what hides it for as long as somebody is asked something."""
    columns = (TextColumn("{task.description:<44.44}"), BarColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as shown:
        task = shown.add_task("", total=1.0)

        def report(fraction: float, doing: str) -> None:
            shown.update(task, completed=fraction, description=doing)

        @contextlib.contextmanager
        def pause() -> Iterator[None]:
            shown.stop()
            try:
                yield
            finally:
                shown.start()

        yield report, pause


def as_json(result: Mapping[str, Any]) -> None:
    """Print one JSON object on standard output."""
    sys.stdout.write(json.dumps(result, ensure_ascii=False, allow_nan=False) + "\n")


def say(text: str) -> None:
    """Print one line of plain text on standard output."""
    sys.stdout.write(text + "\n")


def complain(sentences: Sequence[str]) -> None:
    """Print sentences on standard error, each after the program's name."""
    for sentence in sentences:
        sys.stderr.write(f"roomwright: {sentence}\n")


def table(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print a plain table on standard output."""
    shown = Table(box=None, pad_edge=False, header_style="bold")
    for column in columns:
        shown.add_column(column, overflow="fold")
    for row in rows:
        shown.add_row(*row)
    # Away from a terminal nothing wraps.
    width = None if sys.stdout.isatty() else 250
    Console(highlight=False, markup=False, width=width).print(shown)
