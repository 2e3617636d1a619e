"""What the survey is made with: the rehearsal room or an audio interface, and the microphone."""

from __future__ import annotations

import asyncio
from typing import Final

from nicegui import ui

from roomwright import commissioning
from roomwright._errors import DeviceError, InputError
from roomwright.commissioning import InterfaceRow
from roomwright.web.elements import PRIMARY, SECOND, Part, Word, style
from roomwright.web.fields import Entry, read_number
from roomwright.web.live import live
from roomwright.web.page import JobPage
from roomwright.web.stages.survey_microphone import MicrophonePart

_KINDS: Final = {"rehearsal": "Rehearsal room", "interface": "Audio interface"}

#: Connectors of the interface and limits of what it plays: label, lowest, highest, may be empty.
_FIELDS: Final = {
    "microphone_input": ("microphone in", 1.0, 512.0, False),
    "first_output": ("first output", 1.0, 512.0, False),
    "reference_output": ("chirps by output", 1.0, 512.0, True),
    "ceiling_dbfs": ("ceiling, dBFS", -80.0, 0.0, False),
    "ramp_s": ("rise, s", 0.0, 5.0, False),
}

_STYLE: Final = """
.rw-interface { display: grid; grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); gap: 18px;
  align-items: start; }
.rw-interface > div { min-width: 0; }
.rw-interface .q-field { width: 148px; } .rw-interface .rw-wide-field { width: 100%; }
@media (max-width: 900px) { .rw-interface { grid-template-columns: minmax(0, 1fr); } }
"""


