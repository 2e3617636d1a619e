"""The microphone: its files, its serial number, where it points, what reaches full scale."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import Final, Literal

import numpy as np
from nicegui import ui
from numpy.typing import NDArray

from roomwright._progress import Progress
from roomwright.commissioning.levels.live_input import LiveInput
from roomwright.commissioning.survey import microphone
from roomwright.commissioning.survey.microphone_words import (
    full_scale_text,
    microphone_words,
    millimetres,
    radius_text,
)
from roomwright.model import Job
from roomwright.web.components.drop_zone import DropZone
from roomwright.web.elements import SECOND, Part, Word
from roomwright.web.fields import Entry, read_number
from roomwright.web.live import live
from roomwright.web.page import JobPage
from roomwright.web.uploads import Uploads

Faces = Literal["ceiling", "front"]

_FACES: Final[dict[str, str]] = {"ceiling": "points to the ceiling", "front": "points ahead"}
_SIDES: Final = {"along": "sound along its axis (0°)", "side": "sound from the side (90°)"}
_LEVELS: Final = {94.0: "94 dB", 114.0: "114 dB"}

#: The calibrator is listened to so long, seconds.
_CALIBRATOR_S: Final = 4.0


class MicrophonePart:
    """Built in the current slot."""

    def __init__(self, page: JobPage) -> None:
        self._page = page
        self._uploads: Uploads | None = None
        self._entries: list[Entry] = []
        Word("Microphone", "h2", "rw-title")
        self._words = Part("w-full")
        with ui.element("div").classes("rw-row"):
            self._entry("serial number", lambda: page.job.microphone.serial, self._serial)
            self._entry("full scale, dB SPL", lambda: full_scale_text(page.job), self._full_scale)
            self._entry("capsule radius, mm", lambda: radius_text(page.job), self._radius)
            self._faces = ui.select(
                _FACES, value=page.job.microphone.faces, on_change=self._face
            ).props('dense outlined options-dense aria-label="where the microphone points"')
            self._faces.style("width: 200px")
        with ui.element("div").classes("rw-row"):
            self._side = ui.toggle(_SIDES, value="along").props(
                "dense unelevated no-caps toggle-color=primary "
                'aria-label="what the calibration file is for"'
            )
        DropZone(
            self._begin,
            "Drop its calibration file here (text: frequency, dB, phase), or a WAV recording of a "
            "calibrator.",
            self._received,
        )
        with ui.element("div").classes("rw-row"):
            self._level = ui.toggle(_LEVELS, value=94.0).props(
                'dense unelevated no-caps toggle-color=primary aria-label="level of the calibrator"'
            )
            ui.button("Listen to the calibrator", on_click=self._listen).props(SECOND)
        self.update()

    def update(self) -> None:
        """Follow the job."""
        for entry in self._entries:
            entry.refresh()
        if self._faces.value != self._page.job.microphone.faces:
            self._faces.value = self._page.job.microphone.faces
        words = microphone_words(self._page.job)

        def build() -> None:
            with ui.element("dl").classes("rw-pairs"):
                for name, text in words:
                    Word(name, "dt")
                    Word(text, "dd")

        self._words.show(words, build)

    def _entry(self, label: str, show: Callable[[], str], take: Callable[[str], object]) -> None:
        self._entries.append(Entry(label, show, take))

    def _change(self, says: str, make: Callable[[], Job]) -> None:
        """Take over what `make` says of the microphone; it may keep a file in the folder."""
        self._page.session.apply(
            lambda job: job.model_copy(update={"microphone": make().microphone}), says
        )

    def _serial(self, text: str) -> None:
        folder = self._page.session.folder
        self._change(
            "serial number of the microphone",
            lambda: microphone.with_microphone(folder, serial=text),
        )

    def _full_scale(self, text: str) -> None:
        level_db = read_number(text, "level at full scale", 60.0, 180.0)
        folder = self._page.session.folder
        self._change(
            "level at full scale",
            lambda: microphone.with_microphone(folder, full_scale_db=level_db),
        )

    def _radius(self, text: str) -> None:
        radius_mm = read_number(text, "capsule radius", 5.0, 500.0)
        folder = self._page.session.folder
        self._change(
            "radius of the capsules",
            lambda: microphone.with_microphone(folder, capsule_radius_m=millimetres(radius_mm)),
        )

    def _face(self) -> None:
        if self._faces.value == self._page.job.microphone.faces:
            return
        faces: Faces = "front" if self._faces.value == "front" else "ceiling"
        folder = self._page.session.folder
        self._page.attempt(
            lambda: self._change(
                "where the microphone points",
                lambda: microphone.with_microphone(folder, faces=faces),
            )
        )

    # Files and calibrator

    def _begin(self) -> Uploads:
        self._uploads = Uploads(self._page.session.path)
        return self._uploads

    async def _received(self, refused: Sequence[str]) -> None:
        uploads, self._uploads = self._uploads, None
        for sentence in refused:
            self._page.notify(sentence)
        if uploads is None:
            return
        try:
            for name in uploads.files:
                self._page.attempt(partial(self._take, uploads.folder / name))
        finally:
            uploads.close()

    def _take(self, path: Path) -> None:
        folder, level_db = self._page.session.folder, float(self._level.value)
        if path.suffix.lower() == ".wav":
            self._change(
                "calibrate the microphone",
                lambda: microphone.with_calibrator(folder.job, path, level_db),
            )
        elif self._side.value == "side":
            self._change(
                f"calibration file {path.name}",
                lambda: microphone.with_microphone(folder, side_calibration=path),
            )
        else:
            self._change(
                f"calibration file {path.name}", lambda: microphone.with_microphone(folder, path)
            )

    async def _listen(self) -> None:
        level_db = float(self._level.value)

        def work(_: Progress, source: LiveInput) -> tuple[NDArray[np.float32], int]:
            return source.record(_CALIBRATOR_S), source.sampling_rate_hz

        found = await live(self._page.session).run(self._page, "Listening to the calibrator", work)
        if found is None or self._page.gone:
            return
        samples, rate = found

        def calibrate() -> None:
            self._change(
                "calibrate the microphone",
                lambda: microphone.with_calibrator_heard(self._page.job, samples, rate, level_db),
            )

        if self._page.attempt(calibrate):
            self._page.notify("The microphone is calibrated.")
