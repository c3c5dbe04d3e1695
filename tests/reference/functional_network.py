"""A functional board as a Bayes net, for exact inference by pyAgrum."""

from __future__ import annotations

from itertools import product

from functional_boards import Functional, Unit


def network(gum, board: Functional, read, *, odds: float, gross: float, outside: float, like_healthy: float):
    """
    The Bayes net of a board with some readings.

    Every part is healthy or holds one value; every line is a function of its part and what it hears; every reading is
    true or, with chance `gross`, any word. A node 'world' stands for the fault being in the model or not; outside it
    each reading is, with chance `like_healthy`, that of a healthy board, else any word.
    """
    net = gum.BayesNet("board")
    net.add(gum.LabelizedVariable("world", "world", 2))
    net.cpt("world").fillWith([1 - outside, outside])
    healthy = board.lines({})
    for unit in board.units:
        _add_unit(gum, net, board, unit, odds)
        if unit.name in read:
            _add_reading(gum, net, unit, healthy[unit.name], gross, like_healthy)
    return net


def _add_unit(gum, net, board: Functional, unit: Unit, odds: float) -> None:
    net.add(gum.LabelizedVariable(unit.part, unit.part, unit.values + 1))
    net.cpt(unit.part).fillWith([1 - odds] + [odds / unit.values] * unit.values)
    net.add(gum.LabelizedVariable(unit.name, unit.name, unit.values))
    net.addArc(unit.part, unit.name)
    heard = [line for line in unit.hears if line not in board.given]
    for line in heard:
        net.addArc(line, unit.name)
    sizes = {other.name: other.values for other in board.units}
    for state, *values in product(range(unit.values + 1), *(range(sizes[line]) for line in heard)):
        known = dict(board.given) | dict(zip(heard, values, strict=True))
        out = unit.out([known[line] for line in unit.hears]) if state == 0 else state - 1
        chances = [float(value == out) for value in range(unit.values)]
        net.cpt(unit.name)[{unit.part: state} | dict(zip(heard, values, strict=True))] = chances


def _add_reading(gum, net, unit: Unit, healthy: int, gross: float, like_healthy: float) -> None:
    name, even = f"read {unit.name}", 1 / len(unit.words)
    net.add(gum.LabelizedVariable(name, name, len(unit.words)))
    for parent in (unit.name, "world"):
        net.addArc(parent, name)

    def shows(value: int) -> list[float]:
        return [(1 - gross) * (word == value) + gross * even for word in range(len(unit.words))]

    for value in range(unit.values):
        net.cpt(name)[{unit.name: value, "world": 0}] = shows(value)
        net.cpt(name)[{unit.name: value, "world": 1}] = [
            like_healthy * chance + (1 - like_healthy) * even for chance in shows(healthy)
        ]


def exact(gum, net, board: Functional, read):
    """Chance of each mode with the fault in the model, by (part, mode), and the chance of 'not in the model'."""
    inference = gum.LazyPropagation(net)
    inference.setEvidence(
        {f"read {unit.name}": unit.words.index(read[unit.name]) for unit in board.units if unit.name in read}
    )
    for unit in board.units:
        inference.addJointTarget({unit.part, "world"})
    inference.makeInference()
    modes = {}
    for unit in board.units:
        joint = inference.jointPosterior({unit.part, "world"})
        for value in range(unit.values):
            modes[unit.part, f"gives {value}"] = float(joint[{unit.part: value + 1, "world": 0}])
    return modes, float(inference.posterior("world")[1])
