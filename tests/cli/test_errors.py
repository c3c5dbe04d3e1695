"""Whatever a person gets wrong: four parts on stderr, exit code 2, no traceback; and quiet when nobody listens."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from command_line import FAULTY, LADDER, Command

from kilter.measure.errors import KilterError


@pytest.mark.parametrize(
    "arguments",
    [
        ("diagnose", "absent.toml", "--readings", FAULTY),
        ("diagnose", LADDER, "--readings", "absent.csv"),
        ("diagnose", LADDER, "--readings", str(Path(__file__))),
        ("diagnose", LADDER, "--readings", FAULTY, "--instruments", "teapot"),
        ("diagnose", LADDER, "--readings", FAULTY, "--faults", "0"),
        ("predict", LADDER, "--point", "nowhere"),
        ("predict", LADDER, "--state", "boiling"),
        ("check", "absent.toml"),
        ("kinds", "teapots"),
        ("bench", LADDER, "--visit", "/absent/folder/visit.toml"),
        ("demo", "--copy", "/dev/null/here"),
    ],
)
def test_bad_input_ends_with_code_2(kilter: Command, arguments: tuple[str, ...]) -> None:
    ran = kilter(*arguments, typed="r A 20 kohm @off\n")
    told = ran.err + ran.out
    assert "found" in told
    assert "Allowed:" in told
    assert "Traceback" not in told
    assert ran.code == (0 if arguments[0] == "bench" else 2)


def test_debug_shows_where(kilter: Command) -> None:
    with pytest.raises(KilterError):
        kilter("check", "absent.toml", "--debug")


def test_no_command_and_unknown_command(kilter: Command) -> None:
    assert kilter().code == 2
    assert kilter("guess").code == 2


def test_quiet_when_the_reader_leaves() -> None:
    """As in `kilter kinds | head -1`, where the pipe closes early."""
    with subprocess.Popen(
        [sys.executable, "-m", "kilter", "kinds"], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert process.stderr.read() == b""


def test_a_terminal_without_an_ohm_sign() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "kilter", "predict", LADDER, "--point", "A"],
        capture_output=True, env={"PYTHONIOENCODING": "ascii"}, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert b"20.0 k?" in done.stdout or b"k?" in done.stdout
