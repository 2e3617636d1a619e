"""Uploads are bounded, keep inside their folder, and leave nothing behind."""

from __future__ import annotations

import asyncio
import gc
import os
import time

import pytest

from roomwright._errors import InputError
from roomwright.web.uploads import Limits, Uploads, safe_name


async def chunks(*pieces):
    for piece in pieces:
        yield piece


def receive(uploads, name, *pieces):
    asyncio.run(uploads.receive(name, chunks(*pieces)))


@pytest.fixture
def uploads(tmp_path):
    batch = Uploads(tmp_path, Limits(files=3, bytes_per_file=2**20, bytes_in_all=2**20 + 100))
    yield batch
    batch.close()


def test_files_are_kept_with_their_folders(uploads):
    receive(uploads, "M+030.wav", b"RI", b"FF")
    receive(uploads, "left/M-030.wav", b"RIFF")
    assert uploads.files == ("M+030.wav", "left/M-030.wav")
    assert (uploads.folder / "left" / "M-030.wav").read_bytes() == b"RIFF"


@pytest.mark.parametrize(
    "name",
    [
        "../out.wav",
        "a/../../out.wav",
        "/etc/out.wav",
        "a//out.wav",
        "./out.wav",
        ".hidden.wav",
        "C:\\out.wav",
        "..\\out.wav",
        "a\x00.wav",
        "a\n.wav",
        "",
        "x" * 200 + ".wav",
        "a/b/c/d/e.wav",
        "nul|.wav",
    ],
)
def test_names_that_lead_elsewhere_are_refused(uploads, tmp_path, name):
    with pytest.raises(InputError, match="not a usable file name"):
        receive(uploads, name, b"RIFF")
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []


@pytest.mark.parametrize("name", ["run.py", "page.html", "job.json", "M+030.wav.exe", "README"])
def test_other_kinds_of_file_are_left_aside(name):
    with pytest.raises(InputError, match="left aside"):
        safe_name(name)


def test_too_large_a_file_is_refused_while_it_comes_and_not_kept(uploads):
    sent = 0

    async def endless():
        nonlocal sent
        while True:
            sent += 1
            yield bytes(2**19)

    with pytest.raises(InputError, match="up to 1 MB are taken"):
        asyncio.run(uploads.receive("big.wav", endless()))
    assert sent == 3
    assert uploads.files == ()
    assert list(uploads.folder.iterdir()) == []


def test_the_sum_of_sizes_is_bounded(uploads):
    receive(uploads, "a.wav", bytes(2**20))
    with pytest.raises(InputError, match="in all"):
        receive(uploads, "b.wav", bytes(101))
    receive(uploads, "b.wav", bytes(100))


def test_the_number_of_files_is_bounded(uploads):
    for name in ("a.wav", "b.wav", "c.wav"):
        receive(uploads, name, b"x")
    with pytest.raises(InputError, match="one too many"):
        receive(uploads, "d.wav", b"x")
    receive(uploads, "a.wav", b"again")


def test_the_folder_goes_with_the_batch(tmp_path):
    batch = Uploads(tmp_path)
    receive(batch, "a.wav", b"x")
    del batch
    gc.collect()
    assert list(tmp_path.iterdir()) == []


def test_a_batch_that_was_given_up_takes_nothing_more(uploads):
    uploads.close()
    with pytest.raises(InputError, match="came too late"):
        receive(uploads, "a.wav", b"x")


def test_what_a_killed_program_left_is_cleared_after_a_day(tmp_path):
    old, new = tmp_path / ".upload-old", tmp_path / ".upload-new"
    old.mkdir()
    new.mkdir()
    before = time.time() - 2 * 24 * 3600
    os.utime(old, (before, before))
    batch = Uploads(tmp_path)
    assert not old.exists()
    assert new.exists()
    batch.close()
