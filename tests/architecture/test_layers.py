"""The architecture is a test: imports go one way, start is quick, every module stands by itself, files stay small."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "src"
MODULES = sorted(
    ".".join(path.relative_to(SOURCE).with_suffix("").parts).removesuffix(".__init__")
    for path in (SOURCE / "kilter").rglob("*.py")
    if path.name != "__main__.py"
)
HEAVY = ("numba", "matplotlib", "scipy", "django", "hypothesis")
"""What the plain commands must not load."""
OPTIONAL = {"kilter.wiring.plot_course", "kilter.wiring.plot_readings", "kilter.simulate.circuit.numba_kernel",
            "kilter.simulate.logic.kernels"}  # fmt: skip
"""Modules that need an extra; nothing imports them but behind a question whether it is there."""
USUAL, MOST = 300, 500
"""Lines of a file."""
SLACK = 60
"""An excuse may stay while a file is that much below the usual size: files breathe."""
LARGER = {
    "kilter/simulate/circuit/equations.py": "one kernel's tables: writing them in two places would hide their order",
    "kilter/simulate/circuit/faults.py": "every verb of a fault beside the move that it makes",
    "kilter/simulate/circuit/numba_kernel.py": "one compiled loop; numba inlines within a file",
    "kilter/simulate/logic/running/kernel_compiled.py": "one compiled loop; numba inlines within a file",
    "kilter/simulate/circuit/predictor.py": "to be divided: powered and dead boards share its caches",
}
"""Files above the usual size, each with its excuse."""


RECORD = ("kilter.store", "kilter.web", "kilter.wiring")
PAGES = "kilter.web.settings"
"""Where modules may hold tables or read them, which want the framework's registry first; and its settings."""


def python(code: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=ROOT)


def test_imports_go_one_way() -> None:
    tool = Path(sys.executable).with_name("lint-imports")
    if not tool.exists():
        pytest.skip("import-linter is not installed")
    done = subprocess.run([tool], capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode == 0, done.stdout


@pytest.mark.parametrize("module", ["kilter", "kilter.cli.main", "kilter.wiring.diagnosers", "kilter.wiring.plots"])
def test_nothing_heavy_is_loaded(module: str) -> None:
    done = python(f"import {module}, sys; print(*sorted(set({HEAVY!r}) & sys.modules.keys()))")
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == ""


def test_a_whole_diagnosis_loads_nothing_heavy() -> None:
    done = python(
        "import sys; from kilter.cli.main import run;"
        "run(['diagnose', 'tests/cli/boards/ladder.toml', '--readings', 'tests/cli/boards/faulty.csv']);"
        f"print('heavy:', *sorted(set({HEAVY!r}) & sys.modules.keys()))"
    )
    assert done.stdout.splitlines()[-1].strip() == "heavy:", done.stderr


def test_every_module_stands_by_itself() -> None:
    """Each in a process of its own where no other part of Kilter is loaded, so that none leans on another."""
    code = (
        "import os, sys, numpy\n"
        "import django.contrib.auth.hashers, django.contrib.sessions.backends.db, django.template.backends.django\n"
        "import django.test, django.views.i18n\n"
        "for name in sys.argv[1:]:\n"
        "    child = os.fork()\n"
        "    if not child:\n"
        "        try:\n"
        f"            if name.startswith({RECORD!r}):\n"
        f"                from kilter.store.start import start_store; start_store({PAGES!r})\n"
        "            __import__(name)\n"
        "        except BaseException as error: print(name, repr(error), flush=True); os._exit(1)\n"
        "        os._exit(0)\n"
        "    os.waitpid(child, 0)\n"
    )
    wanted = [name for name in MODULES if name not in OPTIONAL]
    count = os.cpu_count() or 1
    running = [
        subprocess.Popen(
            [sys.executable, "-c", code, *wanted[one::count]], stdout=subprocess.PIPE, stderr=subprocess.STDOUT
        )
        for one in range(count)
    ]
    assert [one.communicate()[0].decode() for one in running] == [""] * count
    assert {one.returncode for one in running} == {0}


@pytest.mark.parametrize("path", sorted((SOURCE / "kilter").rglob("*.py")), ids=lambda path: path.stem)
def test_files_stay_small(path: Path) -> None:
    name, lines = path.relative_to(SOURCE).as_posix(), len(path.read_text("utf-8").splitlines())
    assert lines <= (MOST if name in LARGER or "/migrations/" in name else USUAL)


def test_excuses_are_still_needed() -> None:
    needless = [name for name in LARGER if len((SOURCE / name).read_text("utf-8").splitlines()) <= USUAL - SLACK]
    assert needless == []


def test_no_vague_names() -> None:
    vague = {"utils", "util", "helpers", "common", "manager", "base", "misc"}
    assert [name for name in MODULES if vague & set(name.split("."))] == []
