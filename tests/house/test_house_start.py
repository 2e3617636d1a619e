"""start.py: what it may use, and that it makes, keeps and heals the environment."""

from __future__ import annotations

import ast
import importlib.util
import os
import runpy
import sys
from pathlib import Path

import pytest

START = Path(__file__).parents[2] / "start.py"


@pytest.fixture
def start(tmp_path, monkeypatch):
    """Load start.py as if it stood in an empty folder; what it would run is kept in `ran`."""
    specification = importlib.util.spec_from_file_location("house_start", START)
    module = importlib.util.module_from_spec(specification)
    specification.loader.exec_module(module)
    module.ROOT = tmp_path
    module.ENVIRONMENT = tmp_path / ".venv"
    module.BIN = module.ENVIRONMENT / "bin"
    module.PYTHON = module.BIN / "python"
    module.STAMP = module.ENVIRONMENT / "stamp.txt"
    module.ran = []
    module.made = 0
    module.refuse = ()

    def run(program, *arguments):
        line = " ".join(map(str, (Path(program).stem, *arguments)))
        module.ran.append(line)
        return int(any(word in line for word in module.refuse))

    def make_environment():
        module.made += 1
        module.BIN.mkdir(parents=True, exist_ok=True)
        module.PYTHON.touch()

    module.really_make_environment = module.make_environment
    monkeypatch.setattr(module, "run", run)
    monkeypatch.setattr(module, "make_environment", make_environment)
    for name in ("constraints.txt", "pyproject.toml"):
        (tmp_path / name).write_text(name)
    return module


def finish_demo(start):
    report = start.ROOT / "demo-job" / "outputs" / "report.pdf"
    report.parent.mkdir(parents=True)
    report.touch()
    (start.ROOT / "demo-job" / "job.json").touch()
    return report


def test_is_short_and_uses_only_the_standard_library():
    text = START.read_text(encoding="utf-8")
    assert len(text.splitlines()) < 150
    nodes = list(ast.walk(ast.parse(text)))
    imported = {
        alias.name for node in nodes if isinstance(node, ast.Import) for alias in node.names
    }
    imported |= {node.module for node in nodes if isinstance(node, ast.ImportFrom)}
    assert imported
    assert {name.partition(".")[0] for name in imported} <= sys.stdlib_module_names


def test_an_older_python_gets_one_sentence(monkeypatch, capsys):
    monkeypatch.setattr(sys, "version_info", (3, 9, 2, "final", 0))
    with pytest.raises(SystemExit) as stopped:
        runpy.run_path(str(START), run_name="__main__")
    assert stopped.value.code == 2
    assert capsys.readouterr().err == "Roomwright needs Python 3.11 or newer; this is 3.9.\n"


def test_can_be_read_by_an_older_python():
    ast.parse(START.read_text(encoding="utf-8"), feature_version=(3, 7))


def test_a_second_run_installs_nothing(start):
    start.prepare("test")
    assert start.ran
    start.ran.clear()
    start.prepare("test")
    start.prepare("demo")
    assert (start.ran, start.made) == ([], 1)


def test_the_tests_add_to_the_environment_of_the_demo(start):
    start.prepare("demo")
    assert not any("[test]" in line for line in start.ran)
    start.prepare("test")
    assert any("--editable .[test]" in line for line in start.ran)
    assert any("--no-deps acoustic-toolbox" in line for line in start.ran)
    assert start.made == 1


@pytest.mark.parametrize("name", ["constraints.txt", "pyproject.toml"])
def test_a_changed_source_makes_the_environment_anew(start, name):
    start.prepare("demo")
    (start.ROOT / name).write_text("changed")
    start.prepare("demo")
    assert start.made == 2


@pytest.mark.parametrize("wanted", ["demo", "test"])
def test_an_interrupted_installation_heals(start, wanted):
    start.prepare("demo")
    (start.ROOT / "constraints.txt").write_text("changed")
    start.refuse = ("--editable",)
    with pytest.raises(start.SetupError, match="start again"):
        start.prepare(wanted)
    start.refuse = ()
    start.prepare(wanted)
    assert start.made == 3
    start.prepare(wanted)
    assert start.made == 3


def test_an_environment_that_lost_its_python_is_made_anew(start):
    start.prepare("demo")
    start.PYTHON.unlink()
    start.prepare("demo")
    assert start.made == 2


