"""Writing files whole or not at all, and saying in one sentence why a file failed."""

from __future__ import annotations

import contextlib
import errno
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

from roomwright._errors import InputError

_REASONS = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the disk quota is used up",
    errno.EACCES: "there is no permission",
    errno.EPERM: "there is no permission",
    errno.EROFS: "the disk is read-only",
    errno.ENOENT: "it does not exist",
    errno.ENOTDIR: "part of its path is a file",
    errno.EISDIR: "it is a folder",
}


@contextlib.contextmanager
def file_errors(doing: str, path: Path) -> Iterator[None]:
    """Turn an operating-system error into an `InputError`: "cannot `doing` `path`: reason"."""
    try:
        yield
    except OSError as error:
        reason = _REASONS.get(error.errno or 0, (error.strerror or str(error)).lower())
        raise InputError(f"cannot {doing} {path}: {reason}") from error


def write_whole(path: Path, content: bytes) -> None:
    """Write `content` to `path` so that a crash leaves the old file or the new one, never a part.

    Raises
    ------
    InputError
        If the file cannot be written; the old one is then untouched.
    """
    with file_errors("write", path):
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            os.chmod(temporary, 0o644)  # mkstemp makes files that only their owner may read
            os.replace(temporary, path)
        except BaseException:
            with contextlib.suppress(OSError):
                os.unlink(temporary)
            raise
