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


def read_text(path: Path) -> str:
    """The text of a UTF-8 file.

    Raises
    ------
    InputError
        If it cannot be read or is not UTF-8.
    """
    with file_errors("read", path):
        content = path.read_bytes()
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"{path} is not UTF-8 text (byte {error.start})") from error


def write_whole(path: Path, content: bytes) -> None:
    """Write `content` to `path` so that a crash leaves the old file or the new one, never a part.

    Raises
    ------
    InputError
        If the file cannot be written; the old one is then untouched.
    """
    with file_errors("write", path):
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        temporary = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            temporary.chmod(0o644)  # mkstemp makes files that only their owner may read
            temporary.replace(path)
        except BaseException:
            with contextlib.suppress(OSError):
                temporary.unlink()
            raise
