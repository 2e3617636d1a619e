"""The job's document as JSON text: reading every version, writing the newest."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from roomwright._errors import JobError
from roomwright.model import SCHEMA_VERSION, Job, problems

#: From each older version to the next; every version ever shipped has its entry.
MIGRATIONS: Mapping[int, Callable[[dict[str, Any]], dict[str, Any]]] = {}


def dump_job(job: Job) -> str:
    """The job as indented JSON, one field a line, in the order of the stages."""
    return job.model_dump_json(indent=1) + "\n"


def load_job(text: str, name: str) -> Job:
    """Read a job from JSON text; `name` is used in the errors' sentences.

    Raises
    ------
    JobError
        If the text is not JSON, is of a newer version, or breaks the model; `problems` then
        lists everything that is wrong.
    """
    try:
        raw = json.loads(text)
    except json.JSONDecodeError as error:
        raise JobError(
            f"{name} is not readable JSON: {error.msg} at line {error.lineno}"
        ) from error
    version = raw.get("schema_version") if isinstance(raw, dict) else None
    if not isinstance(version, int):
        raise JobError(f"{name} is not a job: it states no schema_version")
    if version > SCHEMA_VERSION:
        raise JobError(
            f"{name} was written by a newer version of the program (schema {version}; this "
            f"program reads up to {SCHEMA_VERSION})"
        )
    while version < SCHEMA_VERSION:
        if version not in MIGRATIONS:
            raise JobError(f"{name} has schema {version}, which was never in use")
        raw = MIGRATIONS[version](raw)
        version += 1
        raw["schema_version"] = version
    try:
        job = Job.model_validate(raw)
    except ValidationError as error:
        found = [_sentence(raw, detail) for detail in error.errors()]
        raise _job_error(name, found) from error
    check(job, name)
    return job


def check(job: Job, name: str) -> None:
    """Raise one error that lists everything wrong with a job, if anything is.

    Raises
    ------
    JobError
        If `roomwright.model.problems` finds any problem.
    """
    found = problems(job)
    if found:
        raise _job_error(name, found)


def _job_error(name: str, found: Sequence[str]) -> JobError:
    more = f" (and {len(found) - 1} more)" if len(found) > 1 else ""
    return JobError(f"{name}: {found[0]}{more}", found)


def _sentence(raw: object, detail: ErrorDetails) -> str:
    """One validation error as "where: what"; list elements go by their id where they have one."""
    where: list[str] = []
    node: Any = raw
    for step in detail["loc"]:
        try:
            node = node[step]
        except (KeyError, IndexError, TypeError):
            node = None
        if isinstance(step, int):
            named = node if isinstance(node, dict) else {}
            label = next((named[key] for key in ("id", "name", "number") if key in named), None)
            where.append(f"number {step + 1}" if label is None else str(label))
        else:
            where.append(str(step))
    what = detail["msg"].removeprefix("Value error, ")
    value = detail.get("input")
    got = f", not {value!r}" if isinstance(value, int | float | str) else ""
    return f"{' '.join(where) or 'document'}: {what[0].lower()}{what[1:]}{got}"
