"""Gates against real bit sequences: a line that moves is 4,096 random bits, and the gate is Python's own & | ^."""

from functools import reduce
from operator import and_, or_, xor
from random import Random

import pytest
from activity_boards import ON, block, board, predicted

from kilter.measure.scales import from_scale
from kilter.records.test import Test
from kilter.simulate.activity import ActivityPredictor

BITS = 4096
ONES = (1 << BITS) - 1
RULES = {"and": and_, "or": or_, "xor": xor, "buffer": lambda a, _: a}
NEGATED = {"nand": "and", "nor": "or", "not": "buffer"}
KINDS = ["and", "or", "xor", "nand", "nor", "not", "buffer"]
SOURCES = {"level low": {"level": 0}, "level high": {"level": 1}, "moving": {"frequency": 1e6}}


def random_gates(random, size, *, tree):
    """Sources and gates; in a tree every line is heard at most once, so that no line meets itself again."""
    made = [block(f"s{n}", "given", numbers=SOURCES[random.choice(list(SOURCES))]) for n in range(size)]
    free = [each.name for each in made]
    for n in range(size):
        kind = random.choice(KINDS)
        count = 1 if kind in ("not", "buffer") else random.randint(2, 3)
        heard = random.sample(free, min(count, len(free)))
        if tree:
            free = [name for name in free if name not in heard]
        made.append(block(f"g{n}", kind, f"g{n}", **{"in" if count == 1 else f"p{k}": h for k, h in enumerate(heard)}))
        free.append(f"g{n}")
    return board(*made)


def sequences(on, stuck, random):
    """Bits of every line; blocks are in an order in which each follows those it hears."""
    bits = {}
    for each in on.blocks.values():
        if each.name in stuck:
            bits[each.name] = ONES if stuck[each.name] == "stuck_high" else 0
        elif each.kind == "given":
            level = each.numbers.get("level")
            bits[each.name] = random.getrandbits(BITS) if level is None else ONES * int(level)
        else:
            out = reduce(RULES[NEGATED.get(each.kind, each.kind)], [bits[s] for s in each.inputs.values()])
            bits[each.name] = out ^ ONES if each.kind in NEGATED else out
    return bits


def word(bits):
    return {0: "low", ONES: "high"}.get(bits, "pulsing")


@pytest.mark.parametrize("tree", [True, False])
@pytest.mark.parametrize("seed", range(15))
def test_random_gates(seed, tree):
    """In a tree every word agrees; where lines meet themselves again, a line that is said to rest does rest so."""
    random = Random(seed)
    on = random_gates(random, 20, tree=tree)
    chips = [each.name for each in on.blocks.values() if each.parts]
    stuck = [
        {ref: random.choice(["stuck_low", "stuck_high"]) for ref in random.sample(chips, count)}
        for count in (0, 1, 1, 2, 3)
    ]
    answer = ActivityPredictor().predict(
        on, ON, [frozenset(faults.items()) for faults in stuck], [Test(name, "level", "on") for name in on.blocks]
    )
    agreed = 0
    for lane, faults in enumerate(stuck):
        bits = sequences(on, faults, random)
        for column, name in enumerate(on.blocks):
            categories, chances = answer.words[column]
            said = categories[int(chances[lane].argmax())]
            assert chances[lane].max() == 1.0
            if tree or said != "pulsing":
                assert said == word(bits[name]), (name, faults)
                agreed += 1
    assert agreed > 20


def gate_of(kind, *numbers):
    sources = [block(f"s{n}", "given", numbers=each) for n, each in enumerate(numbers)]
    return board(*sources, block("g", kind, "U1", **{f"p{n}": f"s{n}" for n in range(len(numbers))}))


def test_one_moving_line_keeps_its_frequency_two_do_not():
    one, two = gate_of("nand", {"frequency": 2e6}, {"level": 1}), gate_of("and", {"frequency": 2e6}, {"frequency": 3e6})
    mean, _, unknown = predicted(one, "g", "frequency")
    assert (from_scale("frequency", mean), unknown) == (pytest.approx(2e6), 0.0)
    assert predicted(two, "g", "frequency")[2] == 1.0


def test_a_low_line_decides_an_and_whatever_the_other_does():
    unknown = {}
    assert predicted(gate_of("and", {"level": 0}, unknown), "g", "level") == {"low": 1.0}
    assert predicted(gate_of("or", {"level": 1}, unknown), "g", "level") == {"high": 1.0}


def test_a_line_that_nobody_drives_is_unknown_and_so_is_what_it_feeds():
    on = board(block("g", "and", "U1", a="nowhere", b="g2"), block("g2", "given", numbers={"level": 1}))
    even = pytest.approx(dict.fromkeys(["low", "high", "pulsing", "floating", "between"], 0.2))
    assert predicted(on, "nowhere", "level") == even
    assert predicted(on, "g", "level") == even
