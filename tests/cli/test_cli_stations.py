"""The command that plans stations."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from roomwright.cli import main


def run(capsys, *words):
    with pytest.raises(SystemExit) as stopped:
        main([str(word) for word in words])
    captured = capsys.readouterr()
    return stopped.value.code, captured.out, captured.err


@pytest.fixture
def job(tmp_path, capsys):
    path = tmp_path / "cinema"
    run(capsys, "new", path, "--layout", "M+030,M-030", "--rows", 1, "--seats-per-row", 2)
    return path


def test_planning_printing_and_showing(job, capsys):
    code, out, _ = run(capsys, "stations", job, "--task", "bass", "--sheet", "--json")
    assert code == 0
    planned = json.loads(out)
    names = [station["id"] for station in planned["stations"]]
    assert {"S-R1-1", "S-R1-2", "B1", "B2"} <= set(names)
    assert planned["time"]["whole"]["overlapped_s"] > 0
    pdf, svg = planned["files"]
    assert Path(pdf).read_bytes().startswith(b"%PDF")
    assert Path(svg).read_text("utf-8").startswith("<svg")
    code, out, _ = run(capsys, "stations", job, "--units", "ft")
    assert code == 0
    assert "B1" in out
    assert "′" in out
    assert "one after another" in out


def test_stations_that_do_not_fit_are_one_sentence(job, capsys):
    code, _, err = run(capsys, "stations", job, "--task", "bass", "--upper-hz", 5000)
    assert code == 2
    assert err.count("\n") == 1
    assert "allowed are frequencies below" in err
