"""The jobs this server was started with, and the open sessions on them."""

from __future__ import annotations

import asyncio
import re
import time
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from roomwright._errors import InputError
from roomwright.model import Job
from roomwright.store import create_job

if TYPE_CHECKING:
    from roomwright.web.session import JobSession

#: How often the folders are looked at, and how long a job nobody looks at is held.
_LOOK_S = 1.5
_HELD_S = 60.0


class Jobs:
    """Which job folders a browser may reach, by name, and the sessions on them.

    Parameters
    ----------
    paths
        Job folders, and folders of jobs.

    Raises
    ------
    InputError
        If a path is not a folder.
    """

    def __init__(self, paths: Sequence[Path]) -> None:
        self._single: list[Path] = []
        self._libraries: list[Path] = []
        for path in (path.resolve() for path in paths):
            if not path.is_dir():
                raise InputError(f"{path} is not a folder; give a job or a folder of jobs")
            (self._single if (path / "job.json").exists() else self._libraries).append(path)
        self._sessions: dict[Path, JobSession] = {}
        self._left: dict[Path, float] = {}

    def folders(self) -> dict[str, Path]:
        """Every job folder there is now, by the name that stands in its address."""
        found = [*self._single]
        for library in self._libraries:
            found += sorted(path.parent for path in library.glob("*/job.json"))
        named: dict[str, Path] = {}
        for path in dict.fromkeys(found):
            name, number = path.name, 1
            while name in named:
                number += 1
                name = f"{path.name}-{number}"
            named[name] = path
        return named

    def session(self, name: str) -> JobSession:
        """The session on a job, opened if it is not yet.

        Raises
        ------
        InputError
            If no job has that name, or it cannot be read.
        """
        path = self.folders().get(name)
        if path is None:
            raise InputError(f"there is no job called {name!r} here")
        if path not in self._sessions:
            from roomwright.web.session import JobSession

            self._sessions[path] = JobSession(path)
        self._left[path] = time.monotonic()
        return self._sessions[path]

    @property
    def library(self) -> Path | None:
        """Where new jobs are made; None if the server was given single jobs only."""
        return self._libraries[0] if self._libraries else None

    def create(self, job: Job) -> str:
        """Make a folder for a new job and return its name.

        Raises
        ------
        InputError
            If there is nowhere to make it, or the job has problems.
        """
        if self.library is None:
            raise InputError("start with a folder of jobs to make new ones in it")
        stem = re.sub(r"[^a-z0-9]+", "-", job.name.lower()).strip("-")[:60] or "job"
        path, number = self.library / stem, 1
        while path.exists():
            number += 1
            path = self.library / f"{stem}-{number}"
        with create_job(path, job):
            pass
        return next(name for name, folder in self.folders().items() if folder == path)

    async def watch(self) -> None:
        """Look after the open jobs until cancelled: what changed outside, what nobody shows."""
        while True:
            await asyncio.sleep(_LOOK_S)
            for path, session in tuple(self._sessions.items()):
                session.look()
                if session.listened or session.work.task is not None:
                    self._left[path] = time.monotonic()
                elif time.monotonic() - self._left[path] > _HELD_S:
                    del self._sessions[path]
                    await session.close()

    async def close(self) -> None:
        """Stop all work and let go of every folder."""
        for session in self._sessions.values():
            await session.close()
        self._sessions.clear()
