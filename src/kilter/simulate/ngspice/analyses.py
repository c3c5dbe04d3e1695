"""Analyses on a loaded library, each cleaned up after: operating points, small-signal response, transient."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

import numpy as np

from kilter.measure.errors import BadInput
from kilter.simulate.ngspice.library import Library, NotSettled, Numbers

Alteration = tuple[str | float, ...]
"""('alter', element, value), ('alter', element, parameter, value) or ('altermod', model, parameter, value)."""

Point = dict[str, float]
"""Node to volts and 'source#branch' to amperes, all names in lower case."""

# ngspice runs commands, 'shell' among them, that stand between these marks in a netlist.
_REFUSED_CARDS = (".control", "*#", ".include", ".inc ", ".lib")
_REFUSAL_WORDS = ("error", "can't find", "unrecognized", "resistance to low", "no circuit", "unimplemented")
_GIVEN_UP_WORDS = ("aborted", "error", "transient op", "no such vector")
_NUMBERED_NODE = re.compile(r"^v\((.+)\)$", re.IGNORECASE)
_SAFE_WORD = re.compile(r"^[A-Za-z0-9_.:]+$")
_NO_RESULTS = "const"


def operating_point(library: Library, netlist: str) -> Point:
    """
    DC solution of a netlist.

    Raises:
        BadInput: ngspice does not take the netlist as it stands.
        NotSettled: It found no solution, or found one only by running a transient, whose end may mean nothing.
    """
    with _Circuit(library, netlist) as circuit:
        return circuit.settle()


def alter_points(library: Library, netlist: str, points: Sequence[Sequence[Alteration]]) -> list[Point | None]:
    """
    DC solutions of one netlist with values altered; None where there was none.

    Alterations stay until altered again, so each point names every value that the points before it changed.

    Raises:
        BadInput: ngspice does not take the netlist or an alteration.
    """
    with _Circuit(library, netlist) as circuit:
        return [circuit.altered(point) for point in points]


def ac(library: Library, netlist: str, frequencies: Sequence[float]) -> dict[str, Numbers]:
    """
    Small-signal response around the operating point.

    Returns:
        Node to complex volts, shape (len(frequencies),).

    Raises:
        BadInput: ngspice does not take the netlist.
        NotSettled: No operating point.
    """
    with _Circuit(library, netlist) as circuit:
        rows = [circuit.response(float(frequency)) for frequency in frequencies]
    return {name: np.array([row[name] for row in rows]) for name in (rows[0] if rows else {})}


def transient(
    library: Library, netlist: str, step: float, stop: float, max_step: float | None, from_initial: bool
) -> dict[str, Numbers]:
    """
    Course in time.

    Args:
        step: Suggested step. [s]
        stop: End. [s]
        max_step: Largest step, None for ngspice's choice. [s]
        from_initial: Start from the initial conditions in the netlist instead of the operating point.

    Returns:
        'time' and every node and source current by name, all of one shape.

    Raises:
        BadInput: ngspice does not take the netlist.
        NotSettled: It gave up before the end.
    """
    words = [f"{step!r} {stop!r}", f"0 {max_step!r}" if max_step else "", "uic" if from_initial else ""]
    with _Circuit(library, netlist) as circuit:
        return circuit.run("tran " + " ".join(filter(None, words)))


class _Circuit:
    """One netlist in the library for the length of a 'with'."""

    def __init__(self, library: Library, netlist: str) -> None:
        self._library, self._netlist = library, netlist
        self._names: list[tuple[str, str]] = []

    def __enter__(self) -> _Circuit:
        _refuse_commands(self._netlist)
        self._library.hear_nothing_yet()
        self._library.load(self._netlist)
        self._refuse("the netlist")
        return self

    def __exit__(self, *_: object) -> None:
        self._library.command("destroy all")
        self._library.command("remcirc")

    def altered(self, alterations: Sequence[Alteration]) -> Point | None:
        """The operating point after these alterations, None where there is none."""
        self._library.hear_nothing_yet()
        for alteration in alterations:
            self._library.command(_alter_command(alteration))
        if alterations:
            self._refuse(f"the alterations {list(alterations)[:3]}")
        try:
            return self.settle()
        except NotSettled:
            return None

    def settle(self) -> Point:
        """The operating point."""
        library = self._analyse("op")
        point = {plain: library.last(name) for plain, name in self._vectors()}
        library.command("destroy all")
        if any(map(math.isnan, point.values())):
            raise _unsettled("op", "an answer that is not a number")
        return point

    def response(self, frequency: float) -> dict[str, complex]:
        """The response at one frequency. [Hz]"""
        return {
            name: complex(values[-1])
            for name, values in self.run(f"ac lin 1 {frequency!r} {frequency!r}").items()
            if name != "frequency"
        }

    def run(self, command: str) -> dict[str, Numbers]:
        """All vectors of an analysis."""
        library = self._analyse(command)
        vectors = {_plain(name): library.vector(name) for name in library.vector_names()}
        library.command("destroy all")
        if any(not len(values) for values in vectors.values()):
            raise _unsettled(command, "a result that is missing")
        return vectors

    def _analyse(self, command: str) -> Library:
        library = self._library
        library.hear_nothing_yet()
        library.command(command)
        complaint = library.complained_of(_GIVEN_UP_WORDS)
        if complaint or library.plot() == _NO_RESULTS:
            self._refuse_changed_values()
            library.command("destroy all")
            raise _unsettled(command, complaint or "no result at all")
        self._refuse_changed_values()
        return library

    def _vectors(self) -> list[tuple[str, str]]:
        if not self._names:
            self._names = [(_plain(name), name) for name in self._library.vector_names()]
        return self._names

    def _refuse(self, what: str) -> None:
        if self._library.complained_of(_REFUSAL_WORDS):
            raise _bad(what, "; ".join(self._library.complaints[:4]))
        if not self._netlist.strip():
            raise _bad(what, "an empty text")

    def _refuse_changed_values(self) -> None:
        """ngspice puts 1 mohm for a resistance that is zero or missing and goes on; that is not what was asked."""
        changed = self._library.complained_of(("resistance to low", "circuit not parsed", "any circuits loaded"))
        if changed:
            self._library.command("destroy all")
            raise _bad("the netlist", changed)


def _refuse_commands(netlist: str) -> None:
    for number, line in enumerate(netlist.splitlines(), 1):
        if line.strip().lower().startswith(_REFUSED_CARDS):
            raise _bad("the netlist", f"line {number}, '{line.strip()[:60]}', which runs commands or reads other files")


def _alter_command(alteration: Alteration) -> str:
    *words, value = alteration
    known = len(words) in (2, 3) and words[0] in ("alter", "altermod")
    if not known or not isinstance(value, float | int) or not math.isfinite(value):
        raise _bad("an alteration", repr(alteration))
    if not all(_SAFE_WORD.match(str(word)) for word in words):
        raise _bad("an alteration", repr(alteration))
    return " ".join(map(str, words)) + f" = {float(value)!r}"


def _plain(name: str) -> str:
    """'V(12)', as ngspice names the vector of a node called '12', and 'vcc' alike as the node's own name."""
    found = _NUMBERED_NODE.match(name)
    return (found[1] if found else name).lower()


def _bad(what: str, found: str) -> BadInput:
    return BadInput(
        f"Cannot give {what} to ngspice",
        found,
        "elements, models, subcircuits and parameters that ngspice takes without a complaint, with no command section",
        "Correct the line that is named.",
    )


def _unsettled(command: str, found: str) -> NotSettled:
    return NotSettled(
        f"Cannot settle the circuit ({command.split()[0]})",
        f"that ngspice gave up, saying '{found}'",
        "circuits with a DC path to ground at every net and without sources that contradict each other",
        "Look for floating nets or sources in parallel; until then what it would read is unknown.",
    )
