"""WAV files: reading any, writing 32-bit float."""

from __future__ import annotations

import io
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.store._files import file_errors

#: What fits the 32-bit sizes of a plain WAV file, with room for its head.
_LARGEST_WAV_BYTES = 2**32 - 4096

_MAGIC = (b"RIFF", b"RF64", b"RIFX")


@dataclass(frozen=True, slots=True)
class WavFacts:
    """Channels, samples in each, and sampling rate in hertz."""

    channels: int
    samples: int
    sampling_rate_hz: int


def read_wav(path: Path) -> tuple[NDArray[np.float32], int]:
    """Read a WAV file.

    Returns
    -------
    tuple
        Samples (channels, n) as float32, full scale 1, and the sampling rate in hertz.

    Raises
    ------
    InputError
        If the file is missing, empty, not a WAV, or holds no samples.
    """
    with file_errors("read", path):
        if path.stat().st_size == 0:
            raise InputError(f"{path} is empty (0 bytes); a WAV file is needed")
        content = path.read_bytes()
    return decode_wav(content, str(path))


def wav_facts(path: Path) -> WavFacts:
    """What the head of a WAV file says, without reading its samples.

    Raises
    ------
    InputError
        If the file is missing or is not a WAV file.
    """
    with file_errors("read", path), path.open("rb") as file:
        if file.read(4) not in _MAGIC:
            raise InputError(f"{path} is not a WAV file")
    try:
        info = soundfile.info(str(path))
    except soundfile.LibsndfileError as error:
        raise InputError(f"{path} cannot be read as a WAV file: {error.error_string}") from error
    return WavFacts(int(info.channels), int(info.frames), int(info.samplerate))


def decode_wav(content: bytes, name: str) -> tuple[NDArray[np.float32], int]:
    """Decode the bytes of a WAV file as `read_wav` does; `name` is used in the error's sentence.

    Raises
    ------
    InputError
        If the bytes are not those of a WAV file, or it holds no samples.
    """
    if content[:4] not in _MAGIC:
        raise InputError(f"{name} is not a WAV file")
    try:
        samples, rate = soundfile.read(io.BytesIO(content), dtype="float32", always_2d=True)
    except soundfile.LibsndfileError as error:
        raise InputError(f"{name} cannot be read as a WAV file: {error.error_string}") from error
    if samples.shape[0] == 0:
        raise InputError(f"{name} holds no samples")
    return np.ascontiguousarray(samples.T), int(rate)


def write_wav(
    path: Path,
    blocks: Iterable[NDArray[np.float32]],
    channels: int,
    samples: int,
    sampling_rate_hz: int,
) -> None:
    """Write a WAV file of 24 bits block by block, whole or not at all.

    Parameters
    ----------
    path
        Where to.
    blocks
        Each (channels, n), full scale 1.
    channels, samples
        Of the whole; above 4 GB the file is an RF64 one.
    sampling_rate_hz
        Hertz.

    Raises
    ------
    InputError
        If the disk refuses.
    """
    large = channels * samples * 3 > _LARGEST_WAV_BYTES
    form = "RF64" if large else "WAVEX" if channels > 2 else "WAV"
    temporary = path.with_name(f".{path.name}")
    try:
        with (
            file_errors("write", path),
            soundfile.SoundFile(
                str(temporary), "w", sampling_rate_hz, channels, "PCM_24", format=form
            ) as file,
        ):
            for block in blocks:
                file.write(block.T)
        with file_errors("write", path):
            temporary.replace(path)
    except soundfile.LibsndfileError as error:
        raise InputError(f"cannot write {path}: {error.error_string}") from error
    finally:
        temporary.unlink(missing_ok=True)


def encode_wav(samples: NDArray[np.float32], sampling_rate_hz: int) -> bytes:
    """Encode samples, (n,) or (channels, n), as a 32-bit float WAV file.

    Equal samples give equal bytes: libsndfile would stamp the time into its peak chunk.
    """
    from scipy.io import wavfile  # noqa: PLC0415 - reading a job should not wait for it

    buffer = io.BytesIO()
    wavfile.write(buffer, sampling_rate_hz, np.ascontiguousarray(samples.T, dtype=np.float32))
    return buffer.getvalue()
