"""The command that sets levels in the rehearsal room."""

from __future__ import annotations

import json

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
    run(
        capsys,
        *("new", path, "--layout", "M+030,M-030", "--size", "4.2x5x2.5"),
        *("--rows", 1, "--seats-per-row", 1),
    )
    return path


def test_levels_are_checked_set_and_returned_to(job, capsys):
    code, out, _ = run(capsys, "levels", job, "--check", "--json")
    assert code == 0
    asked = {row["drives"]: row["asked_db"] for row in json.loads(out)["outputs"]}
    code, out, _ = run(capsys, "levels", job, "--offset", "front:-2", "--json")
    assert code == 0
    for row in json.loads(out)["outputs"]:
        assert row["wanted_db"] == 73.0
        assert row["trim_db"] == pytest.approx(asked[row["drives"]] - 2.0, abs=0.21)
    code, out, _ = run(capsys, "levels", job, "--return")
    assert code == 0
    assert "nothing is to be changed" in out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--offset", "front"), "is not GROUP:DB"),
        (("--offset", "sofa:3"), "there is no group 'sofa'"),
        (("--reference-db", "95"), "above the ceiling of 90 dB SPL"),
        (("--return",), "no reference level is stored"),
    ],
)
def test_what_cannot_be_is_one_sentence(job, capsys, words, says):
    code, _, err = run(capsys, "levels", job, *words)
    assert code == 2
    assert says in err
