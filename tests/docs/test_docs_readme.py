"""The README: it begins with the job, and what it shows runs."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from roomwright.cli import main

README = (Path(__file__).parents[2] / "README.md").read_text("utf-8")


def blocks(language):
    return re.findall(rf"```{language}\n(.*?)```", README, flags=re.DOTALL)


def test_the_python_example_runs(tmp_path, monkeypatch):
    (example,) = blocks("python")
    monkeypatch.chdir(tmp_path)
    names = {}
    exec(compile(example, "README.md", "exec"), names)  # noqa: S102 - our own README
    assert names["report"].read_bytes().startswith(b"%PDF")
    statements = [line for line in example.splitlines() if line.strip()]
    assert len(statements) <= 10


def test_every_command_shown_exists(capsys):
    shown = {
        line.split()[1]
        for block in blocks("sh")
        for line in block.splitlines()
        if line.startswith("roomwright ")
    }
    assert shown
    for command in shown:
        with pytest.raises(SystemExit) as stopped:
            main([command, "--help"])
        assert stopped.value.code == 0
    capsys.readouterr()


def test_the_cautions_are_there():
    for word in ("Hearing", "Loudspeakers", "Loads overhead", "Mains"):
        assert f"**{word}" in README
    assert "local" in README
