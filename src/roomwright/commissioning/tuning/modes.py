"""Listening modes: changed, and compared with the tuning for reference listening."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from roomwright._errors import InputError
from roomwright.model import Biquad, Finding, Job, ListeningMode, Tuning
from roomwright.tuning import in_mode

#: What the tuning without tone controls is called beside the listening modes.
REFERENCE = "reference"


@dataclass(frozen=True, slots=True)
class Realised:
    """A listening mode as the processor plays it.

    `shelves` come on top in every output, all trims change by `trim_change_db`, and `findings`
    say what could not be reached.
    """

    tuning: Tuning
    shelves: tuple[Biquad, ...]
    trim_change_db: float
    findings: tuple[Finding, ...]


def add_mode(job: Job, name: str, **controls: Any) -> Job:  # noqa: ANN401 - checked by the model
    """A listening mode more.

    Raises
    ------
    InputError
        If there is one of that name, or a control is outside its range.
    """
    name = name.strip()
    if name in {REFERENCE, *(mode.name for mode in job.modes)}:
        raise InputError(f"there is a listening mode {name!r} already; choose another name")
    return job.model_copy(update={"modes": (*job.modes, _mode(name=name, **controls))})


def change_mode(job: Job, name: str, **changes: Any) -> Job:  # noqa: ANN401 - as above
    """A listening mode with some tone controls, or its name, changed.

    Raises
    ------
    InputError
        If there is no such mode, or a value is outside its range.
    """
    old = mode_called(job, name)
    new = _mode(**{**old.model_dump(), **changes})
    if new.name != name and new.name in {REFERENCE, *(mode.name for mode in job.modes)}:
        raise InputError(f"there is a listening mode {new.name!r} already; choose another name")
    modes = tuple(new if mode.name == name else mode for mode in job.modes)
    return job.model_copy(update={"modes": modes})


def remove_mode(job: Job, name: str) -> Job:
    """A listening mode less.

    Raises
    ------
    InputError
        If there is no such mode.
    """
    mode_called(job, name)
    return job.model_copy(update={"modes": tuple(mode for mode in job.modes if mode.name != name)})


def mode_called(job: Job, name: str) -> ListeningMode:
    """The listening mode of a name.

    Raises
    ------
    InputError
        If there is none.
    """
    for mode in job.modes:
        if mode.name == name:
            return mode
    names = ", ".join(mode.name for mode in job.modes) or "none yet"
    raise InputError(f"there is no listening mode {name!r}; there are: {names}")


def realised(job: Job, tuning: Tuning, mode: ListeningMode) -> Realised:
    """A listening mode on a tuning, within what the processor has left."""
    changed, findings = in_mode(job, tuning, mode)
    if not tuning.outputs:
        return Realised(changed, (), 0.0, findings)
    before, after = tuning.outputs[0], changed.outputs[0]
    return Realised(
        changed,
        after.biquads[len(before.biquads) :],
        round(after.trim_db - before.trim_db, 6) + 0.0,
        findings,
    )


def tuning_in(job: Job, tuning: Tuning, name: str) -> Tuning:
    """A tuning in a listening mode, or as it is for `REFERENCE`.

    Raises
    ------
    InputError
        If there is no such mode.
    """
    if name == REFERENCE:
        return tuning
    return in_mode(job, tuning, mode_called(job, name))[0]


def _mode(**values: Any) -> ListeningMode:  # noqa: ANN401 - checked by the model
    try:
        return ListeningMode.model_validate(values)
    except ValidationError as error:
        detail = error.errors()[0]
        field = str(detail["loc"][0]).replace("_", " ")
        what = detail["msg"].removeprefix("Input ").removeprefix("should ")
        raise InputError(f"listening mode, {field}: must {what}, not {detail['input']!r}") from None
