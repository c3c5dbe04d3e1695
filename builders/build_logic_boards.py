"""
Write the two boards of chips in tests/logic_boards/data as S-expression netlists, from their descriptions here.

    python builders/build_logic_boards.py

A description names pins as the catalogue does; supply and ground pins connect themselves. The boards are our own.
"""

from __future__ import annotations

from pathlib import Path

from kilter.parts.catalogue import find_type
from kilter.parts.catalogue.ranges import expand_words

HERE = Path(__file__).parent
RAILS = {"supply": "+5V", "ground": "GND"}


def netlist_text(description: str, title: str) -> str:
    """The netlist of a description."""
    parts: dict[str, str] = {}
    nets: dict[str, list[tuple[str, str]]] = {}
    for line in description.splitlines():
        head, *joins = line.split("#")[0].split("|")
        if not head.strip():
            continue
        refs, value = expand_words(head.split()[0]), head.split()[1]
        for number, ref in enumerate(refs):
            parts[ref] = value
            for pin, net in _pins(value, joins, number if len(refs) > 1 else None):
                nets.setdefault(net, []).append((ref, pin))
    comps = "\n".join(f'    (comp (ref "{ref}") (value "{value}"))' for ref, value in parts.items())
    wired = "\n".join(
        f'    (net (code "{code}") (name "{net}")\n'
        + "\n".join(f'      (node (ref "{ref}") (pin "{pin}"))' for ref, pin in places)
        + ")"
        for code, (net, places) in enumerate(nets.items(), 1)
    )
    sheet = f'(design (sheet (number "1") (name "/") (title_block (title "{title}") (rev "1"))))'
    return f'(export (version "E")\n  {sheet}\n  (components\n{comps})\n  (nets\n{wired}))\n'


def _pins(value: str, joins: list[str], member: int | None) -> list[tuple[str, str]]:
    """Pin number and net of one part; of several alike, where a net differs, its own."""
    kind = find_type(value)
    found = [(pin.number, RAILS[pin.role]) for pin in kind.pins.values() if pin.role in RAILS] if kind else []
    for join in joins:
        left, right = (expand_words(side) for side in join.split("="))
        if member is not None and len(right) > len(left):
            right = [right[member]]
        for pin, net in zip(left, right, strict=True):
            found.append((kind.by_name[pin].number if kind and kind.pins else pin, net))
    return found


if __name__ == "__main__":
    for source in sorted((HERE / "logic_boards").glob("*.txt")):
        target = HERE.parent / "tests" / "logic_boards" / "data" / f"{source.stem}.net"
        target.write_text(netlist_text(source.read_text("utf-8"), source.stem), "utf-8")
        print(target.name)
