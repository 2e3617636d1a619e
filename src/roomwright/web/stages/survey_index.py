"""The rows of an index that wait to be imported: each can be changed and says what is wrong."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Final

from nicegui import ui

from roomwright.commissioning import IndexCells, Proposal
from roomwright.commissioning.imports.index_cells import FIRST_LINE
from roomwright.commissioning.imports.recordings import REFERENCE, importable_sources
from roomwright.commissioning.survey.responses import Stage
from roomwright.web.elements import Word, style
from roomwright.web.page import JobPage
from roomwright.web.uploads import Uploads

#: The index among what was dropped, if there is one.
INDEX: Final = "index.csv"

#: So many rows are shown; those with something to settle come first.
_SHOWN_ROWS: Final = 120

_STYLE: Final = """
.rw-index { border-collapse: collapse; width: 100%; max-width: 1100px; }
.rw-index th { text-align: left; font-weight: 500; font-size: 12px; color: var(--rw-quiet);
  padding: 2px 12px 2px 0; }
.rw-index td { padding: 1px 12px 1px 0; vertical-align: middle; }
.rw-index tr.wrong td { background: color-mix(in srgb, var(--rw-bad) 12%, transparent); }
.rw-index .q-field--dense .q-field__control, .rw-index .q-field--dense .q-field__marginal,
.rw-index .q-field__native { min-height: 28px; height: 28px; padding-top: 0; padding-bottom: 0; }
.rw-index .q-field__bottom { display: none; }
"""


@dataclass(slots=True)
class Pending:
    """What was dropped in one window and is not imported yet."""

    uploads: Uploads
    rows: list[IndexCells]
    proposal: Proposal | None
    refused: tuple[str, ...]
    stations: dict[int, str] = field(default_factory=dict)
    problems: dict[int, list[str]] = field(default_factory=dict)
    common_start: bool = False
    calibration: str | None = None
    full_scale: str = ""

    @property
    def wav_files(self) -> tuple[str, ...]:
        """The recordings among the files."""
        return tuple(name for name in self.uploads.files if name.lower().endswith(".wav"))

    @property
    def text_files(self) -> tuple[str, ...]:
        """What may be a calibration file."""
        return tuple(
            name
            for name in self.uploads.files
            if not name.lower().endswith(".wav") and name != INDEX
        )


class IndexTable:
    """The table of the rows.

    Parameters
    ----------
    page, stage
        The window, and what the recordings are of.
    pending
        Whose rows are shown and changed.
    on_remove
        Called when a row was removed.
    """

    def __init__(
        self, page: JobPage, stage: Stage, pending: Pending, on_remove: Callable[[], None]
    ) -> None:
        self._page = page
        self._stage: Stage = stage
        self._pending = pending
        self._on_remove = on_remove
        style(_STYLE)
        self._build()

    def _build(self) -> None:
        pending = self._pending
        order = sorted(
            range(len(pending.rows)),
            key=lambda place: (
                place + FIRST_LINE not in pending.problems,
                bool(pending.rows[place].channel),
                place,
            ),
        )
        known = {
            name: self._page.label(name) for name in importable_sources(self._page.job, self._stage)
        }
        with ui.element("table").classes("rw-index"):
            with ui.element("thead"), ui.element("tr"):
                for title in ("file", "WAV channel", "is", "at station", "kind", ""):
                    Word(title, "th").props("scope=col")
            with ui.element("tbody"):
                for place in order[:_SHOWN_ROWS]:
                    self._build_row(place, known)
        if len(order) > _SHOWN_ROWS:
            ui.label(f"and {len(order) - _SHOWN_ROWS} rows more, all with a loudspeaker").classes(
                "rw-quiet"
            )

    def _build_row(self, place: int, known: dict[str, str]) -> None:
        pending = self._pending
        row = pending.rows[place]
        wrong = list(pending.problems.get(place + FIRST_LINE, ()))
        if not row.channel:
            wrong.append(
                "no loudspeaker of this job is recognised in its name; choose one or remove the row"
            )

        def change(name: str, event: object) -> None:
            value = str(getattr(event, "value", "") or "").strip()
            pending.rows[place] = replace(pending.rows[place], **{name: value})

        with ui.element("tr").classes("wrong" if wrong else ""):
            with ui.element("td"):
                ui.label(row.file)
            with ui.element("td"):
                ui.label(row.wav_channel)
            with ui.element("td"):
                options = {**known, REFERENCE: "time reference", row.channel: row.channel or "?"}
                ui.select(options, value=row.channel, on_change=partial(change, "channel")).props(
                    f'dense borderless options-dense aria-label="what {row.file} recorded"'
                ).style("min-width: 110px")
            with ui.element("td"):
                ui.input(value=row.station, on_change=partial(change, "station")).props(
                    f'dense borderless aria-label="station of {row.file}"'
                ).style("width: 130px")
            with ui.element("td"):
                kinds = {"response": "impulse response", "take": "recorded sweep"}
                kinds.setdefault(row.kind, row.kind or "?")
                ui.select(kinds, value=row.kind, on_change=partial(change, "kind")).props(
                    f'dense borderless options-dense aria-label="kind of {row.file}"'
                ).style("min-width: 140px")
            with ui.element("td").classes("rw-row"):
                if wrong:
                    ui.label(f"▲ {'; '.join(wrong)}").classes("rw-bad rw-small")
                    ui.button("Remove", on_click=partial(self._remove, place)).props(
                        "flat dense size=sm"
                    )

    def _remove(self, place: int) -> None:
        pending = self._pending
        del pending.rows[place]
        gone = place + FIRST_LINE
        pending.problems = {
            line - (line > gone): sentences
            for line, sentences in pending.problems.items()
            if line != gone
        }
        self._on_remove()
