"""A server of the web app in a process of its own."""

from __future__ import annotations

import contextlib
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

#: What a page of the app is once it is connected and can be used.
READY = "body:not([inert])"

#: What is waited for comes, if at all, within this, on a machine that is busy with other tests.
PATIENT_MS = 60_000

#: A whole survey, tuning or proof, on such a machine.
LONG_MS = 240_000


def until(page, look, wanted=True):
    """Wait until `look()` is what is wanted, or true, of what cannot be waited for on the page."""
    for _ in range(PATIENT_MS // 50):
        found = look()
        if found == wanted or (wanted is True and found):
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"after {PATIENT_MS / 1000:.0f} s it is {look()!r}, not {wanted!r}")


@dataclass(frozen=True)
class Served:
    """A running server: its address without a path, the folder of its jobs, and what it printed.

    What it printed after its address is there once it has ended.
    """

    address: str
    jobs: Path
    printed: list[str] = field(default_factory=list)


@contextlib.contextmanager
def serving(
    *arguments: str, jobs: Path, settings: Mapping[str, str] | None = None
) -> Iterator[Served]:
    """Serve a folder of jobs in a process of its own until left, with more in its environment."""
    program = "from roomwright.cli import main; main()"
    command = [sys.executable, "-c", program, "open", str(jobs), "--no-browser"]
    # The toolkit leaves things out where it sees that it is tested: here it is not to.
    untested = {name: value for name, value in os.environ.items() if not name.startswith("PYTEST_")}
    with subprocess.Popen(
        [*command, *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={**untested, **(settings or {})},
    ) as process:
        try:
            line = process.stdout.readline()
            found = re.match(r"Roomwright is at (http://[^/]+)/", line)
            assert found, line + process.stdout.read()
            served = Served(found[1], jobs)
            yield served
        finally:
            process.send_signal(signal.SIGTERM)
            try:
                rest, _ = process.communicate(timeout=60)
            except subprocess.TimeoutExpired:
                process.kill()
                rest, _ = process.communicate()
        served.printed.append(rest)