class InterfacePanel:
    """Interface on one side, microphone on the other."""

    def __init__(self, page: JobPage) -> None:
        self._page, self._live = page, live(page.session)
        self._rows: tuple[InterfaceRow, ...] = ()
        self._entries: list[Entry] = []
        style(_STYLE)
        with ui.element("div").classes("rw-interface"):
            with ui.element("div").classes("rw-column"):
                self._build()
            with ui.element("div").classes("rw-column"):
                self._microphone = MicrophonePart(page)
        self.update()

    def update(self) -> None:
        """Follow the job."""
        for entry in self._entries:
            entry.refresh()
        self._microphone.update()
        self._wiring.show(commissioning.wiring_words(self._page.job), self._build_wiring)
        self._show_kind()

    def shown(self, *, shown: bool) -> None:
        """Nothing runs here."""

    def _build(self) -> None:
        Word("Measured with", "h2", "rw-title")
        self._kind = ui.toggle(
            _KINDS, value=self._live.kind, on_change=lambda event: self._use(event.value)
        ).props('dense unelevated no-caps toggle-color=primary aria-label="measured with"')
        self._simulated = Word(
            "The simulated cinema of this job, with a microphone of its own; nothing is plugged in "
            "and nothing sounds.",
            "div",
            "rw-quiet",
        )
        with ui.element("div").classes("rw-column") as self._real:
            with ui.element("div").classes("rw-row"):
                self._look = ui.button("Look for interfaces", on_click=self._look_for)
                self._look.props(SECOND)
                self._checks = ui.button("Check it", on_click=self._check).props(PRIMARY)
            self._said = Word("", "div").props("role=status")
            self._devices = ui.select([], label="interface", on_change=self._choose)
            self._devices.props("dense outlined options-dense").classes("rw-wide-field")
            self._recorder = ui.select([], label="microphone plugged into", on_change=self._record)
            self._recorder.props("dense outlined options-dense").classes("rw-wide-field")
            with ui.element("div").classes("rw-row"):
                for name in _FIELDS:
                    self._field(name)
                self._cable()
        self._wiring = Part("w-full")

    def _show_kind(self) -> None:
        real = self._live.kind == "interface"
        if self._kind.value != self._live.kind:
            self._kind.value = self._live.kind
        self._simulated.set_visibility(not real)
        self._real.set_visibility(real)
        self._wiring.element.set_visibility(real)
        self._show_devices()

    async def _use(self, kind: str) -> None:
        await self._live.use("interface" if kind == "interface" else "rehearsal")
        if self._page.gone or self._wiring.left:
            return
        self._show_kind()
        if kind == "interface" and not self._rows:
            await self._look_for()

    # Which interface

    async def _look_for(self) -> None:
        self._free(free=False)
        try:
            self._rows = await asyncio.to_thread(commissioning.interface_rows)
            says, tone = f"{len(self._rows)} found.", "rw-quiet"
            if not self._rows:
                says, tone = (
                    "▲ No audio interface is connected; plug one in, look again.",
                    ("rw-doubt"),
                )
        except (DeviceError, InputError) as error:
            self._rows, says, tone = (), f"▲ {error}", "rw-doubt"
        if self._page.gone or self._wiring.left:
            return
        self._free(free=True)
        self._say(says, tone)
        self._show_devices()

    def _show_devices(self) -> None:
        interface = self._page.job.interface
        options = {
            f"{row.name}\n{row.host_api}": f"{row.name} ({row.host_api}): {row.inputs} in, "
            f"{row.outputs} out"
            for row in self._rows
        }
        chosen = f"{interface.device}\n{interface.host_api}"
        if interface.device and chosen not in options:
            options[chosen] = f"{interface.device} ({interface.host_api}): not looked for yet"
        value = chosen if interface.device else None
        if self._devices.options != options or self._devices.value != value:
            self._devices.set_options(options, value=value)

        # The microphone may be plugged into a second device of the same host API.
        others = {"": "the same interface"} | {
            row.name: f"{row.name}: {row.inputs} in"
            for row in self._rows
            if row.host_api == interface.host_api and row.inputs and row.name != interface.device
        }
        recorder = interface.microphone_device
        others.setdefault(recorder, f"{recorder}: not looked for yet")
        if self._recorder.options != others or self._recorder.value != recorder:
            self._recorder.set_options(others, value=recorder)

    def _record(self) -> None:
        name = str(self._recorder.value or "")
        if name != self._page.job.interface.microphone_device:
            self._page.apply(
                lambda job: commissioning.with_interface(job, microphone_device=name),
                "choose where the microphone is plugged in",
            )

    def _choose(self) -> None:
        device, _, host_api = str(self._devices.value or "").partition("\n")
        interface = self._page.job.interface
        if device and (device, host_api) != (interface.device, interface.host_api):
            self._page.apply(
                lambda job: commissioning.with_interface(job, device=device, host_api=host_api),
                "choose the interface",
            )

    async def _check(self) -> None:
        job = self._page.job
        self._free(free=False)
        try:
            await asyncio.to_thread(commissioning.check_job_interface, job)
            says, tone = "● It is there, and can do what this job needs of it.", "rw-good"
        except (DeviceError, InputError) as error:
            says, tone = f"▲ {error}", "rw-doubt"
        if not self._page.gone and not self._wiring.left:
            self._free(free=True)
            self._say(says, tone)

    def _free(self, *, free: bool) -> None:
        """One question to the system at a time."""
        self._look.set_enabled(free)
        self._checks.set_enabled(free)

    def _say(self, says: str, tone: str) -> None:
        self._said.text = says
        self._said.classes(replace=tone)

    # How it is connected

    def _field(self, name: str) -> None:
        label, low, high, may_be_empty = _FIELDS[name]

        def show() -> str:
            value = getattr(self._page.job.interface, name)
            return "" if value is None else f"{value:g}"

        def take(text: str) -> None:
            none = may_be_empty and not text
            value = None if none else read_number(text, label, low, high)
            self._change(label, **{name: value})

        self._entries.append(Entry(label, show, take))

    def _cable(self) -> None:
        """Both ends of the loop-back, as one field: neither makes sense alone."""

        def show() -> str:
            interface = self._page.job.interface
            if interface.loop_back_output is None:
                return ""
            return f"{interface.loop_back_output} > {interface.loop_back_input}"

        def take(text: str) -> None:
            ends = text.replace(">", " ").split()
            if text and len(ends) != 2:
                raise InputError("the output and the input of the cable, such as 8 > 2; or nothing")
            numbers = [read_number(end, "each end of the cable", 1, 512) for end in ends]
            output, into = numbers or (None, None)
            self._change("loop-back cable", loop_back_output=output, loop_back_input=into)

        entry = Entry("cable out > in", show, take)
        with entry:
            ui.tooltip("loop-back cable from an output to an input of the interface: 8 > 2")
        self._entries.append(entry)

    def _change(self, says: str, **changes: float | None) -> None:
        self._page.session.apply(lambda job: commissioning.with_interface(job, **changes), says)

    def _build_wiring(self) -> None:
        with ui.element("dl").classes("rw-pairs"):
            for name, words in commissioning.wiring_words(self._page.job):
                if not words:
                    continue
                Word(name, "dt")
                Word(words, "dd")
