"""Documentation is a test: every command, option and key is on its page, and every option on the page exists."""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from kilter.circuit.check import check_board
from kilter.cli.bench_dialogue import HELP
from kilter.cli.kinds import TOPICS, _tables
from kilter.cli.main import COMMANDS, parser
from kilter.services.answer import answer
from kilter.services.visit_log import KINDS
from kilter.wiring.diagnosers import diagnoser
from kilter.wiring.loading import load_board, load_readings

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "command-line.md").read_text("utf-8")
INTERFACE = (ROOT / "docs" / "machine-interface.md").read_text("utf-8")
LADDER = ROOT / "tests" / "cli" / "boards"


def inner(one: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    """The commands within a command."""
    found = [action for action in one._actions if isinstance(action, argparse._SubParsersAction)]
    return {name: child for action in found for name, child in action.choices.items()}


def words_of(one: argparse.ArgumentParser) -> set[str]:
    """Every option of a command and of the commands within it."""
    own = {word for action in one._actions for word in action.option_strings}
    return own.union(*(words_of(child) for child in inner(one).values()))


def options() -> dict[str, set[str]]:
    """Every command with its options."""
    return {name: words_of(one) for name, one in inner(parser()).items()}


def section(command: str) -> str:
    """What the page says about one command."""
    return PAGE.split(f"## kilter {command}", 1)[1].split("\n## ", 1)[0]


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_and_option_is_documented(command: str) -> None:
    command = command.replace("_", "-")
    for option in options()[command] - {"-h", "--help", "--debug"}:
        assert option in section(command), f"{command} {option}"
    assert f"kilter {command}" in INTERFACE or command == "bench"


def test_what_all_commands_share_is_documented() -> None:
    head = PAGE.split("\n## ", 1)[0]
    assert all(option in head for option in ("-h", "--help", "--debug"))


@pytest.mark.parametrize("command", COMMANDS)
def test_no_option_is_invented(command: str) -> None:
    command = command.replace("_", "-")
    told = set(re.findall(r"`(--[a-z-]+)", section(command)))
    assert told <= options()[command]


def test_every_line_of_the_bench_is_documented() -> None:
    verbs = {line.split()[0] for line in HELP.splitlines() if not line.startswith("   ")}
    assert all(re.search(rf"`{re.escape(verb)}[ `]", section("bench")) for verb in verbs - {"VALUE"})


def test_kinds_has_its_topics() -> None:
    assert all(f"`{topic}`" in section("kinds") for topic in TOPICS)


def keys(value: Any) -> Iterator[str]:
    """Every key anywhere in plain data."""
    if isinstance(value, dict):
        for key, one in value.items():
            yield key
            yield from keys(one)
    if isinstance(value, list):
        for one in value:
            yield from keys(one)


def test_every_key_of_the_machine_interface_is_documented() -> None:
    board = load_board(LADDER / "ladder.toml")
    with diagnoser(board) as weigher:
        found = answer(weigher.diagnose(load_readings(LADDER / "faulty.csv", board)))
    wanted = set(keys(found)) | {key for rows in _tables().values() for row in rows for key in row}
    missing = [key for key in wanted if not re.search(rf"`([a-z_]+\[\]\.)*{key}(\[\])?`|\.{key}`", INTERFACE)]
    assert missing == []
    assert check_board(board) == ()


def test_kinds_of_visit_entries_are_documented() -> None:
    assert all(f"| `{kind}` |" in INTERFACE for kind in KINDS)


def test_readme_names_every_layer() -> None:
    readme = (ROOT / "README.md").read_text("utf-8")
    folders = [path.name for path in (ROOT / "src" / "kilter").iterdir() if (path / "__init__.py").exists()]
    assert [name for name in folders if name not in readme] == []


def test_python_example_of_the_interface_runs() -> None:
    code = re.search(r"```python\n(.*?)```", INTERFACE, re.DOTALL)
    assert code is not None
    known: dict[str, Any] = {}
    exec(code[1].replace('"src/', f'"{ROOT}/src/'), known)
    assert known["diagnosis"].suspects
