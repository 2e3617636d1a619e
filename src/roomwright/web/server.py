"""The server: its pages, where it listens, what it lets through."""

from __future__ import annotations

import asyncio
import contextlib
import importlib
import secrets
import socket
import sys
import webbrowser
from collections.abc import Sequence
from pathlib import Path
from typing import Final
from urllib.parse import quote

import uvicorn
from fastapi import FastAPI, Request
from fastapi.responses import FileResponse, PlainTextResponse, Response
from nicegui import app as toolkit
from nicegui import ui

from roomwright._errors import InputError
from roomwright.web.jobs import Jobs
from roomwright.web.security import Guard, is_loopback

#: A window that lost its connection finds everything as it was for so long.
_RECONNECT_S = 20.0

#: A thread that waits for the interpreter gets it after so long. What is computed while something
#: is dragged pauses for a moment between its steps, and would wait Python's 5 ms at each.
SWITCH_INTERVAL_S: Final = 0.0005

#: Libraries that take longer to load than any page: loaded so long after the first window came.
_SETTLED_S: Final = 3.0
_COMPUTING: Final = ("scipy.signal", "scipy.optimize", "scipy.ndimage")

#: The first page may wait this long for what computes.
_LOADED_S = 60.0


def serve(
    paths: Sequence[Path],
    *,
    host: str = "127.0.0.1",
    port: int = 0,
    token: str | None = None,
    open_browser: bool = True,
) -> None:
    """Serve jobs to browsers until interrupted; prints the address first.

    Parameters
    ----------
    paths
        Job folders, and folders of jobs.
    host
        The address to listen on. Where other computers reach it, a token is asked for.
    port
        0 takes a free one.
    token
        What a browser must show; made up where it is needed and None.
    open_browser
        Whether to open the address in a browser.

    Raises
    ------
    InputError
        If a path is not a folder, the token is short, or the address cannot be listened on.
    """
    if token is None and not is_loopback(host):
        token = secrets.token_urlsafe(24)
    jobs = Jobs(paths)
    app = build(jobs)
    guard = Guard(app, host=host, token=token)
    listening = _listen(host, port)
    address = _address(host, listening.getsockname()[1], jobs, token)

    def opened() -> None:
        print(f"Roomwright is at {address} (Ctrl+C stops it)", flush=True)  # noqa: T201
        if open_browser:
            webbrowser.open(address)

    toolkit.on_startup(opened)
    sys.setswitchinterval(SWITCH_INTERVAL_S)
    configuration = uvicorn.Config(
        guard, log_level="warning", access_log=False, timeout_graceful_shutdown=2, lifespan="on"
    )
    server = _Server(configuration, guard)
    with contextlib.suppress(KeyboardInterrupt):
        server.run(sockets=[listening])


class _Server(uvicorn.Server):
    """A server that, when it ends, lets nobody wait for an answer that will not come."""

    def __init__(self, configuration: uvicorn.Config, guard: Guard) -> None:
        super().__init__(configuration)
        self._guard = guard

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        self._guard.end()
        await super().shutdown(sockets)


def build(jobs: Jobs) -> FastAPI:
    """The application on `jobs`, without the guard in front of it."""
    register(jobs)
    app = FastAPI(openapi_url=None)
    ui.run_with(
        app,
        title="Roomwright",
        dark=None,
        reconnect_timeout=_RECONNECT_S,
        show_welcome_message=False,
    )
    return app


def register(jobs: Jobs) -> None:
    """Give the toolkit the pages on `jobs`."""
    watching: list[asyncio.Task[None]] = []
    loading: list[asyncio.Task[None]] = []
    warming: list[asyncio.Task[None]] = []

    @ui.page("/", response_timeout=_LOADED_S)
    async def home(request: Request) -> None:
        await asyncio.gather(*loading)
        from roomwright.web.home import show_home

        show_home(jobs, request.cookies)

    @ui.page("/job/{name}", response_timeout=_LOADED_S)
    async def job(request: Request, name: str, stage: str = "") -> None:
        await asyncio.gather(*loading)
        from roomwright.web.shell import show_job

        show_job(jobs, name, request.cookies, stage)

    @toolkit.get("/job/{name}/outputs/{file:path}")
    def output(name: str, file: str) -> Response:
        path = jobs.folders().get(name)
        found = None if path is None else output_file(path, file)
        return PlainTextResponse("There is no such file.", 404) if found is None else found

    @toolkit.on_connect
    async def warm() -> None:
        if not warming:
            warming.append(asyncio.create_task(_warm()))

    @toolkit.on_startup
    async def start() -> None:
        loading.append(asyncio.create_task(asyncio.to_thread(_load)))
        watching.append(asyncio.create_task(jobs.watch()))

    @toolkit.on_shutdown
    async def stop() -> None:
        for task in (*watching, *warming):
            task.cancel()
        await jobs.close()


def _load() -> None:
    """Load the screens, while the browser is still starting."""
    stages = importlib.import_module("roomwright.web.stages")
    for name in ("home", "shell", *(f"stages.{stage}" for stage in stages.STAGES)):
        importlib.import_module(f"roomwright.web.{name}")


async def _warm() -> None:
    """Load what only computing needs, so that the first drag does not wait for it."""
    await asyncio.sleep(_SETTLED_S)
    for name in _COMPUTING:
        await asyncio.to_thread(importlib.import_module, name)


def output_file(job: Path, file: str) -> FileResponse | None:
    """A file under a job's `outputs/` as an answer; None for anything else."""
    outputs = (job / "outputs").resolve()
    try:
        path = (outputs / file).resolve()
        if not path.is_relative_to(outputs) or not path.is_file():
            return None
    except (OSError, ValueError):
        return None
    return FileResponse(path, headers={"cache-control": "no-store"})


def _listen(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listening = socket.socket(family)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    # Of two messages sent one after the other, the second would wait 40 ms for the first.
    listening.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    try:
        listening.bind((host, port))
        listening.listen(128)
    except (OSError, OverflowError) as error:
        listening.close()
        reason = error.strerror if isinstance(error, OSError) else "ports end at 65535"
        raise InputError(f"cannot listen on {host} port {port}: {reason}") from error
    return listening


def _address(host: str, port: int, jobs: Jobs, token: str | None) -> str:
    """Where a browser on this computer goes: straight to the job if there is one."""
    name = "127.0.0.1" if host in ("0.0.0.0", "::") else host  # noqa: S104 - it is compared
    name = f"[{name}]" if ":" in name else name
    folders = jobs.folders()
    path = f"job/{quote(next(iter(folders)))}" if len(folders) == 1 else ""
    return f"http://{name}:{port}/{path}" + (f"?token={token}" if token else "")
