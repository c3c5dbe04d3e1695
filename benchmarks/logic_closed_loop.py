"""
How well Kilter finds faults on two boards of chips: stuck and open pins, shorts, bridges, dead chips, one at a time.

    python benchmarks/logic_closed_loop.py [--cases 20] [--seed 1] [--board terminal] [--ways advice random half]

The faulty boards are run by an outside Verilog simulator with a program, contents and bus timing of its own (see
board_verilog.py; the equations of the chips are shared). Only a logic probe looks, and one word in fifty is wrong. A
case counts only where some net shows another word than on good boards, whose programs agree on it: the object was seen
not to work. That net, at a plug where there is one, is the first reading; it is read twice, as anyone would.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from pathlib import Path
from subprocess import TimeoutExpired

import numpy as np

from board_verilog import probe
from kilter.circuit.board import Board
from kilter.diagnose.enumerate import Limits
from kilter.importers.load import load_board
from kilter.parts.kinds import modes_of
from kilter.records.reading import Reading
from kilter.records.test import Test
from kilter.services.diagnose import Diagnoser, Diagnosis
from kilter.simulate.chain import usual_chain
from kilter.simulate.logic.live_board import LiveBoard, live_board
from kilter.simulate.logic.pictures import Pictures

DATA = Path(__file__).parent.parent / "tests" / "logic_boards" / "data"
WORDS = ("low", "high", "pulsing", "floating", "between")
MISREAD = 0.02
MOST_TESTS = 12
GOOD = 5
"""Good boards that tell what is usual."""
INJECTED = ("stuck_low", "stuck_high", "open", "bridge", "dead")


def draw(board: Board, live: LiveBoard, random: np.random.Generator) -> tuple[tuple[str, str], tuple[object, ...]]:
    """A fault by its prior odds, and one of its pictures by their shares."""
    known = Pictures(board, live)
    faults = [(part.ref, mode) for part in board.parts.values() if part.ref in live.types for mode in modes_of(part)
              if mode.key.split(" ")[0] in INJECTED]  # fmt: skip
    odds = np.array([mode.odds for _, mode in faults])
    while True:
        ref, mode = faults[int(random.choice(len(faults), p=odds / odds.sum()))]
        pictures = known.of(board.states["on"], frozenset({(ref, mode.key)}))
        one = pictures[int(random.choice(len(pictures), p=[picture.share for picture in pictures]))]
        if one.defects and not one.unpowered:
            return (ref, mode.key), one.defects


def half_splitting(diagnosis: Diagnosis, live: LiveBoard) -> Test | None:
    """The net with about half of the suspects, by weight, on the way to it: no predictions but who feeds whom."""
    shares = diagnosis.posterior.parts()
    total = sum(shares.values())
    behind = feeding(live)
    tests = [one.test for one in diagnosis.advice]
    return min(tests, key=lambda t: abs(sum(shares.get(ref, 0.0) for ref in behind.get(t.point, ())) - total / 2),
               default=None)  # fmt: skip


def feeding(live: LiveBoard) -> dict[str, frozenset[str]]:
    """Net to the chips within three chips behind it."""
    drivers: dict[str, set[tuple[str, str]]] = {}
    for gate in live.netlist.gates:
        drivers.setdefault(gate.output, set()).update((gate.part, net) for net in gate.inputs)
    for one in live.netlist.registers:
        for net in one.drives().values():
            drivers.setdefault(net, set()).update((one.part, read) for read in one.reads().values())
    found = {}
    for net in live.known_nets:
        refs, ahead = set(), {net}
        for _ in range(24):
            step = {pair for one in ahead for pair in drivers.get(one, ())}
            refs |= {ref for ref, _ in step}
            ahead = {read for _, read in step}
            if len(refs) > 3:
                break
        found[net] = frozenset(refs)
    return found


def sure_words(boards: Sequence[dict[str, str]]) -> dict[str, str]:
    """The words on which several good boards with programs of their own agree."""
    return {net: word for net, word in boards[0].items() if all(one[net] == word for one in boards)}


def ranking(diagnosis: Diagnosis) -> list[set[str]]:
    """Suspects in order, tied ones together."""
    ordered = []
    for suspect in diagnosis.suspects:
        group = next((set(tie) for tie in diagnosis.ties if suspect.part in tie), {suspect.part})
        if group not in ordered:
            ordered.append(group)
    return ordered


def follow(
    diagnoser: Diagnoser, board: Board, live: LiveBoard, shown: dict[str, str], way: str, random: np.random.Generator,
    first: str,
) -> tuple[Diagnosis, int]:  # fmt: skip
    """Ask until the stop rule says to act or there were too many tests; the last diagnosis and the number of tests."""
    readings: list[Reading] = [_reading(first, shown[first])] * 2
    while True:
        diagnosis = diagnoser.diagnose(readings)
        if diagnosis.decision.action == "act" or len(readings) >= MOST_TESTS or not diagnosis.advice:
            return diagnosis, len(readings)
        test = diagnosis.advice[0].test
        if way == "random":
            test = diagnosis.advice[int(random.integers(len(diagnosis.advice)))].test
        elif way == "half":
            test = half_splitting(diagnosis, live) or test
        net = live.net(board.points[test.point].net)
        word = shown[net] if random.random() >= MISREAD else str(random.choice(WORDS))
        readings.append(_reading(test.point, word))


def _reading(point: str, word: str) -> Reading:
    return Reading(point, "level", None, word, state="on", instrument="logic_probe")


def main(arguments: Sequence[str] | None = None) -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--cases", type=int, default=20)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--board", nargs="+", default=["terminal", "controller"])
    options.add_argument("--ways", nargs="+", default=["advice", "random", "half"])
    options.add_argument("--verbose", action="store_true")
    chosen = options.parse_args(arguments)
    for name in chosen.board:
        board = load_board(DATA / f"{name}.net")
        live = live_board(board)
        assert live is not None
        limits = Limits(max_faults=1, asker_hypotheses=400)
        diagnoser = Diagnoser(
            board, usual_chain(board), ("logic_probe",), True, limits, not_working=True, two_steps=False
        )
        results: dict[str, list[tuple[bool, bool, int, int]]] = {way: [] for way in chosen.ways}
        started, seeds = time.perf_counter(), range(1000 * chosen.seed, 1000 * chosen.seed + GOOD)
        good = sure_words([probe(board, live, (), seed) for seed in seeds])
        plugs = {
            live.net(net) for part in board.parts.values() if part.kind == "connector" for net in part.pins.values()
        }
        unseen = number = 0
        while number < chosen.cases:
            random = np.random.default_rng([chosen.seed, number, unseen])
            fault, defects = draw(board, live, random)
            try:
                twice = [probe(board, live, defects, int(seed)) for seed in random.integers(1 << 20, size=2)]
            except TimeoutExpired:
                unseen += 1  # a loop that swings for ever: no level to be read
                continue
            shown, steady = twice[0], sure_words(twice)
            differ = sorted(net for net in good if net in steady and steady[net] != good[net])
            if not differ:
                unseen += 1
                continue
            first = str(random.choice(sorted(plugs & set(differ)) or differ))
            for way in chosen.ways:
                diagnosis, tests = follow(diagnoser, board, live, shown, way, random, first)
                groups = ranking(diagnosis)
                right = bool(groups) and fault[0] in groups[0]
                alone = bool(diagnosis.suspects) and diagnosis.suspects[0].part == fault[0]
                results[way].append((right, alone, tests, len(groups[0]) if groups else 0))
                if chosen.verbose:
                    top = [(s.part, round(s.probability, 2), s.modes[0][0]) for s in diagnosis.suspects[:3]]
                    print(way, fault, first, tests, diagnosis.decision.action, right, groups[:2], top, flush=True)
            number += 1
        print(f"{name}: {number} faults, {unseen} drawn that no net showed; {time.perf_counter() - started:.0f} s")
        for way, rows in results.items():
            right, alone, tests, size = (np.mean([row[place] for row in rows]) for place in range(4))
            print(
                f"  {way:<8} first or tied {right:.0%}, first alone {alone:.0%}, tests {tests:.1f}, tie of {size:.1f}"
            )


if __name__ == "__main__":
    main()
