"""
Lines of a SPICE netlist: comments off, continuations joined, included files read in, each line with its place.

A file may include only what lies in the folder of the first file or below it: a board from elsewhere cannot make this
machine read its other files. Everything a SPICE program would do with the rest (a .control block, text after .end) is
listed in words and left out.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from kilter.importers.text_files import read_text
from kilter.measure.errors import BadInput

MOST_LINES = 200_000
"""Lines read in all, included files and all, before the netlist is refused."""
MOST_FILES = 500
"""Included files read in all, each as often as it is included."""

COMMENT_TAIL = re.compile(r"(;|(?<=\s)\$(?=\s|$)|(?<=\s)//).*")


@dataclass(frozen=True, slots=True)
class Line:
    """One logical line and where its first physical line stands."""

    text: str
    file: str
    number: int

    @property
    def place(self) -> str:
        """Such as 'supply.cir line 12'."""
        return f"{self.file} line {self.number}"


@dataclass
class Deck:
    """A netlist before anything in it is understood: its title, its lines and what was left out."""

    title: str
    lines: list[Line] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    included: int = 0


def read_deck(path: Path) -> Deck:
    """
    Read a netlist file and all it includes.

    Raises:
        BadInput: A file is absent, outside the folder, includes itself, or is no text.
    """
    physical = read_text(path, "the netlist").splitlines()
    deck = Deck(physical[0].strip() if physical else "")
    _read(deck, path, physical, first=1, above=(path.resolve(),), root=path.resolve().parent)
    _doubt_title(deck, path)
    return deck


def _read(deck: Deck, path: Path, physical: list[str], *, first: int, above: tuple[Path, ...], root: Path) -> None:
    lines = _logical(physical, path.name, first)
    for line in lines:
        card = line.text.split(maxsplit=1)[0].lower()
        if len(deck.lines) > MOST_LINES:
            raise _bad(line, f"more than {MOST_LINES} lines", "smaller netlists", "Look for a repeated .include.")
        if card == ".control":
            _skip_control(deck, line, lines)
        elif card in (".include", ".inc"):
            _include(deck, line, path, above, root)
        elif card == ".lib":
            _library(deck, line, lines, path, above, root)
        elif card == ".end":
            _warn_after_end(deck, line, lines)
            return
        elif card == ".title":
            deck.title = line.text.partition(" ")[2].strip()
        else:
            deck.lines.append(line)


def _logical(physical: list[str], file: str, first: int) -> Iterator[Line]:
    """Lines with their `+` continuations; comment lines between them do not break a continuation."""
    text, start = "", 0
    for number, raw in enumerate(physical[first:], first + 1):
        stripped = "" if raw.lstrip().startswith("*") else COMMENT_TAIL.sub("", raw).strip()
        if not stripped:
            continue
        if stripped.startswith("+"):
            if not start:
                raise _bad(
                    Line(stripped, file, number), "a continuation '+' with no line before it",
                    "'+' on a line that follows another", "Remove the '+' or restore the line it continues.",
                )  # fmt: skip
            text += " " + stripped[1:].strip()
            continue
        if start:
            yield Line(text, file, start)
        text, start = stripped, number
    if start:
        yield Line(text, file, start)


def _skip_control(deck: Deck, line: Line, lines: Iterator[Line]) -> None:
    for inner in lines:
        if inner.text.lower().startswith(".endc"):
            deck.warnings.append(f"{line.place}: the .control block is left out; nothing in it is run.")
            return
    raise _bad(line, ".control without .endc", "a block closed by .endc", "Add the .endc line or remove the block.")


def _warn_after_end(deck: Deck, line: Line, lines: Iterator[Line]) -> None:
    if any(True for _ in lines):
        deck.warnings.append(f"{line.place}: what stands after .end is left out.")


def _include(deck: Deck, line: Line, path: Path, above: tuple[Path, ...], root: Path) -> None:
    words = _words(line)
    if len(words) != 2:
        raise _bad(line, f"'{line.text}'", ".include and one file name", "Name one file, in quotes if it has blanks.")
    target = _target(deck, line, words[1], path, above, root)
    physical = read_text(target, f"the file included at {line.place}").splitlines()
    _read(deck, target, physical, first=0, above=(*above, target.resolve()), root=root)


def _library(
    deck: Deck, line: Line, lines: Iterator[Line], path: Path, above: tuple[Path, ...], root: Path
) -> None:
    """`.lib file` reads a file, `.lib file section` a section of it; `.lib section` opens one, skipped unless asked."""
    words = _words(line)
    if len(words) == 2 and not (path.parent / words[1]).exists() and "." not in words[1]:
        for inner in lines:
            if inner.text.lower().startswith(".endl"):
                return
        raise _bad(line, f"section '{words[1]}' without .endl", "a section closed by .endl", "Add the .endl line.")
    if len(words) not in (2, 3):
        raise _bad(line, f"'{line.text}'", ".lib and a file, perhaps a section", "Name the file, then the section.")
    target = _target(deck, line, words[1], path, above, root)
    physical = read_text(target, f"the library named at {line.place}").splitlines()
    if len(words) == 3:
        physical = _section(physical, words[2], line, target)
    _read(deck, target, physical, first=0, above=(*above, target.resolve()), root=root)


def _section(physical: list[str], name: str, line: Line, target: Path) -> list[str]:
    """The lines of one section, at their old line numbers: all others are blank."""
    found, kept, sections = False, [], []
    for raw in physical:
        words = raw.split()
        if len(words) == 2 and words[0].lower() == ".lib":
            sections.append(words[1])
            found = words[1].lower() == name.lower()
            kept.append("")
        elif words and words[0].lower() == ".endl":
            found = False
            kept.append("")
        else:
            kept.append(raw if found else "")
    if name.lower() not in [section.lower() for section in sections]:
        raise _bad(line, f"the section '{name}', which {target.name} lacks", ", ".join(sections) or "no section",
                   "Name one of its sections.")  # fmt: skip
    return kept


def _target(deck: Deck, line: Line, name: str, path: Path, above: tuple[Path, ...], root: Path) -> Path:
    """The file that a line names, if it may be read."""
    deck.included += 1
    if deck.included > MOST_FILES:
        raise _bad(line, f"more than {MOST_FILES} included files", "fewer", "Look for repeated .include lines.")
    target = (path.parent / name.replace("\\", "/")).resolve()
    if not target.is_relative_to(root):
        raise _bad(
            line, f"the file name '{name}'", "files in the folder of the netlist or below it",
            "Copy the file beside the netlist and name it without a path.",
        )  # fmt: skip
    if target in above:
        raise _bad(line, f"'{name}', which is being read already", "files that do not include themselves",
                   "Remove one of the .include lines that form the circle.")  # fmt: skip
    return path.parent / name.replace("\\", "/")


def _words(line: Line) -> list[str]:
    return [a or b or c for a, b, c in re.findall(r"\"([^\"]+)\"|'([^']+)'|(\S+)", line.text)]


def _doubt_title(deck: Deck, path: Path) -> None:
    """The first line is always the title in SPICE: an element written there is lost without a word."""
    if re.match(r"[RCLDQVIEFGHX]\w*\d\w*\s+\S+\s+\S+\s+\S+", deck.title, re.IGNORECASE):
        deck.warnings.append(
            f"{path.name} line 1: the first line is the title in SPICE and is not read as an element, "
            f"but '{deck.title}' looks like one; put a title line before it if so."
        )


def _bad(line: Line, found: str, allowed: str, do_next: str) -> BadInput:
    return BadInput("Cannot read the netlist", f"{found} at {line.place}", allowed, do_next)
