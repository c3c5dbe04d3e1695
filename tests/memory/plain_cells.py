"""A second simulator of faulty cells, written apart from the first: plain dictionaries, one fault at a time."""

from __future__ import annotations

import re
from itertools import product

from kilter.signals.memory.march import MarchTest

SHAPE = re.compile(r"<(?:(?P<a>[01rw]+);)?(?P<v>[01rw]+)/(?P<f>[01])/(?P<r>[01-])>")


def _asks(words: str) -> tuple[int, str]:
    """State and operation ('' for none), as ('0', 'w1')."""
    return int(words[0]), words[1:]


def seen(test: MarchTest, notations: list[str], victim: int, aggressor: int, cells: int, start: tuple[int, ...], *,
         down: bool) -> bool:  # fmt: skip
    """Whether any read of the test differs from what a good memory gives."""
    rules = [SHAPE.fullmatch(one) for one in notations]
    held = dict(enumerate(start))

    def still() -> None:
        for _ in range(3):
            for rule in rules:
                assert rule
                state, operation = _asks(rule["v"])
                other = _asks(rule["a"]) if rule["a"] else None
                if operation or (other and other[1]):
                    continue
                if held[victim] == state and (other is None or held[aggressor] == other[0]):
                    held[victim] = int(rule["f"])

    still()
    for element in test.elements:
        order = list(range(cells))
        if element.order == "down" or (element.order == "either" and down):
            order.reverse()
        for cell in order:
            for operation in element.operations:
                word = f"{'w' if operation.write else 'r'}{operation.value}"
                struck = []
                for rule in rules:
                    assert rule
                    state, mine = _asks(rule["v"])
                    other = _asks(rule["a"]) if rule["a"] else None
                    by_victim = bool(mine) and cell == victim and word == mine
                    by_other = bool(other and other[1]) and cell == aggressor and other is not None and word == other[1]
                    in_state = held[victim] == state and (other is None or held[aggressor] == other[0])
                    if (by_victim or by_other) and in_state:
                        struck.append(rule)
                got = held[cell]
                if operation.write:
                    held[cell] = operation.value
                for rule in struck:
                    held[victim] = int(rule["f"])
                    got = got if rule["r"] == "-" else int(rule["r"])
                still()
                if not operation.write and got != operation.value:
                    return True
    return False


def detected(test: MarchTest, notations: list[str], cells: int) -> tuple[int, int]:
    """Detected and all placements; an aggressor below and one above the victim count apart."""
    two = any(";" in one for one in notations)
    orders = [(lambda v, a: v > a), (lambda v, a: v < a)] if two else [lambda v, a: v == a]
    found = 0
    for order in orders:
        pairs = [(v, a) for v in range(cells) for a in range(cells) if order(v, a)]
        found += all(
            seen(test, notations, v, a, cells, start, down=down)
            for v, a in pairs
            for start in product((0, 1), repeat=cells)
            for down in (False, True)
        )
    return found, len(orders)
