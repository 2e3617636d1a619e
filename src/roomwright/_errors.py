"""The exceptions this program raises on purpose.

::

    RoomwrightError
    ├── InputError        something the user gave cannot be used
    │   └── JobError      a job's document or folder cannot be used
    ├── DeviceError       an audio device refused or failed
    └── Cancelled         the user stopped a long operation

Each message is one sentence that says what, where and what is allowed; the faces
print it as it stands. Doubtful *data* are not exceptions: they come back as findings.
"""

from __future__ import annotations

from collections.abc import Sequence


class RoomwrightError(Exception):
    """Root of every error raised on purpose."""


class InputError(RoomwrightError):
    """Something the user gave cannot be used; nothing was changed."""


class JobError(InputError):
    """A job's document or folder cannot be used.

    Parameters
    ----------
    message
        One sentence.
    problems
        Every single problem found, one sentence each, when there are several.
    """

    def __init__(self, message: str, problems: Sequence[str] = ()) -> None:
        super().__init__(message)
        self.problems = tuple(problems)


class DeviceError(RoomwrightError):
    """An audio device refused or failed."""


class Cancelled(RoomwrightError):
    """The user stopped a long operation; what was captured before stays."""
