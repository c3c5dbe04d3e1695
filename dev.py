#!/usr/bin/env python3
"""
One command from a clone to the whole job: `python3 dev.py demo`; `start` for the pages, `test` for all checks.

It makes .venv beside this file, installs Kilter with what it needs (with uv where that is on the path, else pip), and
runs. Needs Python 3.11 or later and, the first time, a package index; nothing else.
"""

from __future__ import annotations

import hashlib
import shutil
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent
HOME = ROOT / ".venv"
BIN = HOME / ("Scripts" if sys.platform == "win32" else "bin")
PYTHON = BIN / ("python.exe" if sys.platform == "win32" else "python")
EXTRAS = {
    "demo": "fast,plots",
    "start": "fast,plots,vision,plan,store,report",
    "test": "fast,plots,live,vision,plan,store,postgres,report,share,cluster,test",
}
CHECKS = (
    ("ruff", "check", "."),
    ("mypy",),
    ("lint-imports",),
    ("pytest", "--numprocesses", "auto", "--dist", "loadfile"),
)


def main(arguments: list[str]) -> int:
    """Prepares the environment and runs the demonstration or the checks; returns the exit code."""
    if sys.version_info < (3, 11):
        sys.exit(f"Kilter needs Python 3.11 or later; this is {sys.version.split()[0]}. Try python3.11 dev.py ...")
    if len(arguments) < 1 or arguments[0] not in EXTRAS:
        sys.exit("Say 'python3 dev.py demo', 'python3 dev.py start' or 'python3 dev.py test'.")
    prepare(EXTRAS[arguments[0]])
    if arguments[0] == "demo":
        return run("kilter", "demo", *arguments[1:])
    if arguments[0] == "start":
        return run("kilter", "start", "--demo", *arguments[1:])
    return check(arguments[1:])


def prepare(extras: str) -> None:
    """Makes or completes .venv; an environment that already fits is left alone."""
    wanted = [(ROOT / name).read_bytes() for name in ("pyproject.toml", "constraints.txt")]
    stamp, fits = HOME / "kilter-stamp", hashlib.sha256(b"".join(wanted)).hexdigest()
    where, had, *parts = stamp.read_text().splitlines() if stamp.exists() else ("", "")
    if where != str(HOME) and stamp.exists():
        shutil.rmtree(HOME)  # the clone was moved, and its programs still point to where it was
    elif had == fits and set(extras.split(",")) <= set(parts) and PYTHON.exists():
        return
    print("Preparing .venv; the first time takes half a minute or more.", flush=True)
    what = ["-c", str(ROOT / "constraints.txt"), "-e", f"{ROOT}[{extras}]"]
    if uv := shutil.which("uv"):
        if not PYTHON.exists():
            call(uv, "venv", "--quiet", "--python", sys.executable, str(HOME))
        call(uv, "pip", "install", "--quiet", "--python", str(PYTHON), *what)
    else:
        make_plain()
        call(str(PYTHON), "-m", "pip", "install", "--quiet", "--disable-pip-version-check", *what)
    stamp.write_text("\n".join([str(HOME), fits, *extras.split(",")]))


def make_plain() -> None:
    """An environment with the standard library's own means."""
    try:
        import ensurepip  # noqa: F401  (Debian and its kin keep it in a package of its own)
    except ImportError:
        sys.exit(
            "This Python cannot make environments: its part 'ensurepip' is missing.\n"
            f"On Debian or Ubuntu: sudo apt install python3.{sys.version_info.minor}-venv (or install uv), then again."
        )
    if not (HOME / "pyvenv.cfg").exists() or not PYTHON.exists():
        venv.create(HOME, with_pip=True, clear=HOME.exists())
    if subprocess.run([PYTHON, "-m", "pip", "--version"], capture_output=True, check=False).returncode:
        call(str(PYTHON), "-m", "ensurepip")


def check(more: list[str]) -> int:
    """All checks, the tests last; what failed is said at the end, before the tests' own last lines."""
    failed = []
    for name, *options in CHECKS:
        print(f"== {name}", flush=True)
        if name == "pytest" and failed:
            print(f"(failed before the tests: {', '.join(failed)})", flush=True)
        if run(name, *options, *(more if name == "pytest" else ())):
            failed.append(name)
    return 1 if failed else 0


def run(name: str, *arguments: str) -> int:
    """One program of the environment; its exit code."""
    return subprocess.run([str(BIN / name), *arguments], cwd=ROOT, check=False).returncode


def call(*command: str) -> None:
    """One step that has to succeed."""
    if subprocess.run(command, cwd=ROOT, check=False).returncode:
        sys.exit(f"This step failed: {' '.join(command)}")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
