"""constraints.txt: every dependency at an exact version, and no address anywhere."""

from __future__ import annotations

import importlib.metadata
import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
LINES = (ROOT / "constraints.txt").read_text(encoding="utf-8").splitlines()
PIN = re.compile(
    r"[a-z0-9]+([-_.][a-z0-9]+)*==[0-9][0-9a-z.]*( ; [a-z_]+ (==|!=|<|>=) '[a-z0-9.]+')?"
)
#: Split, so that this file does not hold what it looks for.
REGISTRIES = (
    "pypi" + ".org",
    "pythonhosted" + ".org",
    "npmjs" + ".org",
    "npmjs" + ".com",
    "deb.debian" + ".org",
    "crates" + ".io",
)


def pins() -> dict[str, str]:
    """Pinned versions, by canonical name, that hold where the tests run."""
    requirements = [Requirement(line) for line in LINES]
    return {
        canonicalize_name(r.name): str(r.specifier).removeprefix("==")
        for r in requirements
        if r.marker is None or r.marker.evaluate()
    }


def closure() -> set[str]:
    """Canonical names of all that the project and its tests need here, directly or not."""
    project = PROJECT["project"]
    direct = [*project["dependencies"], *project["optional-dependencies"]["test"]]
    waiting = [(text, "") for text in direct]
    seen: set[tuple[str, str]] = set()
    while waiting:
        text, asked_by_extra = waiting.pop()
        requirement = Requirement(text)
        if requirement.marker and not requirement.marker.evaluate({"extra": asked_by_extra}):
            continue
        for extra in ("", *requirement.extras):
            node = (canonicalize_name(requirement.name), extra)
            if node not in seen:
                seen.add(node)
                waiting += [(t, extra) for t in importlib.metadata.requires(node[0]) or []]
    return {name for name, _ in seen}


def project_files() -> list[Path]:
    """Every file of the project that people write."""
    folders = ("src", "tests", "docs", "examples", "benchmarks", ".ci")
    found = [path for folder in folders for path in (ROOT / folder).rglob("*")]
    return [
        path
        for path in (*found, *ROOT.glob("*.*"), ROOT / "LICENSE")
        if path.is_file() and "__pycache__" not in path.parts
    ]


@pytest.mark.parametrize("line", LINES)
def test_a_line_is_an_exact_version(line):
    assert PIN.fullmatch(line)


def test_a_name_is_pinned_once_in_an_environment():
    here = [r for r in map(Requirement, LINES) if r.marker is None or r.marker.evaluate()]
    assert len(here) == len(pins())
    assert sorted(LINES) == LINES


@pytest.mark.parametrize("name", sorted(closure() | {"acoustic-toolbox", "uv"}))
def test_what_is_needed_is_pinned_and_installed_so(name):
    assert pins()[name] == importlib.metadata.version(name)


def test_the_build_backend_is_pinned_twice_alike():
    (requirement,) = map(Requirement, PROJECT["build-system"]["requires"])
    assert str(requirement.specifier) == f"=={pins()[canonicalize_name(requirement.name)]}"


def test_nothing_is_pinned_that_nothing_needs():
    """Apart from the closure: the installer, the build backend, and what Windows alone needs."""
    assert set(pins()) - closure() <= {"acoustic-toolbox", "uv", "flit-core", "colorama", "tzdata"}


def test_no_file_names_a_registry():
    files = project_files()
    assert len(files) > len(LINES)
    for path in files:
        text = path.read_bytes().decode(errors="ignore").lower()
        assert not [host for host in REGISTRIES if host in text], path
