"""The substitute command: files, words, both; unknown ends with three; the documented example."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from kilter.cli.main import run
from kilter.parts.substitutes.part_data import field_types, kinds

PAGE = (Path(__file__).parents[2] / "docs" / "substitutes.md").read_text("utf-8")


@pytest.fixture
def files(tmp_path: Path) -> list[str]:
    """The two files of the page."""
    texts = re.findall(r"```toml\n(# (?:wanted|offered)\.toml.*?)```", PAGE, re.DOTALL)
    assert len(texts) == 2
    paths = [tmp_path / "wanted.toml", tmp_path / "offered.toml"]
    for path, text in zip(paths, texts, strict=True):
        path.write_text(text, "utf-8")
    return [str(path) for path in paths]


def test_the_documented_pair(files: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["substitute", *files]) == 0
    told = capsys.readouterr().out
    assert told.startswith("Verdict: fits with conditions.")
    assert "safe" in told


def test_words_replace_fields_of_a_file(files: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["substitute", *files, "--offered", "volts=6.3", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["verdict"], told["failing"]) == ("does not fit", ["voltage", "voltage and rail"])


def test_words_alone_and_what_is_missing(capsys: pytest.CaptureFixture[str]) -> None:
    code = run(["substitute", "--wanted", "kind=fuse", "current=1A", "--offered", "kind=fuse", "current=1A", "--json"])
    told = capsys.readouterr()
    found = json.loads(told.out)
    assert (code, found["verdict"]) == (3, "unknown")
    assert "wanted characteristic" in found["missing"]
    assert "Unanswered" in told.err


FUSE = ["--offered", "kind=fuse"]


@pytest.mark.parametrize(
    "words",
    [
        [],
        ["nofile.toml", "nofile.toml"],
        ["--wanted", "kind=fuse"],
        ["--wanted", "kind=teapot", *FUSE],
        ["--wanted", "kind=fuse", "amps=1", *FUSE],
        ["--wanted", "kind=fuse", "current", *FUSE],
        ["--wanted", "kind=fuse", "current=any", *FUSE],
        ["--wanted", "kind=fuse", *FUSE, "use=general"],
        ["--wanted", "kind=zener", "tolerance=5", "--offered", "kind=zener"],
        ["--wanted", "kind=fuse", "current=-1A", *FUSE],
    ],
)
def test_bad_input_is_refused_in_four_parts(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["substitute", *words]) == 2
    told = capsys.readouterr().err
    assert "found" in told
    assert "Allowed" in told
    assert "Traceback" not in told


def test_the_page_names_every_field_and_kind() -> None:
    for name in (*field_types(), *kinds()):
        assert f"`{name}`" in PAGE, name
