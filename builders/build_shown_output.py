"""
Writes into README.md and docs/ what the commands shown there print.

    python builders/build_shown_output.py

A fenced block that starts with '```console' and holds lines '$ kilter ...' is filled anew: each such line is followed
by what the command prints on stdout. '< FILE' feeds a file. Files that a command writes go to a folder that is thrown
away.
"""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PAGES = ("README.md", "docs/command-line.md")
BLOCK = re.compile(r"^```console\n(?P<body>\$ kilter .*?)^```$", re.MULTILINE | re.DOTALL)
WRITES = ("--visit", "--plot")
"""Options that name what a command writes."""


def shown(text: str) -> Iterator[tuple[str, str]]:
    """Every command that a page shows, with the output it shows."""
    for block in BLOCK.finditer(text):
        for piece in re.split(r"^\$ ", block["body"], flags=re.MULTILINE)[1:]:
            command, _, output = piece.partition("\n")
            yield command, output.rstrip("\n")


def printed(command: str) -> str:
    """What a command prints now; trailing spaces and the empty lines at both ends are dropped."""
    line, _, typed = command.partition(" < ")
    words = shlex.split(line)
    with tempfile.TemporaryDirectory() as folder:
        for option in WRITES:
            if option in words:
                place = words.index(option) + 1
                words[place] = str(Path(folder) / words[place])
        given = (ROOT / typed.strip()).read_text("utf-8") if typed else ""
        done = subprocess.run(
            [sys.executable, "-m", *words], cwd=ROOT, input=given, capture_output=True, text=True, check=False
        )
    if done.returncode not in (0, 3):
        sys.exit(f"'{command}' failed: {done.stderr}")
    output = done.stdout.replace(f"{folder}/", "")
    return "\n".join(line.rstrip() for line in output.splitlines()).strip("\n")


def filled(text: str) -> str:
    """A page with the output of its commands."""

    def fill(block: re.Match[str]) -> str:
        commands = [line[2:] for line in block["body"].splitlines() if line.startswith("$ ")]
        return "```console\n" + "".join(f"$ {one}\n{printed(one)}\n" for one in commands) + "```"

    return BLOCK.sub(fill, text)


def main() -> None:
    """Fills every page."""
    for name in PAGES:
        page = ROOT / name
        page.write_text(filled(page.read_text("utf-8")), "utf-8")
        print(f"{name}: {sum(1 for _ in shown(page.read_text('utf-8')))} commands")


if __name__ == "__main__":
    main()
