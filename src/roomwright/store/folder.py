"""The job folder: one readable document, raw recordings, outputs, revisions for undo."""

from __future__ import annotations

import contextlib
import hashlib
import io
import re
import shutil
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

import filelock
import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError, JobError
from roomwright.model import DayExposure, Job
from roomwright.store._files import file_errors, read_text, write_whole
from roomwright.store.documents import check, dump_job, load_job
from roomwright.store.wav import decode_wav, encode_wav, write_wav

_DOCUMENT = "job.json"
_EXPOSURE = "exposure.json"
_KEPT_REVISIONS = 50
_KEPT_CACHES = 6


class JobFolder:
    """A job on disk. Made by `create_job` or `open_job`; holds the last saved job."""

    def __init__(self, path: Path, job: Job, *, writable: bool) -> None:
        self.path = path
        self.job = job
        self._writable = writable

    def save(self, job: Job, *, undoable: bool = True) -> None:
        """Make `job` the job of this folder, keeping the one before for `undo`.

        Parameters
        ----------
        job
            What is saved.
        undoable
            False where it goes on with what the save before began: `undo` undoes both.

        Raises
        ------
        JobError
            If the job has problems or the folder was opened for reading only.
        InputError
            If the disk refuses; the last saved job is then untouched.
        """
        self._check_writable()
        check(job, job.name)
        if job == self.job:
            return
        revisions = self._revisions() if undoable else []
        if undoable:
            number = int(revisions[-1].stem) + 1 if revisions else 1
            before = dump_job(self.job).encode()
            write_whole(self._folder("revisions") / f"{number:06}.json", before)
        write_whole(self.path / _DOCUMENT, dump_job(job).encode())
        self.job = job
        for old in revisions[: max(0, len(revisions) + 1 - _KEPT_REVISIONS)]:
            old.unlink(missing_ok=True)

    def undo(self) -> Job:
        """Go back to the job before the last save, and return it.

        Raises
        ------
        JobError
            If there is nothing to undo.
        """
        self._check_writable()
        revisions = self._revisions()
        if not revisions:
            raise JobError(f"{self.path}: there is nothing to undo")
        job = load_job(revisions[-1].read_text("utf-8"), str(revisions[-1]))
        write_whole(self.path / _DOCUMENT, dump_job(job).encode())
        revisions[-1].unlink()
        self.job = job
        return job

    def earlier(self) -> Iterator[tuple[datetime, Job]]:
        """The jobs before, as far as they are kept: newest first, with when each was replaced.

        Yields
        ------
        datetime, Job
            Local time, from the revision's file; copying a job folder may have changed it.

        Raises
        ------
        JobError
            If a revision cannot be read.
        """
        for revision in sorted((self.path / "revisions").glob("[0-9]*.json"), reverse=True):
            try:
                replaced = datetime.fromtimestamp(revision.stat().st_mtime).astimezone()
                text = revision.read_text("utf-8")
            except FileNotFoundError:
                continue  # Undone, or too old to be kept, since the folder was listed.
            yield replaced, load_job(text, str(revision))

    @property
    def can_undo(self) -> bool:
        """Whether there is an earlier revision to go back to."""
        return any((self.path / "revisions").glob("[0-9]*.json"))

    def put_back(self) -> None:
        """Write the last saved job again, where its document was damaged or removed from outside.

        Raises
        ------
        InputError
            If the disk refuses.
        """
        self._check_writable()
        write_whole(self.path / _DOCUMENT, dump_job(self.job).encode())

    def write_take(
        self, name: str, samples: NDArray[np.float32], sampling_rate_hz: int
    ) -> tuple[str, str]:
        """Store a recording, (n,) or (channels, n), under `takes/`; an existing one is kept.

        Returns
        -------
        tuple
            The file's path relative to the job folder, and the SHA-256 of its bytes.
        """
        self._check_writable()
        content = encode_wav(samples, sampling_rate_hz)
        path = _free(self._folder("takes") / f"{name}.wav")
        write_whole(path, content)
        return path.relative_to(self.path).as_posix(), hashlib.sha256(content).hexdigest()

    def discard_takes(self, files: Iterable[str]) -> None:
        """Remove recordings that no saved job refers to; others are kept."""
        self._check_writable()
        referred = {take.file for take in self.job.takes}
        for file in files:
            if file not in referred:
                self._inside(file).unlink(missing_ok=True)

    def read_take(self, file: str, sha256: str) -> tuple[NDArray[np.float32], int]:
        """Read a recording back: samples (channels, n) and sampling rate.

        Raises
        ------
        InputError
            If the file is missing, outside the folder, or is not what was recorded.
        """
        path = self._inside(file)
        with file_errors("read", path):
            content = path.read_bytes()
        if hashlib.sha256(content).hexdigest() != sha256:
            raise InputError(f"{path} was changed after it was recorded; restore the original")
        return decode_wav(content, str(path))

    def write_output(self, name: str, content: bytes | str) -> Path:
        """Write a report or settings file under `outputs/` and return its path."""
        self._check_writable()
        path = self._inside(f"outputs/{name}")
        with file_errors("make", path.parent):
            path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, content.encode() if isinstance(content, str) else content)
        return path

    def write_output_wav(
        self,
        name: str,
        blocks: Iterable[NDArray[np.float32]],
        channels: int,
        samples: int,
        sampling_rate_hz: int,
    ) -> Path:
        """Write a 24-bit WAV file under `outputs/` block by block; see `store.wav.write_wav`."""
        self._check_writable()
        path = self._inside(f"outputs/{name}")
        with file_errors("make", path.parent):
            path.parent.mkdir(parents=True, exist_ok=True)
        write_wav(path, blocks, channels, samples, sampling_rate_hz)
        return path

    def discard_outputs(self, folder: str) -> None:
        """Remove a folder under `outputs/` with all that was written there before."""
        self._check_writable()
        path = self._inside(f"outputs/{folder}")
        with file_errors("remove", path):
            if path.exists():
                shutil.rmtree(path)

    def add_microphone_file(self, name: str, content: bytes) -> str:
        """Keep a calibration file as supplied under `microphones/` and return its name there."""
        self._check_writable()
        path = self._folder("microphones") / Path(name).name
        if not (path.exists() and path.read_bytes() == content):
            path = _free(path)
            write_whole(path, content)
        return path.name

    def microphone_files(self) -> tuple[str, ...]:
        """Names of the calibration files under `microphones/`, sorted."""
        folder = self.path / "microphones"
        return tuple(sorted(path.name for path in folder.glob("*") if path.is_file()))

    def read_microphone_file(self, name: str) -> str:
        """The text of a calibration file.

        Raises
        ------
        InputError
            If the file is missing or is not text.
        """
        path = self._inside(f"microphones/{name}")
        with file_errors("read", path):
            content = path.read_bytes()
        try:
            return content.decode("utf-8-sig")
        except UnicodeDecodeError:
            return content.decode("latin-1")

    def keep_exposure(self, exposure: DayExposure) -> None:
        """Keep what people heard on a day; no part of the job, so `undo` does not forget it.

        Raises
        ------
        InputError
            If the disk refuses.
        """
        self._check_writable()
        write_whole(self.path / _EXPOSURE, exposure.model_dump_json(indent=2).encode())

    def kept_exposure(self) -> DayExposure | None:
        """What was kept last; None if there is nothing that can be read."""
        try:
            return DayExposure.model_validate_json((self.path / _EXPOSURE).read_bytes())
        except (OSError, ValueError):
            return None

    def cache_put(self, key: str, arrays: Mapping[str, NDArray[Any]]) -> None:
        """Keep computed arrays for later; the oldest are dropped. Losing them loses nothing."""
        if not self._writable:
            return
        buffer = io.BytesIO()
        np.savez(buffer, **arrays)  # type: ignore[arg-type]  # the stub lacks mappings
        folder = self._folder(".cache")
        write_whole(folder / f"{key}.npz", buffer.getvalue())
        by_age = sorted(folder.glob("*.npz"), key=lambda p: p.stat().st_mtime)
        for old in by_age[:-_KEPT_CACHES]:
            old.unlink(missing_ok=True)

    def cache_get(self, key: str) -> dict[str, NDArray[Any]] | None:
        """Arrays kept under `key`, or None if there are none or they are damaged."""
        try:
            content = (self.path / ".cache" / f"{key}.npz").read_bytes()
            with np.load(io.BytesIO(content), allow_pickle=False) as kept:
                return {name: kept[name] for name in kept.files}
        except (OSError, ValueError, zipfile.BadZipFile, EOFError):
            return None

    def _folder(self, name: str) -> Path:
        folder = self.path / name
        with file_errors("make", folder):
            folder.mkdir(exist_ok=True)
        return folder

    def _inside(self, file: str) -> Path:
        path = (self.path / file).resolve()
        if not path.is_relative_to(self.path.resolve()):
            raise InputError(f"{file} lies outside the job folder {self.path}")
        return path

    def _revisions(self) -> list[Path]:
        return sorted(self._folder("revisions").glob("[0-9]*.json"))

    def _check_writable(self) -> None:
        if not self._writable:
            raise JobError(f"{self.path} was opened for reading only")


