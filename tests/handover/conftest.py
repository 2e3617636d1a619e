"""One job and one content for every test of the handover."""

from __future__ import annotations

import pytest
from handover_samples import content_of, takes_of, tuned_job


@pytest.fixture(scope="session")
def job():
    return tuned_job()


@pytest.fixture(scope="session")
def content(job):
    return content_of(job.model_copy(update={"takes": takes_of(job)}))
