"""The synthetic cinema and its survey, once for all tests of the tuning."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from synthetic_cinema import make_job, synthetic_survey

from roomwright.measurement import ResponseSet
from roomwright.model import Job


@pytest.fixture(scope="session")
def job() -> Job:
    return make_job()


@pytest.fixture(scope="session")
def survey(job) -> ResponseSet:
    return synthetic_survey(job)


@pytest.fixture(scope="session")
def job_maker() -> Callable[..., Job]:
    return make_job
