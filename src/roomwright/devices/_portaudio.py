"""PortAudio as it is reached through python-sounddevice, loaded only when it is needed."""

from __future__ import annotations

import atexit
import contextlib
import ctypes.util
import os
import sys
import threading
from collections.abc import Iterator
from functools import cache
from types import ModuleType
from typing import Any, Protocol

from roomwright._errors import DeviceError


class Stream(Protocol):
    """What is used of `sounddevice.Stream`."""

    @property
    def active(self) -> bool:
        """Whether the callback is called."""
        ...

    def start(self) -> None:
        """Begin to call it."""
        ...

    def abort(self, ignore_errors: bool = True) -> None:  # noqa: FBT001, FBT002 - theirs
        """End at once."""
        ...

    def close(self, ignore_errors: bool = True) -> None:  # noqa: FBT001, FBT002 - theirs
        """Give the device back."""
        ...


#: What PortAudio's error codes mean for who stands before the interface (portaudio.h).
_REASONS = {
    -9998: "it does not have that many channels",
    -9997: "it does not run at that sampling rate",
    -9996: "it is not there any more",
    -9993: "its input and its output cannot be used together",
    -9985: "it is in use by another program, or this one has no permission for it",
}

#: PortAudio's name of a host API, and an option of `jack_client_open` (jack/types.h).
_JACK, _JACK_NO_START_SERVER = "JACK Audio Connection Kit", 0x01

_lock = threading.Lock()

#: How long a driver may take to close a stream.
_PATIENCE_S = 2.0

#: Streams of this process; PortAudio would close them if it were started anew.
_open_streams: list[Stream] = []


def portaudio() -> ModuleType:
    """The module `sounddevice`.

    Raises
    ------
    DeviceError
        If the PortAudio library is missing or cannot start.
    """
    try:
        with _lock, _hushed():
            import sounddevice  # noqa: PLC0415 - it starts every driver of the machine
    except ImportError:
        raise DeviceError(
            "python-sounddevice is missing; install Roomwright again with start.py"
        ) from None
    except OSError:
        raise DeviceError(
            "the PortAudio library is missing; install it (Debian and Ubuntu: "
            "sudo apt-get install libportaudio2) and start again"
        ) from None
    except Exception as error:  # noqa: BLE001 - sounddevice's own, which could not be imported
        raise DeviceError(f"PortAudio cannot start: {_words(error)}") from None
    module: ModuleType = sounddevice
    _end_it_ourselves(module)
    return module


def rescan() -> None:
    """Have PortAudio look again what is plugged in; while a stream is open it does not.

    Raises
    ------
    DeviceError
        If PortAudio cannot start.
    """
    module = portaudio()
    if any(stream.active for stream in _open_streams):
        return
    try:
        with _lock, _hushed():
            if _open_streams or _jack_died(module):
                # PortAudio would wait for it for minutes, or end this program.
                atexit.unregister(_end)
                raise DeviceError(
                    "the sound server died under PortAudio; end Roomwright and start it again"
                )
            # The only way that PortAudio knows; it lists the devices when it starts.
            module._terminate()  # noqa: SLF001
            module._initialize()  # noqa: SLF001
    except module.PortAudioError as error:
        raise DeviceError(f"PortAudio cannot start: {_words(error)}") from None


def opened(stream: Stream) -> None:
    """Note that a stream is open."""
    _open_streams.append(stream)


def close(stream: Stream) -> None:
    """Silence and close a stream; a driver that does not answer within two seconds is left.

    A sound server that died keeps PortAudio waiting for its next block for minutes.
    """
    closing = threading.Thread(target=_close, args=(stream,), daemon=True)
    closing.start()
    closing.join(_PATIENCE_S)
    if not closing.is_alive():
        _open_streams.remove(stream)


@cache
def _end_it_ourselves(module: ModuleType) -> None:
    """Have `_end` end PortAudio with the program; once, so that it can be called off for good."""
    # Drivers' threads may outlive the interpreter: what they run in must not be unloaded with it.
    ctypes.CDLL(module._libname)  # noqa: SLF001
    # Its own way to end stops and closes the last stream once more, which is freed by then.
    atexit.unregister(module._exit_handler)  # noqa: SLF001
    atexit.register(_end, module)


def _end(module: ModuleType) -> None:
    """Close what is open and end PortAudio, unless a driver still keeps it waiting."""
    for stream in tuple(_open_streams):
        close(stream)
    while module._initialized and not _open_streams:  # noqa: SLF001
        module._terminate()  # noqa: SLF001


def _close(stream: Stream) -> None:
    stream.abort(ignore_errors=True)
    stream.close(ignore_errors=True)


@contextlib.contextmanager
def refused(name: str, asked: str) -> Iterator[None]:
    """Turn a PortAudio error into one sentence: `name` refused what was `asked` of it, and why."""
    module = portaudio()
    try:
        with _hushed():
            yield
    except (module.PortAudioError, ValueError) as error:
        code = error.args[1] if len(error.args) > 1 else None
        reason = _REASONS.get(code, _words(error)) if isinstance(code, int) else _words(error)
        raise DeviceError(f"{name} refused {asked}: {reason}") from None


def _jack_died(module: ModuleType) -> bool:
    """Whether PortAudio is a client of a JACK server that does not answer any more."""
    library = ctypes.util.find_library("jack")
    if library is None or all(api["name"] != _JACK for api in module.query_hostapis()):
        return False
    jack = ctypes.CDLL(library)
    jack.jack_client_open.restype = ctypes.c_void_p
    client = jack.jack_client_open(b"roomwright", _JACK_NO_START_SERVER, None)
    if client is None:
        return True
    jack.jack_client_close(ctypes.c_void_p(client))
    return False


def _words(error: Exception) -> str:
    """What PortAudio says, with the words of the driver beneath it if it has any."""
    host: Any = error.args[2] if len(error.args) > 2 else None
    if isinstance(host, tuple) and len(host) == 3 and host[2]:
        return str(host[2])
    return str(error.args[0] if error.args else error)


@contextlib.contextmanager
def _hushed() -> Iterator[None]:
    """Keep what drivers print themselves away from standard error while PortAudio starts."""
    try:
        stderr = sys.__stderr__.fileno() if sys.__stderr__ is not None else -1
        kept = os.dup(stderr)
    except (OSError, ValueError):
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, stderr)
        yield
    finally:
        os.dup2(kept, stderr)
        os.close(kept)
        os.close(nowhere)
