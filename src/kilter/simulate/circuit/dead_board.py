"""
An unpowered board under a meter: every probe place and every hypothesis is a lane of one sweep.

Hypotheses are solved on the nominal board and given the spread of the healthy one, since each place to probe makes a
circuit of its own and a full sweep of each would cost too much for a look ahead. A single fault that has a size is
solved at two more sizes, between which others are interpolated; sets of several borrow from their members.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from kilter.circuit.board import Board, State
from kilter.measure.instruments import TestSource
from kilter.simulate.circuit.equations import Equations
from kilter.simulate.circuit.faults import Move
from kilter.simulate.circuit.islands import Layout
from kilter.simulate.circuit.meter import NetPair, leads
from kilter.simulate.circuit.sizes import with_sizes
from kilter.simulate.circuit.sweep import Standing, retry_all, settle_all
from kilter.simulate.prediction import Fault, Hypothesis

Floats = NDArray[np.float64]
Probe = tuple[NetPair, TestSource]
Felt = tuple[Move, ...]

SIZES = (-1.2, 1.2)
"""Draws of a fault's size at which it is solved besides the typical one."""
UNMOVED = 1e-5
"""A reading that a fault of typical size moves by less is not moved by one of another size either. [V]"""


class DeadBoard:
    """
    Voltages between the leads of a meter, remembered by probe and hypothesis.

    Args:
        board: With elements.
        equations: Unpowered, with all probes' pairs among the meter pairs.
        state: What is unplugged and lifted.
        parameters: Healthy samples, shape (n_parameters, S).
    """

    def __init__(self, board: Board, equations: Equations, state: State, parameters: Floats) -> None:
        self.equations, self.parameters = equations, parameters
        self._standing = Standing(board, equations, state, parameters)
        self._healthy: dict[Probe, Floats] = {}
        self._felts: dict[Felt, int] = {}
        self._probes: dict[Probe, int] = {}
        self._known = np.full((0, 0), np.nan)
        self._asked = np.zeros((0, 0), dtype=bool)
        self._starts: dict[tuple[int, int], Floats] = {}
        self._sized = np.full((0, 0, len(SIZES)), np.nan)
        self._sizes_asked = np.zeros((0, 0), dtype=bool)
        self._felt: dict[Hypothesis, tuple[int, bool]] = {}
        self._lanes: dict[Hypothesis, tuple[list[Move], Layout]] = {}

    def healthy(self, probes: Sequence[Probe]) -> Floats:
        """Volts of healthy boards, shape (S, probes); NaN where a lane did not settle."""
        new = [probe for probe in dict.fromkeys(probes) if probe not in self._healthy]
        if new:
            start = np.zeros((self.equations.lu.size + 1, self.parameters.shape[1]))
            lanes = [self._moves(frozenset(), probe) for probe in new]
            volts, settled = _settled(self.equations, self.parameters, lanes, start)
            for row, probe in enumerate(new):
                self._healthy[probe] = np.where(settled[row], volts[row], np.nan)
        return np.stack([self._across(self._healthy[probe], probe) for probe in probes], axis=1)

    def nominal(self, hypotheses: Sequence[Hypothesis], probes: Sequence[Probe]) -> Floats:
        """Volts on the nominal board under each hypothesis, shape (H, probes); NaN where a lane did not settle."""
        self.healthy(probes)
        rows = [self._what_is_felt(one)[0] for one in hypotheses]
        columns = [self._probes.setdefault(probe, len(self._probes)) for probe in probes]
        self._make_room()
        holders, wanted = dict(zip(rows, hypotheses, strict=True)), dict(zip(columns, probes, strict=True))
        missing = np.argwhere(~self._asked[np.ix_(list(holders), list(wanted))])
        felt, across = list(holders), list(wanted)
        new = [(felt[row], across[column]) for row, column in missing]
        if new:
            start = np.stack([np.nan_to_num(self._healthy[wanted[column]][:, :1]) for _, column in new])
            lanes = [self._moves(holders[row], wanted[column]) for row, column in new]
            volts, settled = _settled(self.equations, self.parameters[:, :1], lanes, start)
            volts = np.where(settled[:, None, :], volts, np.nan)
            for lane, (row, column) in enumerate(new):
                self._known[row, column] = self._across(volts[lane], wanted[column])[0]
                self._asked[row, column] = True
                if self._what_is_felt(holders[row])[1]:
                    self._starts[row, column] = np.nan_to_num(volts[lane])
        return np.asarray(self._known[np.ix_(rows, columns)])

    def _make_room(self) -> None:
        """Widens the tables of what is known to all that was ever felt and probed."""
        wide = ((0, len(self._felts) - len(self._known)), (0, len(self._probes) - self._known.shape[1]))
        if wide != ((0, 0), (0, 0)):
            self._known = np.pad(self._known, wide, constant_values=np.nan)
            self._asked, self._sizes_asked = np.pad(self._asked, wide), np.pad(self._sizes_asked, wide)
            self._sized = np.pad(self._sized, (*wide, (0, 0)), constant_values=np.nan)

    def other_sizes(self, hypotheses: Sequence[Hypothesis], probes: Sequence[Probe]) -> Floats:
        """
        What faults of other sizes do to the nominal answer: volts, shape (H, probes, 2), for SIZES in their order.

        A fault with a fixed size has the typical answer twice. A set of several faults is moved as far as that one of
        its sized faults would move it whose typical answer lies nearest, unless the healthy answer lies nearer still.
        """
        typical = self.nominal(hypotheses, probes)
        members = [[one for one in map(_alone, sorted(h)) if self._what_is_felt(one)[1]] for h in hypotheses]
        singles = list(dict.fromkeys(one for some in members for one in some))
        place = {one: row + 1 for row, one in enumerate(singles)}
        alone, moved = self._single_sizes(singles, probes)
        found, across = np.repeat(typical[:, :, None], len(SIZES), axis=2), np.arange(len(probes))
        for row, one in enumerate(hypotheses):
            if members[row]:
                lenders = np.array([0, *(place[one] for one in members[row])] if len(one) > 1 else [place[one]])
                far = np.abs(alone[lenders] - typical[row])
                far[np.isnan(far)] = np.inf
                found[row] += moved[lenders[far.argmin(axis=0)], across]
        return found

    def _single_sizes(self, singles: Sequence[Hypothesis], probes: Sequence[Probe]) -> tuple[Floats, Floats]:
        """
        Typical volts of the healthy board and of sized faults, and what SIZES add to them.

        Returns:
            Shapes (1 + F, probes) and (1 + F, probes, 2).
        """
        rows = [frozenset(), *singles]
        typical = self.nominal(rows, probes)
        felt, columns = [self._what_is_felt(one)[0] for one in rows], [self._probes[probe] for probe in probes]
        here = np.ix_(felt, columns)
        touched = np.abs(typical - typical[0]) > UNMOVED
        missing = np.argwhere(touched & ~self._sizes_asked[here])
        new = {(felt[f], columns[p]): (rows[f], probes[p]) for f, p in missing}
        if new:
            sizes = with_sizes(self.equations, np.repeat(self.parameters[:, :1], len(SIZES), axis=1), SIZES)
            start = np.stack([self._starts[pair] for pair in new])
            lanes = [self._moves(*wanted) for wanted in new.values()]
            volts, settled = _settled(self.equations, sizes, lanes, np.repeat(start, len(SIZES), axis=2))
            volts = np.where(settled[:, None, :], volts, np.nan)
            for row, (pair, (_, probe)) in enumerate(new.items()):
                self._sized[pair] = self._across(volts[row], probe)
                self._sizes_asked[pair] = True
        moved = np.where(touched[:, :, None], self._sized[here] - typical[:, :, None], 0.0)
        return typical, moved

    def _what_is_felt(self, hypothesis: Hypothesis) -> tuple[int, bool]:
        """
        What the circuit feels of a hypothesis: those that are the same to it are solved once.

        Returns:
            Its row in the tables, and whether a fault in it has a size.
        """
        if hypothesis not in self._felt:
            felt = tuple(self._lane(hypothesis)[0])
            self._felt[hypothesis] = self._felts.setdefault(felt, len(self._felts)), _has_size(felt)
        return self._felt[hypothesis]

    def _lane(self, hypothesis: Hypothesis) -> tuple[list[Move], Layout]:
        if hypothesis not in self._lanes:
            self._lanes[hypothesis] = self._standing.lane(hypothesis)
        return self._lanes[hypothesis]

    def _moves(self, hypothesis: Hypothesis, probe: Probe) -> list[Move]:
        pair, source = probe
        moves, layout = self._lane(hypothesis)
        return [*moves, *leads(self.equations, pair, source), *self._standing.ties(layout, pair)]

    def _across(self, volts: Floats, probe: Probe) -> Floats:
        red, black = (self.equations.node_place[net] for net in probe[0])
        return np.asarray(volts[red] - volts[black])


def _alone(fault: Fault) -> Hypothesis:
    return frozenset({fault})


def _has_size(felt: Felt) -> bool:
    return any(verb == "times" for _, verb, _ in felt)


def _settled(
    equations: Equations, parameters: Floats, lanes: Sequence[Sequence[Move]], start: Floats
) -> tuple[Floats, NDArray[np.bool_]]:
    """All lanes, those that plain Newton leaves unsettled tried again with shunts that are removed step by step."""
    volts, settled = settle_all(equations, parameters, lanes, start)
    if not settled.all():
        retry_all(equations, parameters, lanes, volts, settled)
    return volts, settled
