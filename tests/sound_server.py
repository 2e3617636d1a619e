"""A real sound server without hardware: JACK's dummy driver, with rooms as its clients."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from filelock import FileLock, Timeout

from roomwright.devices import AudioInterface
from roomwright.measurement import Recording
from roomwright.model import Interface

RATE = 48000
#: Long, so that a busy machine keeps up.
PERIOD = 4096
ROOM = Path(__file__).with_name("jack_room.py")
JACK = "JACK Audio Connection Kit"
#: The `wire` of the fixtures, and the same with its last output looped into its second input.
WIRE = Interface(device="wire", host_api=JACK)
LOOPED = WIRE.model_copy(update={"loop_back_input": 2, "loop_back_output": 16})
CEILING = 10 ** (-12 / 20)

#: A machine holds eight servers; some are left to others.
_SLOTS = 6


def noise(seconds=0.3, seed=1, peak=0.2):
    """Noise that begins in silence, so that the ramp changes nothing of it."""
    samples = np.random.default_rng(seed).uniform(-peak, peak, round(seconds * RATE))
    samples[:1000] = 0.0
    return samples.astype(np.float32)


def take(device: AudioInterface, signals: dict[int, np.ndarray]) -> Recording:
    """As a survey does: a take that lost samples, as on a busy machine it may, is repeated."""
    for _ in range(20):
        recording = device.play_and_record(signals)
        if not any(finding.severity == "refusal" for finding in recording.findings):
            return recording
    raise AssertionError(recording.findings)


def lag(heard, signal):
    """Samples by which `signal` comes later."""
    return int(np.argmax(np.correlate(heard, signal[1000:3000], "valid"))) - 1000


def why_not() -> str:
    """Why no server can be started here; empty if it can."""
    if shutil.which("jackd") is None:
        return "jackd is not installed (Debian: apt-get install jackd2)"
    try:
        import jack  # noqa: F401
    except (ImportError, OSError) as error:
        return f"the JACK library cannot be loaded: {error}"
    return ""


def _free_slot() -> FileLock:
    """One of a few names that no other running test has.

    A machine holds eight servers, and those that were killed keep their place until a server of
    the same name is started: with a new name each time there would soon be no place left.
    """
    for number in range(_SLOTS):
        lock = FileLock(Path(tempfile.gettempdir()) / f"rwtest{number}.lock", timeout=0)
        try:
            lock.acquire()
        except Timeout:
            continue
        return lock
    raise RuntimeError(f"{_SLOTS} sound servers are in use by other tests")


class SoundServer:
    """A JACK server of a private name, and the environment that finds it.

    The environment of this process is changed too where it is shared: PortAudio reads it when it
    starts.
    """

    def __init__(self, folder: Path, *, shared: bool = True) -> None:
        self.folder = folder
        self._slot = _free_slot()
        name = Path(self._slot.lock_file).stem
        self.settings = {
            "JACK_DEFAULT_SERVER": name,
            "JACK_NO_AUDIO_RESERVATION": "1",
            "JACK_NO_START_SERVER": "1",
        }
        if shared:
            os.environ.update(self.settings)
        self._name = name
        self._log = (folder / "jackd.txt").open("wb")
        dummy = ["-d", "dummy", "-r", str(RATE), "-p", str(PERIOD), "-C", "2", "-P", "2"]
        self._server = subprocess.Popen(
            ["jackd", "--no-realtime", "--no-mlock", "-n", name, *dummy],  # noqa: S607
            stdout=self._log,
            stderr=subprocess.STDOUT,
        )
        self._rooms: list[Room] = []
        self._wait()

    def _wait(self) -> None:
        import jack

        jack.set_error_function(lambda _message: None)
        for _ in range(1000):
            if self._server.poll() is not None:
                break
            try:
                jack.Client("waiting", no_start_server=True, servername=self._name).close()
            except jack.JackOpenError:
                time.sleep(0.05)
            else:
                return
        raise RuntimeError((self.folder / "jackd.txt").read_text())

    def room(self, name: str, responses: np.ndarray) -> Room:
        """A room of that name; responses are (loudspeakers, microphones, taps).

        With the microphones' places before that, they stand at the first.
        """
        room = Room(name, responses, self.folder, self.settings)
        self._rooms.append(room)
        return room

    def break_down(self) -> None:
        """Be gone with all rooms though clients were killed; for a server that is not shared.

        One that does not end in good order leaves its name taken until it is started again.
        """
        for process in (*(room.process for room in self._rooms), self._server):
            process.terminate()
            try:
                process.wait(2)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait(10)
        for room in self._rooms:
            room.process.stdin.close()
            room.process.stdout.close()
        self._log.close()
        self._slot.release()

    def close(self) -> None:
        # PortAudio leaves this server while it still stands, and finds no other.
        import sounddevice

        sounddevice._terminate()
        for room in self._rooms:
            room.leave()
        self._server.terminate()
        self._server.wait(60)
        self._log.close()
        self._slot.release()
        for name in self.settings:
            os.environ.pop(name, None)
        os.environ["JACK_NO_START_SERVER"] = "1"
        sounddevice._initialize()


class Room:
    """A room in a process of its own, listed by PortAudio as a device of its name."""

    def __init__(
        self, name: str, responses: np.ndarray, folder: Path, settings: dict[str, str]
    ) -> None:
        self.name = name
        file = folder / f"{name}.npy"
        np.save(file, responses)
        # A server that was killed just before under the same name may refuse the first client.
        for _ in range(5):
            self.process = subprocess.Popen(
                [sys.executable, str(ROOM), name, str(responses.shape[-3]), str(file)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                text=True,
                env={**os.environ, **settings},
            )
            if self.process.stdout.readline() == "ready\n":
                return
            self.process.stdin.close()
            self.process.stdout.close()
            self.process.wait(10)
            time.sleep(1.0)
        raise RuntimeError(f"the sound server took no client {name}")

    def stall(self, seconds: float) -> None:
        """Hold the next block up."""
        self._tell(f"stall {seconds}")

    def place(self, number: int) -> None:
        """Move the microphones."""
        self._tell(f"place {number}")

    def noise(self, rms: float) -> None:
        """Add noise to the first microphone."""
        self._tell(f"noise {rms}")

    def hurry(self) -> None:
        """Make the server run as fast as its clients can; no samples are lost then.

        Clients that come later are not heard.
        """
        self._tell("hurry")

    def _tell(self, command: str) -> None:
        self.process.stdin.write(command + "\n")
        self.process.stdin.flush()
        assert self.process.stdout.readline() == "done\n"

    def leave(self) -> None:
        """End in good order."""
        if self.process.poll() is None:
            self.process.communicate(timeout=60)

    def unplug(self) -> None:
        """Be gone at once."""
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait(10)
        self.process.stdin.close()
        self.process.stdout.close()
