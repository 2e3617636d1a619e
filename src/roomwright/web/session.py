"""One open job, shared by all windows that show it."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from roomwright._errors import Cancelled, InputError, JobError
from roomwright._progress import Progress
from roomwright.commissioning import StageState, responses, stages
from roomwright.commissioning.survey.responses import Stage, takes_of
from roomwright.measurement import ResponseSet
from roomwright.model import Job, digest
from roomwright.store import JobFolder, dump_job, load_job, open_job, read_text
from roomwright.tuning import predict
from roomwright.web.tasks import Work

T = TypeVar("T")

#: So many of the notes made for all windows are kept.
_KEPT_NOTES = 50


@dataclass(frozen=True, slots=True)
class _Step:
    """One undoable step: the digest of the job before it, and what it did."""

    before: str
    says: str


class JobSession:
    """One open job: its folder held for writing, its undo and redo, what is computed from it.

    All methods are called from the event loop, except `survey`, `predicted`, `measured` and
    `remembered`, which any thread may call. There is never unsaved work: each change is on disk
    before `apply` returns.

    Attributes
    ----------
    path
        The job's folder.
    writable
        Whether this session may change the job; another program may hold it.
    trouble
        Why nothing can be changed at the moment, in one sentence; empty if all is well.
    notes
        What every window shall say, oldest first: (number, sentence).
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.writable = False
        self.trouble = ""
        self.notes: list[tuple[int, str]] = []
        self.work = Work(self._tell)
        self._open = contextlib.ExitStack()
        self.at_close: list[Callable[[], Awaitable[None]]] = []  # lets devices go
        self._listeners: dict[object, Callable[[], None]] = {}
        self._steps: dict[str, _Step] = {}
        self._redo: list[tuple[Job, str]] = []
        self._seen: tuple[int, ...] = ()
        self._gone = False
        self._remembered: dict[str, tuple[tuple[object, ...], Any]] = {}
        self._locks: dict[str, threading.Lock] = {}
        self._guard = threading.Lock()
        self.folder = self._open_folder()

    @property
    def job(self) -> Job:
        """The job as it was last saved."""
        return self.folder.job

    def stages(self, label: Callable[[str], str] = str) -> tuple[StageState, ...]:
        """The state of every stage, in the order of the work, with names by `label`."""
        return stages(self.folder.job, label)

    # Changing

    def apply(self, change: Callable[[Job], Job], says: str, *, joins: bool = False) -> None:
        """Change the job and save it as one step that can be undone, then tell every window.

        Parameters
        ----------
        change
            A pure change from `commissioning`.
        says
            What it does, for "undo ...": "move M+030".
        joins
            It follows from the step before, and is undone together with it.

        Raises
        ------
        InputError
            If the change is not allowed or cannot be saved; the job is then as it was. Of a
            `JobError`, `problems` lists everything that is wrong.
        """
        self._check_free()
        before = self.job
        try:
            after = change(before)
        except ValidationError as error:
            what = error.errors()[0]["msg"].removeprefix("Value error, ")
            raise InputError(f"{says}: {what[0].lower()}{what[1:]}") from error
        self.folder.save(after)
        self._stepped(before, says, joins=joins)
        self._tell()

    async def run(
        self, title: str, operation: Callable[[Progress], T], *, yields: bool = False
    ) -> T:
        """Run a long operation in a worker thread; every window shows it and can stop it.

        What it saves is one step for undo. It goes on though the window that began it closes.

        Parameters
        ----------
        title
            What the windows show, such as "Rehearsal".
        operation
            Given a progress callback; `lambda progress: commissioning.tune(folder, progress)`.
        yields
            It only computes and saves nothing: the job can be changed meanwhile, and it is
            stopped when other work starts.

        Raises
        ------
        InputError
            If other work is running, or the job cannot be changed.
        Cancelled
            If it was stopped; what it saved before stays.
        """
        if not yields:
            self._check_free()

        def work(progress: Progress) -> T:
            before = self.job
            try:
                return operation(progress)
            finally:
                if not yields:
                    self._stepped(before, title)

        try:
            return await self.work.run(title, work, yields=yields)
        except Cancelled:
            if not yields:
                self.note(f"{title} was stopped; what it had saved until then stays")
            raise

    def undo(self) -> None:
        """Go back before the last step.

        Raises
        ------
        JobError
            If there is nothing to undo.
        """
        self._check_free()
        undone, step = self.job, self._steps.get(digest(self.job))
        self.folder.undo()
        # A long operation may have saved more than once.
        while step is not None and digest(self.job) != step.before and self.folder.can_undo:
            self.folder.undo()
        self._redo.append((undone, "" if step is None else step.says))
        self._tell()

    def redo(self) -> None:
        """Take back the last undo.

        Raises
        ------
        JobError
            If there is nothing to redo.
        """
        self._check_free()
        if not self._redo:
            raise JobError("there is nothing to redo")
        before = self.job
        job, says = self._redo[-1]
        self.folder.save(job)
        self._redo.pop()
        self._steps[digest(self.job)] = _Step(digest(before), says)
        self._tell()

    @property
    def undoes(self) -> str | None:
        """What `undo` would take back, None if there is nothing."""
        if not self.writable or not self.folder.can_undo:
            return None
        step = self._steps.get(digest(self.job))
        return "the last change" if step is None else step.says

    @property
    def redoes(self) -> str | None:
        """What `redo` would bring back, None if there is nothing."""
        return (self._redo[-1][1] or "the last change") if self._redo else None

    # Computed from the job

    def survey(self) -> ResponseSet | None:
        """Responses of the survey, None if nothing is measured; computed when first asked for.

        Raises
        ------
        InputError
            If a recording is missing, was changed or cannot be used.
        """
        return self._measured("survey")

    def measured(self) -> ResponseSet | None:
        """Responses of the proof, None if nothing is re-measured; otherwise as `survey`."""
        return self._measured("proof")

    def predicted(self) -> ResponseSet | None:
        """Responses of every channel through the tuning, None without a survey or a tuning."""
        job, survey = self.job, self.survey()
        if survey is None or job.tuning is None:
            return None
        tuning = job.tuning
        inputs = (tuning, job.channels, job.units, takes_of(job, "survey"), job.microphone)
        return self.remembered("predicted", inputs, lambda: predict(job, tuning, survey))

    def remembered(self, name: str, inputs: tuple[object, ...], compute: Callable[[], T]) -> T:
        """Return what `compute` gave for these inputs last time, or compute it.

        Parameters
        ----------
        name
            Of what is computed; the last result under each name is kept.
        inputs
            Everything the result depends on, compared by `==`.
        compute
            Called in the calling thread; two threads never compute the same name at once.
        """
        with self._guard:
            lock = self._locks.setdefault(name, threading.Lock())
        with lock:
            kept = self._remembered.get(name)
            if kept is None or kept[0] != inputs:
                kept = (inputs, compute())
                self._remembered[name] = kept
            result: T = kept[1]
            return result

    # Telling the windows

    def listen(self, callback: Callable[[], None]) -> Callable[[], None]:
        """Call `callback` in the event loop after every change; returns how to stop that."""
        key = object()
        self._listeners[key] = callback
        return lambda: self._listeners.pop(key, None) and None

    @property
    def listened(self) -> bool:
        """Whether any window shows this job."""
        return bool(self._listeners)

    def note(self, sentence: str) -> None:
        """Have every window say something."""
        number = self.notes[-1][0] + 1 if self.notes else 1
        self.notes = [*self.notes[1 - _KEPT_NOTES :], (number, sentence)]
        self._tell()

    # What happens to the folder from outside

    def look(self) -> None:
        """Notice what other programs did to the folder, take it in or say what is wrong."""
        if self.work.holds:
            return
        stat = _stat(self.path)
        if not stat:
            if not self._gone:
                self._gone = True
                self._troubled(
                    f"{self.path / 'job.json'} is gone: put it back to go on; this window still "
                    "holds the job"
                )
        elif self._gone or not self.writable:
            self._open_again(stat)
        elif stat != self._seen:
            self._seen = stat
            self._take_in()

    def put_back(self) -> None:
        """Write this session's job over a `job.json` that was damaged or removed from outside.

        Raises
        ------
        InputError
            If the folder is gone or cannot be written.
        """
        self.folder.put_back()
        self.look()

    async def close(self) -> None:
        """Stop what is running and let other programs have the folder."""
        await self.work.stop()
        for action in self.at_close:
            await action()
        self._open.close()

    def _open_folder(self) -> JobFolder:
        """Open for writing, or for reading while another program is writing."""
        self._seen = _stat(self.path)
        try:
            folder = self._open.enter_context(open_job(self.path, write=True))
        except JobError as error:
            folder = self._open.enter_context(open_job(self.path))
            self.writable, self.trouble = False, f"{error}; the job is shown as last saved"
        else:
            self.writable, self.trouble = True, ""
        return folder

    def _open_again(self, stat: tuple[int, ...]) -> None:
        """Hold the folder once it is free or back; take in what it says meanwhile."""
        with contextlib.suppress(OSError):  # the lock may have gone with its folder
            self._open.close()
        try:
            folder = self._open.enter_context(open_job(self.path, write=True))
        except JobError:
            if stat == self._seen and not self._gone:
                return
            try:
                folder = self._open_folder()
            except JobError as error:
                self._seen = stat
                self._troubled(str(error))
                return
        else:
            self.writable, self.trouble, self._seen = True, "", stat
            self.note("the job's folder is free; it can be changed here again")
        self._gone = False
        self.folder = folder
        self._tell()

    def _take_in(self) -> None:
        """Take over what `job.json` says now, if it says anything usable."""
        document = self.path / "job.json"
        try:
            text = read_text(document)
            theirs = self.job if text == dump_job(self.job) else load_job(text, str(document))
        except InputError as error:
            self._troubled(f"another program changed the job, and it cannot be used: {error}")
            return
        self.trouble = ""
        if theirs == self.job:
            self._tell()
            return
        before = self.job
        self.folder.save(theirs)
        self._stepped(before, "the change made by another program")
        self.note("the job was changed by another program; this is what it says now")

    def _troubled(self, sentence: str) -> None:
        self.trouble = sentence
        self._tell()

    def _measured(self, stage: Stage) -> ResponseSet | None:
        job = self.job
        takes = takes_of(job, stage)
        if not any(take.kind != "noise" for take in takes):
            return None
        return self.remembered(
            stage, (takes, job.microphone), lambda: responses(self.folder, stage)
        )

    def _check_free(self) -> None:
        self.look()
        if self.trouble:
            raise JobError(self.trouble)
        if self.work.holds:
            raise InputError(f"{self.work.holds} is running; wait for it or stop it first")

    def _stepped(self, before: Job, says: str, *, joins: bool = False) -> None:
        if self.job != before:
            step = self._steps.get(digest(before)) if joins else None
            self._steps[digest(self.job)] = step or _Step(digest(before), says)
            if not joins:
                self._redo.clear()
            self._seen = _stat(self.path)

    def _tell(self) -> None:
        for callback in tuple(self._listeners.values()):
            callback()


def _stat(path: Path) -> tuple[int, ...]:
    """What tells one state of `job.json` from another; empty if there is none."""
    try:
        stat = (path / "job.json").stat()
    except OSError:
        return ()
    return (stat.st_mtime_ns, stat.st_size, stat.st_ino)
