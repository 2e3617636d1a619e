"""Set up Roomwright in a private environment beside this file, then open the demo or run the tests.

    python3 start.py [demo [DIR]] [--fresh] [--no-browser]
    python3 start.py test [arguments for pytest]

Standard library only. The environment is kept, and made anew when what it is made from changes.
"""

import argparse
import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
import venv
from ctypes.util import find_library
from pathlib import Path

VERSION = "{}.{}".format(*sys.version_info)
if sys.version_info < (3, 11):  # noqa: UP036 - any Python 3 may start this file
    sys.stderr.write(f"Roomwright needs Python 3.11 or newer; this is {VERSION}.\n")
    sys.exit(2)

ROOT = Path(__file__).resolve().parent
ENVIRONMENT = ROOT / ".venv"
WINDOWS = os.name == "nt"
BIN = ENVIRONMENT / ("Scripts" if WINDOWS else "bin")
EXE = ".exe" if WINDOWS else ""
PYTHON = BIN / f"python{EXE}"
STAMP = ENVIRONMENT / "roomwright-stamp.txt"
PINNED = ("--constraint", str(ROOT / "constraints.txt"))
CHECKS = ("ruff check .", "ruff format --check .", "mypy", "lint-imports --no-logo")


class SetupError(Exception):
    """The environment cannot be made; the message says what to do."""


def run(program, *arguments):
    """Run a program in the project's folder and return its exit code."""
    sys.stdout.flush()
    return subprocess.run([program, *arguments], cwd=ROOT, check=False).returncode


def fingerprint():
    """Hash what the environment is made from: pins, project, Python and place."""
    sources = [(ROOT / name).read_bytes() for name in ("constraints.txt", "pyproject.toml")]
    return hashlib.sha256(b"\0".join([*sources, sys.version.encode(), bytes(ROOT)])).hexdigest()


def install_system_package(name, reason):
    """Install a Debian package where the rights are there; else say the exact line to run."""
    apt = shutil.which("apt-get")
    if apt is None:
        raise SetupError(f"{reason}: install {name}, or what it is called here, and start again.")
    if os.geteuid() != 0:
        raise SetupError(f"{reason}. Run this line and start again:\nsudo apt-get install {name}")
    print(f"{reason}: installing {name}")
    if run(apt, "update", "-qq") or run(apt, "install", "-y", "-qq", name):
        raise SetupError(f"{reason}, and apt-get could not install {name} (see above).")


def make_environment():
    """Make an environment that holds only the pinned installer."""
    print(f"Making a private environment in {ENVIRONMENT}")
    if importlib.util.find_spec("ensurepip") is None:
        install_system_package(f"python{VERSION}-venv", "This Python cannot make environments yet")
    venv.EnvBuilder(clear=True, with_pip=True, symlinks=not WINDOWS).create(ENVIRONMENT)
    if run(PYTHON, "-m", "pip", "install", "-q", "--disable-pip-version-check", *PINNED, "uv"):
        raise SetupError("The installer could not be fetched (see above); start again.")


def install(*packages):
    """Install packages and what they need, at the pinned versions."""
    options = ("--system-certs", "--python", PYTHON, *PINNED)
    if run(BIN / f"uv{EXE}", "pip", "install", *options, *packages):
        raise SetupError("The installation did not complete (see above); start again.")


def prepare(wanted):
    """Bring the environment to what is `wanted`, "demo" or "test", unless it stands."""
    made_from = fingerprint()
    stamp = STAMP.read_text().split() if STAMP.exists() and PYTHON.exists() else []
    whole = made_from in stamp
    if whole and wanted in stamp:
        return
    STAMP.unlink(missing_ok=True)  # without it, an installation was interrupted
    if not whole:
        make_environment()
    install("--editable", ".[test]" if wanted == "test" else ".")
    if wanted == "test":
        install("--no-deps", "acoustic-toolbox")
    if sys.platform == "linux" and run(PYTHON, "-c", "import soundfile"):
        install_system_package("libsndfile1", "The library that reads audio files is missing")
    may_install = sys.platform == "linux" and os.geteuid() == 0 and shutil.which("apt-get")
    if may_install and not find_library("portaudio"):
        install_system_package("libportaudio2", "The library of audio interfaces is missing")
    STAMP.write_text(f"{made_from} demo {wanted}\n")


def demo(arguments):
    """Run the demo job, unless it stands finished; then open it, and what is made beside it."""
    as_written = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=as_written)
    parser.add_argument("command", nargs="?", choices=("demo", "test"), default="demo")
    parser.add_argument("folder", nargs="?", metavar="DIR", default=ROOT / "demo-job", type=Path)
    parser.add_argument("--fresh", action="store_true", help="remove the demo job and do it again")
    parser.add_argument("--no-browser", action="store_true", help="do not open the demo job")
    options = parser.parse_args(arguments)
    folder = options.folder.resolve()
    prepare("demo")
    program, report = BIN / f"roomwright{EXE}", folder / "outputs" / "report.pdf"
    stands = report.exists() and not options.fresh
    if stands:
        print(f"The demo job stands (--fresh does it again). Its report: {report}")
    elif (options.fresh or folder == ROOT / "demo-job") and (folder / "job.json").exists():
        shutil.rmtree(folder)  # our own one was interrupted
    failed = 0 if stands else run(program, "demo", folder)
    if failed or options.no_browser:
        return failed
    (ROOT / "jobs").mkdir(exist_ok=True)
    return run(program, "open", folder, ROOT / "jobs")


def test(arguments):
    """Run every check, pytest last; 0 only if all pass."""
    prepare("test")
    failed = []
    for check in CHECKS:
        print(f"==> {check}")
        program, *options = check.split()
        if run(BIN / f"{program}{EXE}", *options):
            failed.append(check)
    print(f"==> pytest (failed before it: {', '.join(failed) or 'nothing'})")
    workers = str(min(os.cpu_count() or 1, 8))
    return run(PYTHON, "-m", "pytest", "-n", workers, *arguments) or int(bool(failed))


if __name__ == "__main__":
    try:
        sys.exit(test(sys.argv[2:]) if sys.argv[1:2] == ["test"] else demo(sys.argv[1:]))
    except (SetupError, OSError, subprocess.CalledProcessError) as error:
        sys.stderr.write(f"{error}\n")
        sys.exit(2)
    except KeyboardInterrupt:
        sys.stderr.write("Stopped; start again to go on.\n")
        sys.exit(130)
