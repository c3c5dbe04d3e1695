"""
Boards of gates, adders and multipliers through the whole service, from board file and readings file to posterior.

Source of every expected posterior: exact inference (junction tree) by pyAgrum on a net that functional_network.py
writes from the same description. Source of the bits: Shannon's definition, summed over the joint table of all fault
sets here in the test.
"""

from collections import defaultdict
from math import log2
from random import Random

import pytest
from functional_boards import board_text, fault_sets, random_board, random_readings
from functional_network import exact, network

from kilter.diagnose.enumerate import Limits
from kilter.diagnose.settings import setting
from kilter.importers.load import load_board, load_readings
from kilter.parts.kinds import part_kind
from kilter.services.diagnose import Diagnoser

gum = pytest.importorskip("pyagrum", reason="the outside Bayes-net library is not installed")

ODDS = part_kind("function_unit").odds
ALL = Limits(max_faults=6, complete_limit=10**5, batch=10**5, pruned_mass=0.0, asker_hypotheses=10**5)


def diagnosed(folder, board, read, **choices):
    file, lines = folder / "board.toml", folder / "read.csv"
    file.write_text(board_text(board))
    rows = [f"{unit.name},{unit.quantity},{read[unit.name]}" for unit in board.units if unit.name in read]
    lines.write_text("\n".join(["point,quantity,value", *rows]))
    known = load_board(file)
    return Diagnoser(known, limits=ALL, **choices).diagnose(load_readings(lines, known))


def check(found, board, read, gross, outside):
    net = network(gum, board, read, odds=ODDS, gross=gross, outside=outside, like_healthy=setting("healthy_like"))
    modes, not_in_model = exact(gum, net, board, read)
    assert found.posterior.visited_mass == 1.0
    assert found.posterior.prior_beyond == pytest.approx(0.0, abs=1e-12)
    assert found.posterior.modes() == pytest.approx(modes, abs=1e-6)
    assert found.posterior.not_in_model == pytest.approx(not_in_model, abs=1e-6)
    for unit in board.units:
        whole = sum(share for (part, _), share in modes.items() if part == unit.part)
        assert found.posterior.parts()[unit.part] == pytest.approx(whole, abs=1e-6)


@pytest.mark.parametrize("seed", range(20))
def test_gates_read_with_a_logic_probe(tmp_path, seed):
    """Gross errors at 2 % and 'not in the model' as the settings have it; every fourth reading or so is nonsense."""
    random = Random(seed)
    board = random_board(random, random.randint(4, 6), gates_only=True)
    read = random_readings(random, board, 4, gross=0.25)
    check(diagnosed(tmp_path, board, read, gross=0.02), board, read, 0.02, setting("not_in_model"))


@pytest.mark.parametrize("seed", range(16))
def test_numbers_and_gates(tmp_path, seed):
    """Half of the boards with readings that are believed and a model that holds every fault, half without."""
    random = Random(1000 + seed)
    gross, outside = ((0.0, 0.0), (0.05, 0.1))[seed % 2]
    board = random_board(random, random.randint(3, 6), gates_only=False)
    read = random_readings(random, board, 3, gross)
    check(diagnosed(tmp_path, board, read, gross=gross, outside=outside), board, read, gross, outside)


def entropy(chances):
    return -sum(chance * log2(chance) for chance in chances if chance > 0)


def bits_by_hand(board, read, unit, gross):
    """Entropy of what the unit would show, less what is left of it when the fault set is known."""
    even = gross / len(unit.words)
    shown, left, total = defaultdict(float), 0.0, 0.0
    for held in fault_sets(board):
        lines, weight = board.lines(held), 1.0
        for other in board.units:
            weight *= ODDS / other.values if other.name in held else 1.0 - ODDS
            if other.name in read:
                true = other.words[lines[other.name]] == read[other.name]
                weight *= (1.0 - gross) * true + gross / len(other.words)
        chances = [(1.0 - gross) * (word == lines[unit.name]) + even for word in range(len(unit.words))]
        for word, chance in enumerate(chances):
            shown[word] += weight * chance
        left, total = left + weight * entropy(chances), total + weight
    return entropy(chance / total for chance in shown.values()) - left / total


@pytest.mark.parametrize("seed", range(8))
def test_bits_of_every_next_test(tmp_path, seed):
    random = Random(2000 + seed)
    gross = (0.0, 0.02)[seed % 2]
    board = random_board(random, 4, gates_only=False)
    read = random_readings(random, board, 1, gross=0.0)
    found = diagnosed(tmp_path, board, read, gross=gross, outside=0.0)
    advised = {advice.test.point: advice.bits for advice in found.advice if not advice.retake}
    for unit in board.units:
        if unit.name not in read:
            expected = bits_by_hand(board, read, unit, gross)
            assert advised.get(unit.name, 0.0) == pytest.approx(
                expected if expected >= setting("least_bits") else 0.0, abs=1e-6
            )
    assert set(advised) <= {unit.name for unit in board.units} - set(read)
    assert advised
