"""
Pivot order and straight-line LU, against numpy.linalg.solve (LAPACK) and counts that can be reckoned by hand.
"""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kilter.measure.errors import BadInput
from kilter.simulate.circuit.numpy_lanes import solve
from kilter.simulate.circuit.ordering import Factorisation, factorise, match_branches

LANES = 5


def _filled(lu: Factorisation, matrix: np.ndarray, right: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Slots and right-hand sides of lanes: matrix (L, n, n) and right (L, n)."""
    slots = np.zeros((lu.slots + 1, len(matrix)), dtype=matrix.dtype)
    for (row, column), slot in lu.slot_of.items():
        slots[slot] = matrix[:, row, column]
    sources = np.zeros((lu.size + 1, len(matrix)), dtype=matrix.dtype)
    sources[: lu.size] = right[:, lu.row_at].T
    return slots, sources


def _answer(lu: Factorisation, matrix: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Unknowns in their own order, shape (L, n)."""
    found = solve(lu, *_filled(lu, matrix, right))[: lu.size]
    answer = np.empty((len(matrix), lu.size), dtype=matrix.dtype)
    answer[:, lu.column_at] = found.T
    return answer


def _random(
    generator: np.random.Generator, size: int, *, share: float
) -> tuple[list[tuple[int, int]], list[int], np.ndarray]:
    """Entries, pivot rows and matrices of an unsymmetric sparse pattern whose pivots dominate their rows."""
    pivot_row = [int(row) for row in generator.permutation(size)]
    pattern = generator.random((size, size)) < share
    pattern[pivot_row, np.arange(size)] = True
    matrix = generator.uniform(-1.0, 1.0, (LANES, size, size)) * pattern
    matrix[:, pivot_row, np.arange(size)] = np.abs(matrix).sum(axis=2)[:, pivot_row] + 1.0
    return [(int(r), int(c)) for r, c in np.argwhere(pattern)], pivot_row, matrix


@settings(max_examples=60, deadline=None)
@given(size=st.integers(1, 25), seed=st.integers(0, 2**32 - 1), share=st.floats(0.02, 0.6))
def test_lanes_equal_lapack(size: int, seed: int, share: float) -> None:
    """Five lanes of a random unsymmetric pattern with pivots off the diagonal: LAPACK's answers to 1e-9."""
    generator = np.random.default_rng(seed)
    entries, pivot_row, matrix = _random(generator, size, share=share)
    right = generator.uniform(-1.0, 1.0, (LANES, size))
    lu = factorise(size, entries, pivot_row, {})
    wanted = np.linalg.solve(matrix, right[:, :, None])[:, :, 0]
    assert _answer(lu, matrix, right) == pytest.approx(wanted, rel=1e-9, abs=1e-9)


def test_complex_lanes_equal_lapack() -> None:
    """The same recipe solves complex lanes."""
    generator = np.random.default_rng(1)
    entries, pivot_row, real = _random(generator, 12, share=0.2)
    matrix = real + 1j * real[:, :, :] * generator.uniform(-1.0, 1.0, real.shape)
    right = generator.uniform(-1.0, 1.0, (LANES, 12)) + 0j
    wanted = np.linalg.solve(matrix, right[:, :, None])[:, :, 0]
    assert _answer(factorise(12, entries, pivot_row, {}), matrix, right) == pytest.approx(wanted, rel=1e-9)


@settings(max_examples=30, deadline=None)
@given(size=st.integers(2, 20), seed=st.integers(0, 2**32 - 1))
def test_a_leaner_recipe_gives_the_same_answers(size: int, seed: int) -> None:
    """Where some entries are zero in every lane, the recipe without their steps is no longer and still right."""
    generator = np.random.default_rng(seed)
    entries, pivot_row, matrix = _random(generator, size, share=0.4)
    empty = (generator.random((size, size)) < 0.5) & (matrix != 0).any(axis=0)
    empty[pivot_row, np.arange(size)] = False
    matrix[:, empty] = 0.0
    right = generator.uniform(-1.0, 1.0, (LANES, size))
    lu = factorise(size, entries, pivot_row, {})
    slots, _ = _filled(lu, matrix, right)
    lean = lu.without(slots.any(axis=1))
    assert lean.steps <= lu.steps
    wanted = np.linalg.solve(matrix, right[:, :, None])[:, :, 0]
    assert _answer(lean, matrix, right) == pytest.approx(wanted, rel=1e-9, abs=1e-9)


class TestSteps:
    def test_a_chain_fills_nothing(self) -> None:
        """A ladder of n nets, ends first: one step for each of n - 1 eliminations, whatever the numbering."""
        size = 40
        shuffled = np.random.default_rng(3).permutation(size)
        links = [(int(shuffled[i]), int(shuffled[i + 1])) for i in range(size - 1)]
        entries = [(i, i) for i in range(size)] + links + [(b, a) for a, b in links]
        lu = factorise(size, entries, list(range(size)), {})
        assert lu.steps == size - 1
        assert lu.slots == len(entries)

    def test_the_hub_of_a_star_goes_last(self) -> None:
        """A supply with n loads: eliminated first, it would fill all n*n places; last, it fills none."""
        size = 30
        entries = [(i, i) for i in range(size)] + [(0, i) for i in range(1, size)] + [(i, 0) for i in range(1, size)]
        lu = factorise(size, entries, list(range(size)), {})
        assert int(np.flatnonzero(lu.column_at == 0)[0]) >= size - 2
        assert lu.steps == size - 1

    def test_never_more_than_dense(self) -> None:
        """A full matrix of n takes n(n-1)(2n-1)/6 steps, the sum of squares, and a sparse one fewer."""
        size = 9
        full = [(r, c) for r in range(size) for c in range(size)]
        assert factorise(size, full, list(range(size)), {}).steps == size * (size - 1) * (2 * size - 1) // 6

    def test_near_the_best_of_all_orders(self) -> None:
        """Over 30 random patterns of 6 unknowns the orders found cost at most a tenth more than the best of all 720."""
        generator = np.random.default_rng(8)
        spent = best = 0
        for _ in range(30):
            entries, _, _ = _random(generator, 6, share=0.3)
            entries = sorted({*entries, *((i, i) for i in range(6))})
            spent += factorise(6, entries, list(range(6)), {}).steps
            best += min(_steps_in_order(6, entries, order) for order in permutations(range(6)))
        assert spent <= 1.1 * best

    def test_what_must_come_before_does(self) -> None:
        """`after` is obeyed even against the count."""
        entries = [(i, i) for i in range(6)] + [(0, i) for i in range(1, 6)] + [(i, 0) for i in range(1, 6)]
        order = list(factorise(6, entries, list(range(6)), {1: {0}}).column_at)
        assert order.index(0) < order.index(1)


def _steps_in_order(size: int, entries: list[tuple[int, int]], order: tuple[int, ...]) -> int:
    """Multiply-subtract steps of plain elimination in a given order, on a table of truth values."""
    table = np.zeros((size, size), dtype=bool)
    table[tuple(zip(*entries, strict=True))] = True
    left, steps = set(range(size)), 0
    for pivot in order:
        left.discard(pivot)
        rows = [r for r in left if table[r, pivot]]
        columns = [c for c in left if table[pivot, c]]
        steps += len(rows) * len(columns)
        for row in rows:
            table[row, columns] = True
    return steps


class TestBranches:
    def test_every_branch_gets_a_node_of_its_own(self) -> None:
        """A chain of three sources over three nets has one assignment, found by moving earlier choices."""
        assert match_branches([("V1", [1, 2]), ("V2", [1]), ("V3", [2, 3])]) == [2, 1, 3]

    def test_a_loop_of_sources_is_refused_with_its_name(self) -> None:
        """Three sources between two nets cannot all be matched."""
        with pytest.raises(BadInput, match="V3"):
            match_branches([("V1", [1]), ("V2", [1, 2]), ("V3", [1, 2])])

    @settings(max_examples=60, deadline=None)
    @given(st.lists(st.lists(st.integers(0, 5), min_size=1, max_size=2, unique=True), min_size=1, max_size=5))
    def test_matches_whenever_it_can_be_done(self, nodes: list[list[int]]) -> None:
        """Against every assignment there is, tried one by one."""
        possible = any(
            all(node in allowed for node, allowed in zip(chosen, nodes, strict=True))
            for chosen in permutations(range(6), len(nodes))
        )
        branches = [(f"V{number}", allowed) for number, allowed in enumerate(nodes)]
        if not possible:
            with pytest.raises(BadInput):
                match_branches(branches)
            return
        found = match_branches(branches)
        assert len(set(found)) == len(found)
        assert all(node in allowed for node, allowed in zip(found, nodes, strict=True))
