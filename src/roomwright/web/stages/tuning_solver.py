"""The solver behind the tuning screen: it follows every change, once for all windows of a job."""

from __future__ import annotations

import weakref
from functools import partial

from roomwright._errors import Cancelled, InputError
from roomwright._progress import Progress
from roomwright.commissioning import edit_tuning
from roomwright.commissioning.tune import can_be_tuned, solved
from roomwright.model import Job, Tuning
from roomwright.web.session import JobSession

_FOLLOWING: weakref.WeakSet[JobSession] = weakref.WeakSet()
_REFUSED: weakref.WeakKeyDictionary[JobSession, tuple[Job, str]] = weakref.WeakKeyDictionary()


async def follow(session: JobSession) -> None:
    """Compute the tuning anew as long as it does not follow the job; one at a time a session.

    What it saves belongs to the change that made it necessary and is undone with it. Other work
    goes before; whoever runs it calls again afterwards.
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
                    session.apply(change, "computing the tuning", joins=True)
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


def wanted(session: JobSession) -> bool:
    """Whether there is something to compute that was not refused already."""
    free = session.writable and not session.trouble and not session.work.holds
    return free and can_be_tuned(session.job) and not refusal(session)


def refusal(session: JobSession) -> str:
    """Why the tuning of the job as it is cannot be computed; empty if it can."""
    job, why = _REFUSED.get(session, (None, ""))
    return why if job == session.job else ""


def forget_refusal(session: JobSession) -> None:
    """Let the solver try again."""
    _REFUSED.pop(session, None)


def _computed(session: JobSession, job: Job, progress: Progress) -> Tuning:
    progress(0.0, "reading the survey")
    survey = session.survey()
    if survey is None:
        raise InputError("nothing is measured yet; rehearse, or import recordings, first")
    return solved(job, survey, progress)
