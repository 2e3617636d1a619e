"""A server of the web app in a process of its own."""

from __future__ import annotations

import contextlib
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

#: What a page of the app is once it is connected and can be used.
READY = "body:not([inert])"


@dataclass(frozen=True)
class Served:
    """A running server: its address without a path, and the folder of its jobs."""

    address: str
    jobs: Path


@contextlib.contextmanager
def serving(
    *arguments: str, jobs: Path, settings: Mapping[str, str] | None = None
) -> Iterator[Served]:
    """Serve a folder of jobs in a process of its own until left, with more in its environment."""
    program = "from roomwright.cli import main; main()"
    command = [sys.executable, "-c", program, "open", str(jobs), "--no-browser"]
    with subprocess.Popen(
        [*command, *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={**os.environ, **(settings or {})},
    ) as process:
        try:
            line = process.stdout.readline()
            found = re.match(r"Roomwright is at (http://[^/]+)/", line)
            assert found, line + process.stdout.read()
            yield Served(found[1], jobs)
        finally:
            process.send_signal(signal.SIGTERM)
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                process.kill()
