"""Small boards of blocks, for the tests of the activity predictor."""

from kilter.circuit.board import Block, Board, Rail, State
from kilter.records.part import Part
from kilter.records.test import Test
from kilter.simulate.activity import ActivityPredictor

ON, OFF = State("on", powered=True), State("off", powered=False)


def block(name, kind, parts="", rails="", numbers=None, outputs=None, **inputs):
    """A block; its output is named like itself unless said."""
    out = {"out": name} if outputs is None else outputs
    return Block(name, kind, tuple(parts.split()), tuple(rails.split()), inputs, out, numbers=numbers or {})


def board(*blocks, parts=(), rails=(), **more):
    """A board of these blocks; a part that nobody describes is a logic chip without pins."""
    known = {part.ref: part for part in parts}
    refs = {ref for each in blocks for ref in each.parts}
    known |= {ref: Part(ref, "logic", {}) for ref in sorted(refs - set(known))}
    return Board(
        "test",
        parts=known,
        rails={rail.name: rail for rail in rails},
        blocks={each.name: each for each in blocks},
        states={"on": ON, "off": OFF},
        **more,
    )


FIVE = Rail("V5", "vcc", 5.0, 4.75, 5.25)


def predicted(board, point, key, *faults, state=ON, circuit=None):
    """
    One prediction under one hypothesis.

    Returns (mean, spread, unknown) for a number, {word: chance} for a word.
    """
    test = Test(point, key, state.name)
    answer = ActivityPredictor(circuit).predict(board, state, [frozenset(faults)], [test])
    if 0 in answer.words:
        categories, chances = answer.words[0]
        return {word: float(chance) for word, chance in zip(categories, chances[0], strict=True) if chance}
    return float(answer.mean[0, 0]), float(answer.spread[0, 0]), float(answer.unknown[0, 0])
