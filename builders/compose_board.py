"""
Writes tests/netlists/board.cir: one flat board of more than 150 nodes, joined from the small netlists beside it.

    python builders/compose_board.py

Every part stays a part of its own and is numbered through the board; nets get their block's name in front, except
those that join blocks. Nothing is random.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

NETLISTS = Path(__file__).resolve().parent.parent / "tests" / "netlists"
TITLE = "Board of supply, regulator, amplifiers, filters, drivers, resets and oscillators"
WORDS = """\
* Made by builders/compose_board.py from the netlists beside this file; each says how its circuit works.
* The supply feeds amplifiers, filters, drivers and the 5 V regulator; that one feeds resets and oscillators.
"""
TERMINALS = {"Q": 3, "X": -1}
"""Number of nets on a line where it is not two; -1: all words but the name and the last."""


@dataclass(frozen=True)
class Piece:
    """One netlist put on the board: its file, its name there, the nets it shares and the lines left out."""

    file: str
    name: str
    joins: Mapping[str, str]
    without: frozenset[str] = field(default_factory=frozenset)


def pieces() -> tuple[Piece, ...]:
    """The blocks of the board, in order."""
    fed_12 = frozenset({"V1"})
    return (
        Piece("supply", "psu", {"out": "v12"}, frozenset({"RL1"})),
        Piece("regulator", "reg", {"socket": "v12", "vout": "v5"}, frozenset({"V1", "RS1"})),
        *(Piece("audio", f"amp{number}", {"vcc": "v12"}, fed_12) for number in (1, 2, 3)),
        *(Piece("filter", f"filter{number}", {"v12": "v12"}, fed_12) for number in (1, 2)),
        Piece("drivers", "drive", {"v12": "v12"}, fed_12),
        *(Piece("reset", f"reset{number}", {"v5": "v5"}, fed_12) for number in (1, 2, 3)),
        *(Piece("crystal", f"clock{number}", {"v5": "v5"}, fed_12) for number in (1, 2)),
    )


def board_text() -> str:
    """The netlist of the whole board."""
    numbers: Counter[str] = Counter()
    lines: list[str] = []
    cards: dict[str, str] = {}
    for piece in pieces():
        body, own_cards = _split((NETLISTS / f"{piece.file}.cir").read_text("utf-8"))
        for card in own_cards:
            if cards.setdefault(_card_name(card), card) != card:
                raise SystemExit(f"{piece.file}.cir differs from another netlist in '{_card_name(card)}'")
        lines.append(f"* {piece.name}: {piece.file}.cir")
        lines += (_placed(line, piece, numbers) for line in body if line.split()[0] not in piece.without)
    return "\n".join([TITLE, WORDS.rstrip(), *lines, *cards.values(), ".op", ".end", ""])


def _split(text: str) -> tuple[list[str], list[str]]:
    """The element lines, and the .model and .subckt cards each as one text."""
    body, cards = [], []
    for block in _blocks(text.splitlines()[1:]):
        if block.startswith((".model", ".subckt")):
            cards.append(block)
        elif not block.startswith((".", "*")) and block:
            body.append(block)
    return body, cards


def _blocks(lines: list[str]) -> Iterator[str]:
    """Single lines, and each .subckt up to its .ends as one."""
    held: list[str] = []
    for line in lines:
        held.append(line.strip())
        if held[0].startswith(".subckt") and not line.startswith(".ends"):
            continue
        yield "\n".join(held)
        held = []


def _card_name(card: str) -> str:
    return " ".join(card.split()[:2])


def _placed(line: str, piece: Piece, numbers: Counter[str]) -> str:
    name, *words = line.split()
    kind = "XU" if name.startswith("XU") else "XY" if name.startswith("XY") else name[0]
    numbers[kind] += 1
    count = TERMINALS.get(name[0], 2)
    nets = words[:count]
    return " ".join([f"{kind}{numbers[kind]}", *(_net(net, piece) for net in nets), *words[len(nets) :]])


def _net(net: str, piece: Piece) -> str:
    if net == "0":
        return net
    if net in piece.joins:
        return piece.joins[net]
    return f"{piece.name}_{re.sub(r'[^a-z0-9]', '', net)}"


if __name__ == "__main__":
    (NETLISTS / "board.cir").write_text(board_text(), "utf-8")
