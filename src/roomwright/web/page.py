"""What one browser window shows of a job, and what every stage's screen may use."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Final, TypeVar

from nicegui import ui

from roomwright._errors import Cancelled, DeviceError, InputError, JobError
from roomwright._progress import Progress
from roomwright.commissioning.lengths import Units, format_length
from roomwright.model import Finding, Job
from roomwright.standards.labels import english, iec_label
from roomwright.web.preferences import Naming, Preferences
from roomwright.web.session import JobSession

T = TypeVar("T")

#: Labels of BS.2051, also of channels that a job does not have (any more).
_LABEL: Final = r"[A-Z][+-]\d{3}"


class JobPage:
    """One browser window on a job.

    A stage's screen is `show(page)` in `web/stages/<stage>.py`: it builds its elements in the
    current slot. After every change of the job it is built again, unless it called `on_change`
    to update itself in place.

    Attributes
    ----------
    session
        The open job, shared with the other windows.
    stage
        The stage shown.
    seat
        The chosen seat's id.
    channel
        The chosen channel's id, None for all.
    units, naming, dark
        How this person likes to see things.
    """

    def __init__(
        self, session: JobSession, preferences: Preferences, go: Callable[[str], None]
    ) -> None:
        self.session = session
        self.preferences = preferences
        self.stage = "room"
        self.seat = session.job.main_seat
        self.channel: str | None = None
        self.updates: Callable[[], None] | None = None
        self.rebuild: Callable[[], None] = lambda: None
        self._go = go
        self._client = ui.context.client

    @property
    def job(self) -> Job:
        """The job as it was last saved."""
        return self.session.job

    @property
    def units(self) -> Units:
        """What lengths are shown in."""
        return self.preferences.units

    @property
    def naming(self) -> Naming:
        """The scheme channels are named by."""
        return self.preferences.naming

    @property
    def dark(self) -> bool:
        """Whether this window is dark; also until it is known what the browser prefers."""
        return self.preferences.dark is not False

    @property
    def gone(self) -> bool:
        """Whether this window was closed; then nothing may be drawn in it any more."""
        return self._client.is_deleted

    def label(self, channel_id: str) -> str:
        """Name a channel, or the loudspeaker or subwoofer of that id, in the chosen scheme."""
        if self.naming == "english":
            return english(channel_id)
        if self.naming == "iec":
            return iec_label(channel_id, self.job.layout) or channel_id
        return channel_id

    def where(self, finding: Finding) -> str:
        """The place a finding speaks of, such as "M+030 at S1", in the chosen scheme."""
        name, space, rest = finding.where.partition(" ")
        return f"{self.label(name)}{space}{rest}"

    def said(self, sentence: str) -> str:
        """A sentence of the program's with the channels in it named in the chosen scheme."""
        if self.naming == "bs2051":
            return sentence
        ids = "|".join((_LABEL, *(re.escape(channel.id) for channel in self.job.channels)))
        whole = re.compile(rf"(?<![\w+-])(?:{ids})(?![\w+-])")
        return whole.sub(lambda found: self.label(found[0]), sentence)

    def length(self, value_m: float) -> str:
        """A length in the chosen units, with its unit."""
        return format_length(value_m, self.units)

    def go(self, stage: str) -> None:
        """Open a stage in this window."""
        self._go(stage)

    def notify(self, sentence: str) -> None:
        """Say something briefly in this window, channels named in the chosen scheme."""
        if not self.gone:
            with self._client:
                ui.notify(self.said(sentence), position="bottom", classes="rw-note", timeout=6000)

    def refresh(self) -> None:
        """Build this window's stage and frame again; for when a choice changed, not the job."""
        self.rebuild()

    def on_change(self, update: Callable[[], None]) -> None:
        """Have the shown stage updated in place by `update`, instead of being built again."""
        self.updates = update

    def apply(self, change: Callable[[Job], Job], says: str) -> bool:
        """Change the job as `JobSession.apply` does; False, and said here, if that is refused."""
        return self.attempt(lambda: self.session.apply(change, says))

    def attempt(self, action: Callable[[], None]) -> bool:
        """Do something that may be refused; False, and said in this window, if it is."""
        try:
            action()
        except InputError as error:
            self.complain(error)
            return False
        return True

    async def run(
        self, title: str, operation: Callable[[Progress], T], *, yields: bool = False
    ) -> T | None:
        """Run long work as `JobSession.run` does; None, and said here, if refused or stopped.

        Afterwards look at `gone`: the window may have been closed meanwhile.
        """
        try:
            return await self.session.run(title, operation, yields=yields)
        except Cancelled:
            return None
        except (DeviceError, InputError) as error:
            self.complain(error)
            return None

    def complain(self, error: InputError | DeviceError) -> None:
        """Say what was refused, every problem of it."""
        problems = error.problems if isinstance(error, JobError) else ()
        for sentence in problems or (str(error),):
            self.notify(sentence)
