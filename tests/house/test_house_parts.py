"""The parts: who may import whom, what each shows, how long a module may be."""

from __future__ import annotations

import importlib
import os
import pkgutil
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path
from types import ModuleType

import pytest

import roomwright

ROOT = Path(__file__).parents[2]
PROJECT = ROOT / "pyproject.toml"
PACKAGES = [
    "roomwright",
    *(m.name for m in pkgutil.walk_packages(roomwright.__path__, "roomwright.") if m.ispkg),
]
PARTS = [
    "web",
    "cli",
    "commissioning",
    "handover",
    "rehearsal",
    "devices",
    "store",
    "tuning",
    "proof",
    "analysis",
]
PARTS += ["acoustics", "measurement", "layout", "signals", "model", "standards"]
PARTS += ["_checks", "_progress", "_errors"]


def contracts_broken(source: Path, folder: Path) -> str:
    """Report of the import contracts over the package in `source`; empty if they are kept."""
    shutil.copy(PROJECT, folder)
    command = (
        "from importlinter.cli import lint_imports; raise SystemExit(lint_imports(no_logo=True))"
    )
    result = subprocess.run(
        [sys.executable, "-c", command],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(source), "PYTHONUTF8": "1"},
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    return (result.stdout + result.stderr) if result.returncode else ""


def test_the_import_contracts_are_kept(tmp_path):
    assert contracts_broken(ROOT / "src", tmp_path) == ""


@pytest.mark.parametrize(
    ("part", "line", "complaint"),
    [
        ("model", "import roomwright.store", "Imports run down the list of parts BROKEN"),
        ("analysis", "import roomwright.measurement", "Imports run down the list of parts BROKEN"),
        ("proof", "import roomwright.tuning", "Nothing is graded by what designed it BROKEN"),
        ("signals", "import soundfile", "What computes knows no face"),
        ("tuning", "import nicegui", "What computes knows no face"),
        ("web", "import roomwright.cli", "Imports run down the list of parts BROKEN"),
        ("cli", "import roomwright.web", "Imports run down the list of parts BROKEN"),
        ("workshop", "", "roomwright.workshop"),
        ("cli", "import roomwright.commissioning", ""),
    ],
)
def test_the_import_contracts_bite(tmp_path, part, line, complaint):
    package = tmp_path / "source" / "roomwright"
    package.mkdir(parents=True)
    (package / "__init__.py").touch()
    for name in PARTS:
        (package / f"{name}.py").touch()
    (package / f"{part}.py").write_text(f"{line}\n")
    report = contracts_broken(package.parent, tmp_path)
    assert complaint in report
    assert bool(report) == bool(complaint)


@pytest.mark.parametrize("name", PACKAGES)
def test_all_is_the_public_namespace(name):
    """A package may show modules or not; the order of `__all__` is ruff's to check (RUF022)."""
    package = importlib.import_module(name)
    public = {key for key in vars(package) if not key.startswith("_")} - {"annotations"}
    modules = {key for key in public if isinstance(getattr(package, key), ModuleType)}
    names = getattr(package, "__all__", [])  # a package may show nothing of its own
    shown = {key for key in names if not key.startswith("__")}
    assert len(set(names)) == len(names)
    assert shown - modules == public - modules
    assert shown <= public
    assert package.__doc__


def test_the_version_is_said_alike():
    assert roomwright.__version__ == tomllib.loads(PROJECT.read_text())["project"]["version"]


def test_no_module_is_over_400_lines():
    modules = [*ROOT.glob("*.py")]
    for folder in ("src", "tests", "examples", "benchmarks"):
        modules += (ROOT / folder).rglob("*.py")
    lines = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in modules}
    assert lines
    assert {path: count for path, count in lines.items() if count > 400} == {}


@pytest.mark.parametrize(
    ("part", "heavy"),
    [
        ("model", ["scipy", "soundfile"]),
        ("store", ["scipy"]),
        ("cli", ["numpy", "scipy", "pydantic", "typst"]),
    ],
)
def test_a_light_part_loads_nothing_heavy(part, heavy):
    """So that help and opening a job come at once."""
    command = f"import sys, roomwright.{part}; print(*(n for n in {heavy} if n in sys.modules))"
    result = subprocess.run([sys.executable, "-c", command], capture_output=True, check=True)
    assert result.stdout.split() == []
