"""A small job that runs through all stages in a few seconds."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from roomwright import commissioning
from roomwright.model import Sweep


@pytest.fixture(scope="session")
def quick_job():
    """A 5.1.2 with two seats, one second of sweep and two stations more."""
    job = commissioning.new_job(
        "Quick room",
        layout="5.1.2",
        room=commissioning.box_room((4.4, 5.6, 2.6)),
        rows=1,
        seats_per_row=2,
        sweep=Sweep(duration_s=1.0),
    )
    return job.model_copy(update={"stations": job.stations[:3]})


@pytest.fixture
def write_index(tmp_path):
    """Write an index of rows and return its path."""

    def write(rows, columns=("file", "wav_channel", "channel", "station", "kind")) -> Path:
        path = tmp_path / "index.csv"
        with path.open("w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            writer.writerow(columns)
            writer.writerows(rows)
        return path

    return write
