"""What the web tests share: a server with small jobs, and a real browser."""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from web_server import PATIENT_MS, READY, Served, serving

from roomwright import commissioning
from roomwright.model import Job, Sweep
from roomwright.store import create_job, load_job

#: Without a sandbox (the tests may run as root), and with nothing that asks the network.
FLAGS = (
    "--no-sandbox",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--use-gl=swiftshader",
    "--enable-unsafe-swiftshader",
)


@dataclass(frozen=True)
class ServedJob:
    """One job on a running server: the address of its page, and its folder."""

    address: str
    folder: Path

    @property
    def job(self) -> Job:
        """The job as it stands on disk."""
        return load_job((self.folder / "job.json").read_text("utf-8"), "job.json")


def make_job(folder: Path, job: Job) -> Path:
    """Put a job into a folder."""
    with create_job(folder, job):
        return folder


@pytest.fixture
def jobs(tmp_path, small_job) -> Path:
    """A folder of jobs with one small job in it, called `small`."""
    folder = tmp_path / "jobs"
    make_job(folder / "small", small_job)
    return folder


@pytest.fixture
def serve_jobs(jobs):
    """Starts a server on the folder of jobs, with options; it ends with the test."""
    with contextlib.ExitStack() as servers:
        yield lambda *options: servers.enter_context(serving(*options, jobs=jobs))


@pytest.fixture(scope="session")
def served(tmp_path_factory) -> Iterator[Served]:
    """A server shared by the tests, each with jobs of its own in its folder."""
    with serving(jobs=tmp_path_factory.mktemp("jobs")) as server:
        yield server


@pytest.fixture
def put_job(served):
    """Puts a job on the shared server."""

    def put(job: Job) -> ServedJob:
        name = f"job-{len(list(served.jobs.iterdir()))}"
        return ServedJob(f"{served.address}/job/{name}", make_job(served.jobs / name, job))

    return put


@pytest.fixture
def served_job(put_job, small_job) -> ServedJob:
    """A small job of the test's own on the shared server."""
    return put_job(small_job)


@pytest.fixture(scope="session")
def finished(tmp_path_factory) -> Path:
    """The folder of a small job that is measured, tuned, proved and handed over."""
    job = commissioning.new_job(
        "Finished room",
        layout="M+030,M-030,M+000,LFE1",
        room=commissioning.box_room((4.4, 5.6, 2.6)),
        rows=1,
        seats_per_row=1,
        sweep=Sweep(duration_s=0.5),
    )
    folder = tmp_path_factory.mktemp("finished") / "job"
    with create_job(folder, job.model_copy(update={"stations": job.stations[:2]})) as made:
        commissioning.rehearse(made)
        commissioning.tune(made)
        commissioning.prove(made)
        commissioning.hand_over(made)
    return folder


@pytest.fixture
def finished_job(finished, served) -> ServedJob:
    """A copy of the finished job on the shared server."""
    folder = served.jobs / f"finished-{len(list(served.jobs.iterdir()))}"
    shutil.copytree(finished, folder)
    return ServedJob(f"{served.address}/job/{folder.name}", folder)


@pytest.fixture(scope="module")
def chromium():
    """A real browser; skips where there is none.

    It ends with the module: while it runs, no test can have an event loop of its own.
    """
    sync_api = pytest.importorskip("playwright.sync_api")
    path = os.environ.get("ROOMWRIGHT_CHROMIUM") or shutil.which("chromium")
    if path is None:
        pytest.skip("there is no chromium; ROOMWRIGHT_CHROMIUM can name one")
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=list(FLAGS))
        yield browser
        browser.close()


@pytest.fixture
def window(chromium):
    """Opens browser windows, each with its own cookies; closed after the test."""
    contexts = []

    def open_window(address: str, colour_scheme: str = "dark"):
        context = chromium.new_context(
            viewport={"width": 1280, "height": 720}, color_scheme=colour_scheme
        )
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(PATIENT_MS)
        page.goto(address)
        page.wait_for_selector(READY)
        return page

    yield open_window
    for context in contexts:
        context.close()
