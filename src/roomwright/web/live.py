"""What a job is listened to with, shared by all windows: one device, one meter, one stop."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Callable
from typing import TYPE_CHECKING, Final, TypeVar
from weakref import WeakKeyDictionary

from roomwright._errors import DeviceError, InputError
from roomwright._progress import Progress
from roomwright.commissioning.levels.exposure_today import ExposureToday
from roomwright.commissioning.levels.live_input import LiveInput, With, live_input
from roomwright.commissioning.levels.live_meter import LevelName, LiveMeter, MeterView
from roomwright.commissioning.levels.set_levels import LevelRow
from roomwright.web.session import JobSession

if TYPE_CHECKING:
    from roomwright.web.page import JobPage

T = TypeVar("T")

#: How often the input is read, seconds.
_READ_S: Final = 0.04

_LIVE: WeakKeyDictionary[JobSession, Live] = WeakKeyDictionary()

#: Who has the audio interface: it is open once in this process.
_OWNERS: dict[str, Live] = {}


class Live:
    """The one live input of an open job.

    Methods are called from the event loop, except `stop_sound`, which any thread may call.

    Attributes
    ----------
    kind
        The rehearsal room, or the job's audio interface.
    trouble
        Why there is nothing to hear, in a sentence; empty if all is well.
    view
        What the meter shows; None while it is off.
    plays
        What the output that plays drives; empty if none does.
    rows
        Outputs whose level was measured, by what they drive.
    stops
        What a stop ends beside the sound of the meter, such as a survey.
    """

    def __init__(self, session: JobSession) -> None:
        self._session = session
        self.kind: With = "rehearsal"
        self.trouble = ""
        self.view: MeterView | None = None
        self.plays = ""
        self.level: LevelName = "LCS"
        self.rows: dict[str, LevelRow] = {}
        self.stops: Callable[[], None] | None = None
        self._input: LiveInput | None = None
        self._meter: LiveMeter | None = None
        self._today: ExposureToday | None = None
        self._opening = asyncio.Lock()
        self._ends: threading.Event | None = None
        self._made_for: object = None
        session.at_close.append(self.close)

    @property
    def on(self) -> bool:
        """Whether the meter runs."""
        return self._input is not None

    @property
    def sounds(self) -> bool:
        """Whether something is heard, or may be at any moment."""
        return bool(self.plays) or self.stops is not None

    async def use(self, kind: With) -> None:
        """Listen with the rehearsal room or with the interface from now on."""
        if kind != self.kind:
            await self.close()
            self.kind, self.trouble = kind, ""
            self.rows.clear()

    async def open(self) -> LiveInput:
        """The input, opened if it is not yet; the meter runs then.

        Raises
        ------
        InputError, DeviceError
            If it cannot be listened to, or another job has the interface.
        """
        async with self._opening:
            if self._input is not None and self._made_for != self._depends():
                await self._let_go()
            if self._input is None:
                self._check_owner()
                self._made_for = self._depends()
                try:
                    found = await asyncio.to_thread(live_input, self._session.folder, self.kind)
                except (DeviceError, InputError) as error:
                    self.trouble = str(error)
                    raise
                if self.kind == "interface":
                    _OWNERS["interface"] = self
                self._listen(found)
            assert self._input is not None  # noqa: S101 - just opened
            return self._input

    async def renew(self) -> None:
        """Open the input anew if it runs and what it was made of has changed."""
        if self._input is not None and self._made_for != self._depends():
            with contextlib.suppress(DeviceError, InputError):  # said by `trouble`
                await self.open()

    async def play(self, drives: str) -> None:
        """Have an output play noise at its trim until it is stopped; what played ends.

        Raises
        ------
        InputError
            If that cannot be.
        """
        source = await self.open()
        self.plays = drives
        try:
            await asyncio.to_thread(source.play, drives)
        except (DeviceError, InputError):
            self.plays = ""
            raise

    def stop_sound(self) -> None:
        """Be silent at once, whatever makes the sound."""
        source, self.plays = self._input, ""
        if source is not None:
            source.stop()
        if self.stops is not None:
            self.stops()

    async def run(
        self, page: JobPage, title: str, operation: Callable[[Progress, LiveInput], T]
    ) -> T | None:
        """Run long work that makes sound, as `JobPage.run` does; a stop ends it.

        Given the progress callback and the open input. None, and said in the window, if it was
        refused or stopped.
        """
        try:
            source = await self.open()
        except (DeviceError, InputError) as error:
            page.complain(error)
            return None
        source.stop()
        self.plays = ""
        work = self._session.work

        def stop() -> None:
            if work.task is not None:
                work.task.cancel()

        def stoppable(progress: Progress) -> T:
            self.stops = stop
            try:
                return operation(progress, source)
            finally:
                self.stops = None

        return await page.run(title, stoppable)

    async def lend(self) -> None:
        """Let the device go for a survey, which opens it by itself.

        Raises
        ------
        InputError
            If another job has the interface.
        """
        self._check_owner()
        await self.close()
        if self.kind == "interface":
            _OWNERS["interface"] = self

    def give_back(self) -> None:
        """The survey has closed the device."""
        self.stops = None
        if _OWNERS.get("interface") is self:
            del _OWNERS["interface"]

    def choose(self, level: LevelName) -> None:
        """Show another level in all windows."""
        self.level = level
        if self._meter is not None:
            self._meter.choose(level)

    def restart(self) -> None:
        """Forget Leq, peak and peak hold."""
        if self._meter is not None:
            self._meter.restart()

    async def close(self) -> None:
        """Be silent, and let the device go."""
        async with self._opening:
            await self._let_go()

    async def _let_go(self) -> None:
        source, self._input = self._input, None
        self.plays, self.view = "", None
        if self._ends is not None:
            self._ends.set()
        if source is not None:
            await asyncio.to_thread(source.close)
        if self._today is not None:
            with contextlib.suppress(InputError):  # a full disk must not keep the device
                self._today.keep()
        if _OWNERS.get("interface") is self:
            del _OWNERS["interface"]

    def _depends(self) -> object:
        """What the open input was made of; it is opened anew when that changes."""
        job = self._session.job
        if self.kind == "rehearsal":
            return self.kind, job.sampling_rate_hz, job.room
        wired = (job.interface, max((output.number for output in job.outputs), default=1))
        return self.kind, job.sampling_rate_hz, job.microphone.sensitivity_pa, wired

    def _check_owner(self) -> None:
        owner = _OWNERS.get("interface")
        if self.kind == "interface" and owner is not None and owner is not self:
            raise InputError(
                f"the audio interface is in use by {owner._session.job.name}; close its meter first"  # noqa: SLF001 - its own kind
            )

    def _listen(self, source: LiveInput) -> None:
        self.trouble = ""
        # In the simulated room nobody hears anything.
        self._today = ExposureToday(self._session.folder) if self.kind == "interface" else None
        meter = LiveMeter(source.sampling_rate_hz, source.sensitivity_pa, self.level, self._today)
        self._input, self._meter, self._ends = source, meter, threading.Event()
        threading.Thread(
            target=self._follow, args=(source, meter, self._ends), name="live meter", daemon=True
        ).start()

    def _follow(self, source: LiveInput, meter: LiveMeter, ends: threading.Event) -> None:
        """Read the input until told to end; what is too loud, or heard by nobody, is stopped."""
        while not ends.wait(_READ_S):
            try:
                samples = source.read()
                if not samples.size:
                    continue
                meter.follow(samples)
            except (DeviceError, InputError) as error:
                self._failed(source, str(error))
                return
            self.view = meter.show()
            if meter.passes(self._session.job.levels.ceiling_db) and self.plays:
                self._silence(source, "stopped: the microphone hears more than the ceiling allows")
            if self.plays and not self._session.listened:
                self._silence(source, "stopped: no window shows this job any more")
        # It may have been reading while the meter was turned off, and shown that afterwards.
        if self._input is None:
            self.view = None

    def _silence(self, source: LiveInput, says: str) -> None:
        self.plays, self.trouble = "", says
        source.stop()

    def _failed(self, source: LiveInput, says: str) -> None:
        source.close()
        self._input, self.view, self.plays, self.trouble = None, None, "", says
        if _OWNERS.get("interface") is self:
            del _OWNERS["interface"]


def live(session: JobSession) -> Live:
    """What a job is listened to with; made when first asked for."""
    if session not in _LIVE:
        _LIVE[session] = Live(session)
    return _LIVE[session]
