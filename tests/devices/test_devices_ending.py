"""How PortAudio is ended with the program."""

from __future__ import annotations

import subprocess
import sys

import pytest

pytestmark = pytest.mark.usefixtures("sound_server")

#: `_terminate` is what frees PortAudio; the stream's driver takes as long as it is told to.
PROGRAM = """
import threading
from roomwright.devices import _portaudio

module = _portaudio.portaudio()
terminate = module._terminate

def told():
    print("ended", len(_portaudio._open_streams))
    terminate()

class Stream:
    active = False
    def abort(self, ignore_errors): {abort}
    def stop(self, ignore_errors=True): print("stopped once more")
    def close(self, ignore_errors): print("closed")

module._terminate = told
module._last_callback = threading.local()
module._last_callback.stream = Stream()
_portaudio._PATIENCE_S = 0.5
_portaudio.portaudio()
_portaudio.opened(module._last_callback.stream)
{before_the_end}
"""


def end(abort="pass", before_the_end=""):
    program = PROGRAM.format(abort=abort, before_the_end=before_the_end)
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, timeout=60, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout.splitlines()


def test_a_stream_that_is_open_is_closed_first():
    assert end() == ["closed", "ended 0"]


def test_a_stream_is_closed_only_once():
    """Once more, and PortAudio would read what it has freed."""
    close = "_portaudio.close(module._last_callback.stream)"
    assert end(before_the_end=close) == ["closed", "ended 0"]


def test_what_was_called_off_stays_so():
    """After a server has died: PortAudio would wait for it for minutes."""
    called_off = "import atexit; atexit.unregister(_portaudio._end); _portaudio.portaudio()"
    assert end(before_the_end=called_off) == []


def test_a_driver_that_does_not_answer_is_left():
    """PortAudio must not be ended while a thread waits inside it."""
    assert end(abort="threading.Event().wait()") == []
