"""
The states of a visit: every repair, pulled part or lifted pin makes a new one, and each reading belongs to its own.

A line 'done' among the readings changes the object from there on. The readings after it keep the name of the state
they were taken in, with what was done before them, so that a state of the board and what has happened to the object
are one thing for the predictors.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from kilter.circuit.board import Board, State
from kilter.circuit.places import with_points_across
from kilter.measure.quantities import quantity
from kilter.records.reading import Reading

PROBED = 2
"""Grade from which a quantity is read with a probe, and not seen or felt on the part."""


@dataclass(frozen=True)
class Deeds:
    """What has been done to the object so far: parts renewed, parts pulled, pins lifted."""

    renewed: frozenset[str] = frozenset()
    unplugged: frozenset[str] = frozenset()
    lifted: frozenset[str] = frozenset()

    def after(self, reading: Reading) -> Deeds:
        """The deeds once one more line 'done' is counted in."""
        what = frozenset({reading.point})
        if reading.word == "renewed":
            return Deeds(self.renewed | what, self.unplugged - what, self.lifted)
        if reading.word == "unplugged":
            return replace(self, unplugged=self.unplugged | what)
        if reading.word == "plugged":
            return replace(self, unplugged=self.unplugged - what)
        return replace(self, lifted=self.lifted | what)

    def applied_to(self, state: State) -> State:
        """A state of the board as it is after these deeds, with a name that tells them."""
        words = [f"{ref} renewed" for ref in sorted(self.renewed)]
        words += [f"{ref} pulled" for ref in sorted(self.unplugged)]
        words += [f"{pin} lifted" for pin in sorted(self.lifted)]
        return replace(
            state,
            name=", ".join([state.name, *words]),
            renewed=state.renewed | self.renewed,
            unplugged=state.unplugged | self.unplugged,
            lifted=state.lifted | self.lifted,
        )


@dataclass(frozen=True)
class Visit:
    """
    Readings in order, each in the state it was taken in.

    Args:
        board: With all states of the visit among its states.
        readings: Without the lines 'done', their states renamed.
        deeds: What has been done by now.
        plain: State name of the visit to the board's own state name.
    """

    board: Board
    readings: tuple[Reading, ...]
    deeds: Deeds
    plain: Mapping[str, str] = field(default_factory=dict)

    def states_now(self) -> tuple[State, ...]:
        """The board's own states, each as the object stands now."""
        own = dict.fromkeys(self.plain.values())
        return tuple(self.deeds.applied_to(self.board.states[name]) for name in own)


def follow(board: Board, readings: Iterable[Reading]) -> Visit:
    """
    Goes through the readings in order and gives each the state it was taken in.

    A reading on a two-legged part is taken across its legs; the board gets a point there.
    """
    readings = tuple(readings)
    board = with_points_across(board, [one.point for one in readings if quantity(one.quantity).grade >= PROBED])
    deeds, kept = Deeds(), []
    states, plain = dict(board.states), {name: name for name in board.states}

    def enter(name: str) -> str:
        state = deeds.applied_to(board.state(name))
        states.setdefault(state.name, state)
        plain.setdefault(state.name, name)
        return state.name

    for reading in readings:
        if reading.quantity == "done":
            deeds = deeds.after(reading)
        else:
            kept.append(replace(reading, state=enter(reading.state)))
    for name in board.states:
        enter(name)
    return Visit(replace(board, states=states), tuple(kept), deeds, plain)
