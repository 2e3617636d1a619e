"""The part of the survey's and the proof's screens that takes in recordings made elsewhere."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Sequence
from functools import partial
from pathlib import Path
from typing import Final
from weakref import WeakKeyDictionary

from nicegui import ui

from roomwright import commissioning
from roomwright._errors import Cancelled, InputError
from roomwright._progress import Progress
from roomwright.commissioning import Proposal
from roomwright.commissioning.edits import survey as edit_survey
from roomwright.commissioning.imports.recordings import REFERENCE
from roomwright.commissioning.survey.responses import Stage
from roomwright.web.components.drop_zone import DropZone
from roomwright.web.elements import PRIMARY, SECOND, focus_first
from roomwright.web.page import JobPage
from roomwright.web.stages.survey_index import INDEX, IndexTable, Pending
from roomwright.web.uploads import Uploads

_WRITTEN: Final = ".index.csv"

_LEAVE_OUT: Final = ""

_PENDING: WeakKeyDictionary[JobPage, dict[str, Pending]] = WeakKeyDictionary()


class ImportPanel:
    """Drop zone, then the rows to confirm, then the import.

    Parameters
    ----------
    page
        The window.
    stage
        What the recordings are of.
    says
        What stands in the drop zone.
    on_done
        Called after an import with its findings.
    """

    def __init__(
        self,
        page: JobPage,
        stage: Stage,
        says: str,
        on_done: Callable[[commissioning.Surveyed], Awaitable[None]],
    ) -> None:
        self._page = page
        self._stage: Stage = stage
        self._on_done = on_done
        self._new: Uploads | None = None
        with ui.element("div").classes("rw-column w-full"):
            DropZone(self._begin, says, self._received)
            self._slot = ui.element("div").classes("w-full")
        self.build()

    @property
    def pending(self) -> Pending | None:
        """What was dropped here and is not imported yet."""
        return _PENDING.setdefault(self._page, {}).get(self._stage)

    @pending.setter
    def pending(self, pending: Pending | None) -> None:
        kept = _PENDING.setdefault(self._page, {})
        before = kept.pop(self._stage, None)
        if before is not None and (pending is None or before.uploads is not pending.uploads):
            before.uploads.close()
        if pending is not None:
            kept[self._stage] = pending

    def build(self) -> None:
        """Build what is pending again, from what is known of it."""
        if self._slot.is_deleted:
            return
        self._slot.clear()
        pending = self.pending
        self._slot.set_visibility(pending is not None)
        if pending is not None:
            with self._slot, ui.element("div").classes("rw-panel rw-column"):
                self._build_pending(pending)

    def _removed(self) -> None:
        self.build()
        focus_first(self._slot, ".rw-index button")

    # Receiving

    def _begin(self) -> Uploads:
        self._new = Uploads(self._page.session.path)
        return self._new

    async def _received(self, refused: Sequence[str]) -> None:
        uploads, self._new = self._new, None
        if uploads is None:
            self._page.notify("; ".join(refused[:3]) or "nothing was received")
            return
        pending = Pending(uploads, [], None, tuple(refused))
        try:
            if INDEX in uploads.files:
                pending.rows = list(commissioning.read_cells(uploads.folder / INDEX))
            else:
                await self._propose(pending)
        except InputError as error:
            pending.problems = {0: [str(error)]}
        self.pending = pending
        self.build()

    async def _propose(self, pending: Pending) -> None:
        """Propose rows anew, by what is said of the WAV channels."""
        proposal = await asyncio.to_thread(
            commissioning.propose_index,
            self._page.job,
            pending.uploads.folder,
            pending.wav_files,
            stage=self._stage,
            stations=pending.stations,
        )
        pending.proposal, pending.rows = proposal, list(proposal.rows)
        pending.problems = {}

    # What is pending

    def _build_pending(self, pending: Pending) -> None:
        self._build_head(pending)
        for sentence in pending.problems.get(0, ()):
            ui.label(f"▲ {sentence}").classes("rw-bad").props("role=alert")
        if pending.proposal is not None:
            self._build_unknown(pending, pending.proposal)
            for name, why in pending.proposal.unread.items():
                ui.label(f"▲ {why}" if name in why else f"▲ {name}: {why}").classes("rw-doubt")
            self._build_wav_channels(pending, pending.proposal)
        self._build_options(pending)
        if pending.rows:
            IndexTable(self._page, self._stage, pending, self._removed)

    def _build_head(self, pending: Pending) -> None:
        wrong = sum(1 for line in pending.problems if line)
        with ui.element("div").classes("rw-row"):
            source = (
                f"as their {INDEX} says"
                if pending.proposal is None
                else "as their names say; confirm or change it here"
            )
            ui.label(f"{len(pending.wav_files)} recordings received, read {source}.")
            ui.element("div").classes("rw-space")
            ui.button("Give up", on_click=self._give_up).props("flat dense")
            unknown = pending.proposal is not None and bool(pending.proposal.unknown_labels)
            ui.button(f"Import {len(pending.rows)} rows", on_click=self._import).props(
                SECOND if unknown else PRIMARY
            ).set_enabled(bool(pending.rows))
        if wrong:
            ui.label(
                f"▲ Nothing was imported: {wrong} rows cannot be used as they are. "
                "Each says why; change or remove it and import again."
            ).classes("rw-bad").props("role=alert")
        if pending.refused:
            aside = (
                "1 file was" if len(pending.refused) == 1 else f"{len(pending.refused)} files were"
            )
            with ui.expansion(f"{aside} left aside").props("dense"):
                for sentence in pending.refused:
                    ui.label(sentence).classes("rw-small rw-quiet")

    def _build_unknown(self, pending: Pending, proposal: Proposal) -> None:
        if not proposal.unknown_labels:
            return
        unknown = proposal.unknown_labels
        rest = f" and {len(unknown) - 8} more" if len(unknown) > 8 else ""
        listing = ", ".join(unknown[:8]) + rest
        with ui.element("div").classes("rw-row"):
            ui.label(
                f"▲ The names speak of {len(unknown)} loudspeakers that this job does not have: "
                f"{listing}."
            ).classes("rw-doubt")

            async def lay_out() -> None:
                if self._page.apply(
                    lambda job: edit_survey.laid_out_for(job, proposal.labels),
                    f"lay out {len(proposal.labels)} loudspeakers",
                ):
                    await self._propose(pending)
                    self.build()

            ui.button(
                f"Lay the job out for the {len(proposal.labels)} loudspeakers of these files",
                on_click=lay_out,
            ).props(PRIMARY)

    def _build_wav_channels(self, pending: Pending, proposal: Proposal) -> None:
        if proposal.wav_channels == 0:
            return
        given = commissioning.proposed_stations(self._page.job, proposal.wav_channels)
        stations = [station.id for station in self._page.job.stations]
        with ui.element("div").classes("rw-row"):
            ui.label("WAV channels are microphones at the stations")
            for number, proposed in given.items():
                value = pending.stations.get(number, proposed)
                words = {name: name for name in dict.fromkeys((*stations, proposed, value)) if name}
                words |= {REFERENCE: "the signal played (time reference)", _LEAVE_OUT: "left out"}
                ui.label(f"{number}:")
                ui.select(
                    words,
                    value=value,
                    with_input=True,
                    new_value_mode="add-unique",
                    on_change=partial(self._restation, pending, number),
                ).props(
                    f'dense outlined options-dense aria-label="station of WAV channel {number}"'
                ).style("width: 190px")

    async def _restation(self, pending: Pending, number: int, event: object) -> None:
        value = getattr(event, "value", "") or ""
        if pending.stations.get(number) == value:
            return
        pending.stations[number] = str(value).strip()
        await self._propose(pending)
        self.build()

    def _build_options(self, pending: Pending) -> None:
        with ui.element("div").classes("rw-row"):
            if any(row.kind == "response" for row in pending.rows):
                ui.checkbox(
                    "The impulse responses share one start: first samples are the moments the "
                    "signals left the outputs, so arrivals can be compared",
                    value=pending.common_start,
                    on_change=lambda event: setattr(pending, "common_start", event.value),
                ).props("dense size=xs")
        with ui.element("div").classes("rw-row"):
            ui.label("Microphone:").classes("rw-quiet")
            choices = {"": "no calibration file"} | {name: name for name in pending.text_files}
            ui.select(
                choices,
                value=pending.calibration or "",
                on_change=lambda event: setattr(pending, "calibration", event.value or None),
            ).props('dense outlined options-dense aria-label="calibration file"').style(
                "width: 210px"
            )
            ui.input(
                placeholder="not known",
                value=pending.full_scale,
                on_change=lambda event: setattr(pending, "full_scale", event.value or ""),
            ).props('dense outlined aria-label="level that reaches full scale"').style(
                "width: 100px"
            )
            ui.label("dB SPL of the sine that reaches full scale; unknown leaves levels relative")

    # Importing

    def _give_up(self) -> None:
        self.pending = None
        self.build()

    async def _import(self) -> None:
        pending = self.pending
        if pending is None:
            return
        index = pending.uploads.folder / _WRITTEN
        pending.problems = {}
        try:
            commissioning.write_cells(index, pending.rows)
            full_scale_db = _full_scale_db(pending.full_scale)
            surveyed = await self._page.session.run(
                "Import", partial(self._imported, pending, index, full_scale_db)
            )
        except Cancelled:
            return
        except InputError as error:
            pending.problems = commissioning.problems_by_line(error, index)
            self.build()
            return
        self.pending = None
        self.build()
        if not self._page.gone:
            await self._on_done(surveyed)

    def _imported(
        self, pending: Pending, index: Path, full_scale_db: float | None, progress: Progress
    ) -> commissioning.Surveyed:
        folder = pending.uploads.folder
        calibration = None
        if pending.calibration in pending.text_files:
            calibration = folder / str(pending.calibration)
        return commissioning.import_recordings(
            self._page.session.folder,
            index,
            self._stage,
            progress,
            common_start=pending.common_start,
            calibration=calibration,
            full_scale_db=full_scale_db,
            only_within=folder,
        )


def _full_scale_db(text: str) -> float | None:
    """The level as a number, None where nothing was written."""
    if not text.strip():
        return None
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise InputError(f"the full-scale level {text!r} is not a number") from None