@pytest.mark.skipif(os.name == "nt", reason="there is no apt-get on Windows")
def test_a_missing_system_library_is_installed_or_its_line_is_printed(start, monkeypatch):
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr(start.shutil, "which", lambda name: f"/usr/bin/{name}")
    monkeypatch.setattr(start, "find_library", lambda name: f"lib{name}.so.2")
    start.refuse = ("import soundfile",)
    monkeypatch.setattr(start.os, "geteuid", lambda: 0)
    start.prepare("demo")
    assert start.ran[-2:] == ["apt-get update -qq", "apt-get install -y -qq libsndfile1"]
    start.STAMP.unlink()
    monkeypatch.setattr(start.os, "geteuid", lambda: 1000)
    with pytest.raises(start.SetupError, match=r"\nsudo apt-get install libsndfile1$"):
        start.prepare("demo")


@pytest.mark.skipif(os.name == "nt", reason="there is no apt-get on Windows")
def test_the_library_of_audio_interfaces_is_installed_only_where_that_needs_nobody(
    start, monkeypatch
):
    """Everything else works without it, and the program says its line when it is needed."""
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr(start.shutil, "which", lambda name: f"/usr/bin/{name}")
    monkeypatch.setattr(start, "find_library", lambda name: None)
    monkeypatch.setattr(start.os, "geteuid", lambda: 1000)
    start.prepare("demo")
    assert not any("apt-get" in line for line in start.ran)
    start.STAMP.unlink()
    monkeypatch.setattr(start.os, "geteuid", lambda: 0)
    start.prepare("demo")
    assert start.ran[-1] == "apt-get install -y -qq libportaudio2"


@pytest.mark.skipif(os.name == "nt", reason="there is no apt-get on Windows")
def test_a_python_without_environments_gets_the_line_to_run(start, monkeypatch):
    monkeypatch.setattr(start.importlib.util, "find_spec", lambda name: None)
    monkeypatch.setattr(start.os, "geteuid", lambda: 1000)
    monkeypatch.setattr(start.shutil, "which", lambda name: f"/usr/bin/{name}")
    package = "python{}.{}-venv".format(*sys.version_info)
    with pytest.raises(start.SetupError, match=f"\nsudo apt-get install {package}$"):
        start.really_make_environment()
    monkeypatch.setattr(start.shutil, "which", lambda name: None)
    with pytest.raises(start.SetupError, match=f"install {package}, or what it is called here"):
        start.really_make_environment()


def test_the_demo_is_run_once(start, capsys):
    assert start.demo(["demo", "--no-browser"]) == 0
    assert start.ran[-1] == f"roomwright demo {start.ROOT / 'demo-job'}"
    report = finish_demo(start)
    start.ran.clear()
    assert start.demo(["--no-browser"]) == 0
    assert start.ran == []
    assert str(report) in capsys.readouterr().out


def test_ends_by_opening_the_demo_beside_a_folder_for_new_jobs(start):
    finish_demo(start)
    assert start.demo([]) == 0
    assert start.ran[-1] == f"roomwright open {start.ROOT / 'demo-job'} {start.ROOT / 'jobs'}"
    assert (start.ROOT / "jobs").is_dir()


def test_a_failed_demo_is_not_opened(start):
    start.refuse = ("roomwright demo",)
    assert start.demo([]) != 0
    assert not any("roomwright open" in line for line in start.ran)


def test_an_interrupted_demo_is_done_again(start):
    finish_demo(start).unlink()
    start.demo(["--no-browser"])
    assert not (start.ROOT / "demo-job").exists()
    assert start.ran[-1].startswith("roomwright demo")


def test_a_job_elsewhere_is_left_alone(start, tmp_path):
    job = tmp_path / "clients" / "job.json"
    job.parent.mkdir()
    job.touch()
    start.demo(["demo", str(job.parent), "--no-browser"])
    assert job.exists()


def test_fresh_removes_a_job_and_nothing_else(start):
    finish_demo(start)
    start.demo(["--fresh", "--no-browser"])
    assert not (start.ROOT / "demo-job").exists()
    assert start.ran[-1].startswith("roomwright demo")
    other = start.ROOT / "photographs"
    other.mkdir()
    start.demo(["demo", str(other), "--fresh", "--no-browser"])
    assert other.exists()


def test_a_failed_check_fails_the_tests_though_pytest_passes(start, capsys):
    assert start.test(["-k", "house"]) == 0
    assert [line.split()[0] for line in start.ran[-5:-1]] == [
        "ruff",
        "ruff",
        "mypy",
        "lint-imports",
    ]
    assert start.ran[-1].startswith("python -m pytest -n ")
    assert start.ran[-1].endswith(" -k house")
    start.refuse = ("mypy",)
    assert start.test([]) != 0
    assert "failed before it: mypy" in capsys.readouterr().out
    start.refuse = ("pytest",)
    assert start.test([]) != 0
