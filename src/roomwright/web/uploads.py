"""Files from a browser: bounded in number and size, kept in a temporary folder of the job."""

from __future__ import annotations

import asyncio
import shutil
import tempfile
import time
import weakref
from collections.abc import AsyncIterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Final

from roomwright._errors import InputError

#: Recordings, an index, calibration files.
SUFFIXES: Final = (".wav", ".csv", ".txt", ".cal", ".frd")

_PREFIX: Final = ".upload-"
_LONGEST_PART: Final = 120
_DEEPEST: Final = 4

#: Temporary folders older than this were left by a program that was killed, seconds.
_STALE_S: Final = 24 * 3600.0


@dataclass(frozen=True, slots=True)
class Limits:
    """How much one batch of uploads may hold; the defaults are ample for a survey of a cinema."""

    files: int = 2000
    bytes_per_file: int = 256 * 2**20
    bytes_in_all: int = 2 * 2**30


class Uploads:
    """One batch of uploaded files, in a temporary folder of its own inside the job's folder.

    The folder goes with `close`, or with this object.

    Attributes
    ----------
    folder
        Where the files are.
    """

    def __init__(self, job_folder: Path, limits: Limits | None = None) -> None:
        _remove_stale(job_folder)
        self.folder = Path(tempfile.mkdtemp(prefix=_PREFIX, dir=job_folder))
        self._limits = limits or Limits()
        self._sizes: dict[str, int] = {}
        self.close = weakref.finalize(self, shutil.rmtree, self.folder, ignore_errors=True)

    @property
    def files(self) -> tuple[str, ...]:
        """Names of the files received, relative to `folder`, sorted."""
        return tuple(sorted(self._sizes))

    async def receive(self, name: str, chunks: AsyncIterator[bytes]) -> None:
        """Store one file; one of the same name is replaced.

        Parameters
        ----------
        name
            Path of the file relative to what was dropped, with slashes.
        chunks
            Its content.

        Raises
        ------
        InputError
            If the name is not one of a file that is wanted here, or a limit is passed; nothing of
            the file is kept then.
        """
        path = safe_name(name)
        key = path.as_posix()
        if not self.close.alive:
            raise InputError(f"{key} came too late; the upload was given up")
        if key not in self._sizes and len(self._sizes) >= self._limits.files:
            raise InputError(f"{key} is one too many; up to {self._limits.files} files are taken")
        target = self.folder / path
        target.parent.mkdir(parents=True, exist_ok=True)
        partial = target.with_name(f"{target.name}.part")
        self._sizes[key] = 0
        try:
            with partial.open("wb") as file:
                async for chunk in chunks:
                    self._sizes[key] += len(chunk)
                    self._check_size(key)
                    await asyncio.to_thread(file.write, chunk)
            partial.replace(target)
        except BaseException as error:
            self._sizes.pop(key, None)
            partial.unlink(missing_ok=True)
            if isinstance(error, OSError):
                raise InputError(f"{key} could not be stored: {error.strerror}") from error
            raise

    def _check_size(self, key: str) -> None:
        if self._sizes[key] > self._limits.bytes_per_file:
            most = self._limits.bytes_per_file // 2**20
            raise InputError(f"{key} is too large; up to {most} MB are taken")
        if sum(self._sizes.values()) > self._limits.bytes_in_all:
            most = self._limits.bytes_in_all // 2**20
            raise InputError(f"{key} is too much; up to {most} MB in all are taken")


def safe_name(name: str) -> PurePosixPath:
    """The relative path of an uploaded file, if it is harmless and of a kind that is wanted.

    Raises
    ------
    InputError
        If it leads out of its folder, holds characters that file systems mistake, is too long or
        too deep, or has another suffix than those of `SUFFIXES`.
    """
    shown = name[:60]
    parts = name.split("/")
    harmless = all(
        0 < len(part) <= _LONGEST_PART
        and not part.startswith(".")
        and part.isprintable()
        and not set(part) & set('\\:*?"<>|')
        for part in parts
    )
    if not harmless or len(parts) > _DEEPEST:
        raise InputError(f"{shown!r} is not a usable file name")
    path = PurePosixPath(*parts)
    if path.suffix.lower() not in SUFFIXES:
        raise InputError(f"{shown} was left aside: it is neither a WAV file, an index nor text")
    return path


def _remove_stale(job_folder: Path) -> None:
    before = time.time() - _STALE_S
    for folder in job_folder.glob(f"{_PREFIX}*"):
        if folder.stat().st_mtime < before:
            shutil.rmtree(folder, ignore_errors=True)
