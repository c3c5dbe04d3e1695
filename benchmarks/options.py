"""
What the tree of cures saves against rules of thumb, on made-up problems, and how long a ranking takes.

    python benchmarks/options.py [PROBLEMS]

A problem: five to eight suspects with random chances, something else with up to 0.3; for every suspect a gentle cure
(5 to 25 min, helps with 0.2 to 0.6) and a replacement (40 to 250 min, helps with 0.7 to 0.97); leaving the object loses
600 min, a recheck 15. Three rules of thumb are played beside the tree, each with at most three cures: replace the
likeliest part, then the next; try the gentle cure of the likeliest part before its replacement; replace the part with
the most chance for its cost. A rule stops when the object works and otherwise leaves it at the end. Losses are worked
out, not drawn. The tree knows what the rules know; that it loses least is no surprise, how much less is the question.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence

import numpy as np

from kilter.planning.options.cure import Cure
from kilter.planning.options.tree import SOMETHING_ELSE, Tree

SEED, DEPTH, LEFT, RECHECK = 2026, 3, 600.0, 15.0


def problem(seed: int, beam: int) -> tuple[Tree, list[int], list[int]]:
    """A tree, and the places of the gentle cures and of the replacements, the likeliest part first."""
    draw = np.random.default_rng([SEED, seed])
    count = int(draw.integers(5, 9))
    else_ = float(draw.uniform(0, 0.3))
    chances = np.sort(draw.dirichlet(np.full(count, 0.5)))[::-1] * (1.0 - else_)
    faults = [(f"P{k}", "dead") for k in range(count)]
    beliefs = {frozenset([one]): float(p) for one, p in zip(faults, chances, strict=True)} | {SOMETHING_ELSE: else_}
    cures = []
    for fault in faults:
        for name, low, high, least, most in (("gentle", 5, 25, 0.2, 0.6), ("replace", 40, 250, 0.7, 0.97)):
            odds, cost = float(draw.uniform(least, most)), float(draw.uniform(low, high))
            cures.append(Cure(name, (fault[0],), name, {fault: odds}, cost, 0, "fully", 0.0, 0.0))
    tree = Tree(beliefs, tuple(cures), LEFT, RECHECK, DEPTH, beam)
    return tree, list(range(0, 2 * count, 2)), list(range(1, 2 * count, 2))


def play(tree: Tree, order: Sequence[int]) -> float:
    """Expected loss of trying cures in this order, at most three, then leaving it. [min]"""
    belief, loss, still = tree.belief, 0.0, 1.0
    for cure in order[:DEPTH]:
        after = belief @ tree.moves[cure]
        broken = 1.0 - float(after[0])
        loss += still * (float(tree.costs[cure]) + broken * RECHECK)
        still *= broken
        if broken <= 0:
            return loss
        belief = after / broken
        belief[0] = 0.0
    return loss + still * LEFT


def main() -> None:
    """Prints mean losses and times."""
    trials = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    losses: dict[str, list[float]] = {}
    spent, narrow = [], []
    for seed in range(trials):
        tree, gentle, replace = problem(seed, beam=99)
        rate = sorted(replace, key=lambda a: -tree.fixed(tree.belief, a) / float(tree.costs[a]))
        both = [a for pair in zip(gentle, replace, strict=True) for a in pair]
        for name, order in (("likeliest replaced first", replace), ("gentle, then replaced", both),
                            ("most chance for its cost", rate)):  # fmt: skip
            losses.setdefault(name, []).append(play(tree, order))
        losses.setdefault("leave it", []).append(tree.leave(tree.belief))
        losses.setdefault("tree, wholly", []).append(tree.best(tree.belief))
        began = time.perf_counter()
        narrowed = problem(seed, beam=8)[0]
        losses.setdefault("tree, beam of 8", []).append(narrowed.best(narrowed.belief))
        spent.append(time.perf_counter() - began)
        narrow.append(losses["tree, beam of 8"][-1] / losses["tree, wholly"][-1])
    best = np.mean(losses["tree, wholly"])
    for name, some in losses.items():
        print(f"{name:<26} {np.mean(some):7.1f} min, {np.mean(some) / best:5.2f} times the tree")
    print(f"beam of 8: at worst {100 * (max(narrow) - 1):.2f} % above the whole tree, {1e3 * np.median(spent):.1f} ms")


if __name__ == "__main__":
    main()