@contextlib.contextmanager
def create_job(path: Path, job: Job) -> Iterator[JobFolder]:
    """Make a new job folder at `path`, which must not exist or be empty, and open it for writing.

    Raises
    ------
    InputError
        If the folder holds anything or cannot be made, or the job has problems.
    """
    check(job, job.name)
    with file_errors("make", path):
        path.mkdir(parents=True, exist_ok=True)
        if any(path.iterdir()):
            raise InputError(f"{path} is not empty; a new job needs a folder of its own")
    with _lock(path):
        write_whole(path / _DOCUMENT, dump_job(job).encode())
        yield JobFolder(path, job, writable=True)


@contextlib.contextmanager
def open_job(path: Path, *, write: bool = False) -> Iterator[JobFolder]:
    """Open the job folder at `path`; for writing, nobody else may be writing.

    Raises
    ------
    JobError
        If there is no job, it cannot be read, or another program is writing to it.
    """
    document = path / _DOCUMENT
    if not document.is_file():
        raise JobError(f"{path} is not a job folder: it has no {_DOCUMENT}")
    with _lock(path) if write else contextlib.nullcontext():
        job = load_job(read_text(document), str(document))
        yield JobFolder(path, job, writable=write)


@contextlib.contextmanager
def _lock(path: Path) -> Iterator[None]:
    # The operating system frees the lock when its process dies, so there are no stale ones.
    lock = filelock.FileLock(path / ".lock", timeout=0)
    with file_errors("write in", path):
        try:
            lock.acquire()
        except filelock.Timeout:
            raise JobError(f"{path} is being changed by another program; wait for it") from None
    try:
        yield
    finally:
        lock.release()


def _free(path: Path) -> Path:
    """`path`, or the first of path-2, path-3, ... that does not exist yet."""
    stem = re.sub(r"[^A-Za-z0-9+\-_.]", "_", path.stem)
    candidate, number = path.with_name(f"{stem}{path.suffix}"), 1
    while candidate.exists():
        number += 1
        candidate = path.with_name(f"{stem}-{number}{path.suffix}")
    return candidate
