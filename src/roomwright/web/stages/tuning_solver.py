"""The solver behind the tuning screen, once for all windows of a job.

The first tuning is computed as soon as there is a survey. After that looking changes nothing: a
tuning that something else left out of date stays until somebody edits it, or asks for it.
"""

from __future__ import annotations

import contextlib
import weakref
from collections.abc import Iterator
from functools import partial

from roomwright._errors import Cancelled, InputError
from roomwright._progress import Progress, part
from roomwright.commissioning.edits import tuning as edit_tuning
from roomwright.commissioning.tuning.tune import can_be_tuned, solved
from roomwright.model import Job, Tuning
from roomwright.web.session import JobSession
from roomwright.web.stages.tuning_view import plan_for

_ASKED: weakref.WeakSet[JobSession] = weakref.WeakSet()
_PRESSED: weakref.WeakSet[JobSession] = weakref.WeakSet()
_FOLLOWING: weakref.WeakSet[JobSession] = weakref.WeakSet()
_REFUSED: weakref.WeakKeyDictionary[JobSession, tuple[Job, str]] = weakref.WeakKeyDictionary()


async def follow(session: JobSession) -> None:
    """Compute the tuning anew as long as it does not follow the job; one at a time a session.

    What it saves belongs to the edit that it follows and is undone with it; it is a step of its
    own if it was asked for. Other work goes before; whoever runs it calls again afterwards.
    """
    if session in _FOLLOWING:
        return
    _FOLLOWING.add(session)
    try:
        while wanted(session):
            job = session.job
            try:
                tuning = await session.run("Tuning", partial(_computed, session, job), yields=True)
                if session.job == job:
                    change = partial(edit_tuning.with_tuning, tuning=tuning)
                    edited = session not in _PRESSED
                    session.apply(change, "bringing the tuning up to date", joins=edited)
            except Cancelled:
                if session.job == job:
                    _REFUSED[session] = (
                        job,
                        "the solver was stopped; it starts with the next change",
                    )
            except InputError as error:
                if session.job == job:
                    _REFUSED[session] = job, str(error)
    finally:
        _FOLLOWING.discard(session)
        if not can_be_tuned(session.job) or refusal(session):
            _ASKED.discard(session)
            _PRESSED.discard(session)


def wanted(session: JobSession) -> bool:
    """Whether there is something to compute that was asked for and not refused already."""
    asked = session.job.tuning is None or session in _ASKED
    free = session.writable and not session.trouble and not session.work.holds
    return asked and free and can_be_tuned(session.job) and not refusal(session)


def ask(session: JobSession) -> None:
    """Have the solver bring the tuning up to date, what it refused before too."""
    _REFUSED.pop(session, None)
    if session not in _ASKED:
        _PRESSED.add(session)
    _ASKED.add(session)


@contextlib.contextmanager
def followed(session: JobSession) -> Iterator[None]:
    """What is changed within is followed by the solver, unless it is refused."""
    asked = session in _ASKED
    # Before the change: as soon as it is saved, the windows look whether the solver is wanted.
    _ASKED.add(session)
    try:
        yield
    except InputError:
        if not asked:
            _ASKED.discard(session)
        raise
    _PRESSED.discard(session)
    if not can_be_tuned(session.job):
        _ASKED.discard(session)


def waits(session: JobSession) -> bool:
    """Whether the tuning is out of date and nobody asked for another."""
    stale = session.job.tuning is not None and can_be_tuned(session.job)
    return stale and session not in _ASKED


def refusal(session: JobSession) -> str:
    """Why the tuning of the job as it is cannot be computed; empty if it can."""
    job, why = _REFUSED.get(session, (None, ""))
    return why if job == session.job else ""


def _computed(session: JobSession, job: Job, progress: Progress) -> Tuning:
    progress(0.0, "reading the survey")
    survey = session.survey()
    if survey is None:
        raise InputError("nothing is measured yet; rehearse, or import recordings, first")
    plan = plan_for(session, job, survey, part(progress, 0.0, 0.3))
    return solved(job, survey, part(progress, 0.3, 1.0), plan)
