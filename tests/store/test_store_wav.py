"""WAV files in and out, and the sentences for what is no WAV file."""

from __future__ import annotations

import io

import numpy as np
import pytest
import soundfile

from roomwright._errors import InputError
from roomwright.store import decode_wav, encode_wav, read_wav


def test_float_samples_are_bit_exact():
    samples = np.random.default_rng(1).standard_normal((3, 100)).astype(np.float32)
    back, rate = decode_wav(encode_wav(samples, 96000), "x.wav")
    assert rate == 96000
    np.testing.assert_array_equal(back, samples)


def test_16_and_24_bit_files_are_scaled_to_full_scale():
    ramp = np.linspace(-1, 1 - 2**-15, 64)
    for subtype in ("PCM_16", "PCM_24"):
        buffer = io.BytesIO()
        soundfile.write(buffer, ramp, 44100, format="WAV", subtype=subtype)
        samples, _ = decode_wav(buffer.getvalue(), "x.wav")
        np.testing.assert_allclose(samples[0], ramp, atol=2**-15)  # one step of 16 bits


def test_a_file_that_is_no_wav_is_one_sentence(tmp_path):
    path = tmp_path / "a.wav"
    cases = {
        b"": "is empty \\(0 bytes\\)",
        b"ID3 something else": "is not a WAV file",
        b"RIFF\x10\0\0\0WAVEjunk": "cannot be read as a WAV file",
        encode_wav(np.zeros((1, 0), np.float32), 48000): "holds no samples",
    }
    for content, says in cases.items():
        path.write_bytes(content)
        with pytest.raises(InputError, match=says):
            read_wav(path)
    with pytest.raises(InputError, match="it does not exist"):
        read_wav(tmp_path / "none.wav")
    with pytest.raises(InputError, match="cannot read"):
        read_wav(tmp_path)
