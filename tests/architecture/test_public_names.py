"""The package's own door: what it promises is there, and it opens nothing before it is asked."""

from __future__ import annotations

import subprocess
import sys

import pytest

import kilter


@pytest.mark.parametrize("name", kilter.__all__)
def test_public_name_is_there(name: str) -> None:
    assert getattr(kilter, name) is not None
    assert getattr(kilter, name).__doc__


def test_unknown_name_is_refused() -> None:
    with pytest.raises(AttributeError, match="no attribute 'Guesser'"):
        kilter.Guesser  # noqa: B018


def test_the_door_opens_late() -> None:
    code = "import sys, kilter; sys.exit(any(name.startswith('kilter.') for name in sys.modules))"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
