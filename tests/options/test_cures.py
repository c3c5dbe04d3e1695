"""Cures of parts, and the reduced tree: what a beam may lose, and that free information never raises the loss."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kilter.measure.tables import table
from kilter.parts.kinds import modes_of, part_kinds
from kilter.planning.options.catalogue import assumed_spares, cures_of
from kilter.planning.options.cure import Cure
from kilter.planning.options.tree import SOMETHING_ELSE, Tree
from kilter.records.part import Part


def random_tree(seed: int, *, cures: int, beam: int) -> Tree:
    draw = np.random.default_rng(seed)
    faults = [(f"P{k}", "dead") for k in range(5)]
    sets = [frozenset([one]) for one in faults] + [frozenset(faults[:2]), frozenset(faults[2:4]), SOMETHING_ELSE]
    beliefs = dict(zip(sets, draw.dirichlet(np.ones(len(sets))).tolist(), strict=True))
    made = tuple(
        Cure(f"c{c}", ("P",), "", {fault: float(draw.uniform()) for fault in faults if draw.uniform() < 0.4},
             float(draw.uniform(5, 200)), 0, "fully", 0.0, 0.0)
        for c in range(cures)
    )  # fmt: skip
    return Tree(beliefs, made, 600.0, 15.0, 3, beam)


@pytest.mark.parametrize("seed", range(20))
def test_a_beam_never_promises_more_than_there_is(seed: int) -> None:
    """With all cures followed the loss is the least; with four of nine it is at most a little higher."""
    whole, narrow = random_tree(seed, cures=9, beam=9), random_tree(seed, cures=9, beam=4)
    best, found = whole.best(whole.belief), narrow.best(narrow.belief)
    assert best - 1e-9 <= found <= 1.05 * best + 1e-9


@pytest.mark.parametrize("seed", range(20))
def test_more_cures_more_tries_and_free_tests_never_hurt(seed: int) -> None:
    tree = random_tree(seed, cures=5, beam=5)
    best = tree.best(tree.belief)
    assert replace(tree, cures=tree.cures[:4]).best(tree.belief) >= best - 1e-9
    assert replace(tree, depth=2).best(tree.belief) >= best - 1e-9
    shares = np.random.default_rng(seed).dirichlet(np.ones(4), size=len(tree.states))
    assert tree.after_test(tree.belief, shares) <= best + 1e-9


@pytest.mark.parametrize("kind", sorted(part_kinds()))
def test_every_kind_can_be_replaced_or_mended(kind: str) -> None:
    """Whatever fails, something is weighed; chances stay chances, and no grade is below what the cure touches."""
    for socketed, original in ((True, True), (False, True), (False, False)):
        part = Part("X1", kind, {"1": "a", "2": "b"}, number=2, socketed=socketed, original=original)
        modes = [mode.key for mode in modes_of(part)]
        cures = cures_of(part, modes, assumed_spares())
        covered = {mode for cure in cures for _, mode in cure.removes}
        assert covered == set(modes)
        assert all(0.0 < odds <= 1.0 for cure in cures for odds in cure.removes.values())
        assert all(cure.grade >= (3 if socketed else 3 if cure.key == "clean" else 4) for cure in cures)
        assert all(cure.undo in ("fully", "partly", "not") for cure in cures)


def test_options_of_the_data_file_name_kinds_and_modes_that_exist() -> None:
    kinds = part_kinds()
    modes = {mode.key for kind in kinds.values() for mode in kind.modes}
    classes = table("planning/repair_options")["classes"]["value"]
    for row in table("planning/repair_options")["options"]:
        assert row["kinds"] == ["*"] or set(row["kinds"]) <= set(kinds)
        assert set(row["success"]) <= modes | set(classes) | {"*"}
        assert len(row["source"]) > 20
