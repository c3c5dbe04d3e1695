"""A way to run a command in this process."""

from __future__ import annotations

import io

import pytest
from command_line import Command, Ran

from kilter.cli.main import run


@pytest.fixture
def kilter(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Command:
    """Runs `kilter ...`; `typed` is what stdin holds."""

    def command(*arguments: str, typed: str = "") -> Ran:
        monkeypatch.setattr("sys.stdin", io.StringIO(typed))
        capsys.readouterr()
        try:
            code = run(arguments)
        except SystemExit as left:  # the argument parser's way out
            code = int(left.code or 0)
        told = capsys.readouterr()
        return Ran(code, told.out, told.err)

    return command
