"""Rails and points of a board file."""

from __future__ import annotations

from kilter.circuit.board import GROUND, Point, Rail
from kilter.importers.board_draft import Draft
from kilter.importers.board_parts import position_of
from kilter.importers.toml_tables import Table
from kilter.measure.tables import table


def read_rails(draft: Draft) -> None:
    """Read [rails]; without limits a rail has the usual band, which is noted as a guess."""
    for name, entry in draft.file.tables("rails"):
        net = entry.text("net", name)
        net = draft.find_net(net, entry.at("net")) if draft.has_netlist else (draft.signal(net) or net)
        nominal = entry.needed_number("nominal", "V")
        low, high = entry.number("low", "V"), entry.number("high", "V")
        if low is None or high is None:
            band = float(table("guesses")["rail"]["band"]) * abs(nominal)
            low = nominal - band if low is None else low
            high = nominal + band if high is None else high
            draft.guesses.append(f"The rail {name} is taken as good from {low:g} V to {high:g} V.")
        _check_band(entry, low, nominal, high)
        draft.forget_rail(net)
        draft.rails[name] = Rail(name, net, nominal, low, high)
        entry.done()


def _check_band(entry: Table, low: float, nominal: float, high: float) -> None:
    if not low <= nominal <= high:
        raise entry.bad("nominal", f"low {low:g} V, nominal {nominal:g} V, high {high:g} V",
                        "low <= nominal <= high, with their signs", "Put the three in order.")  # fmt: skip


def read_points(draft: Draft) -> None:
    """Read [points]; without any, and where blocks have outputs, each signal that is no net is a point too."""
    for name, entry in draft.file.tables("points"):
        net = draft.find_net(entry.text("net", name), entry.at("net"), signals=True)
        draft.points[name] = Point(
            name=name,
            net=net,
            against=draft.find_net(entry.text("against", GROUND), entry.at("against")),
            label=entry.text("label"),
            position=position_of(entry),
            grade=_grade(entry),
            minutes=_minutes(entry),
            reachable=entry.flag("reachable", default=True),
        )
        entry.done()


def _grade(entry: Table) -> int:
    grade = entry.take("grade")
    if grade is None:
        return 2
    if isinstance(grade, bool) or not isinstance(grade, int) or not 0 <= grade <= 6:
        raise entry.bad("grade", grade, "a whole number from 0 (look) to 6 (irreversible)", "Correct the grade.")
    return grade


def _minutes(entry: Table) -> float | None:
    value = entry.take("minutes")
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value < float("inf"):
        raise entry.bad("minutes", value, "a number of minutes, 0 or more, without quotes", "Write minutes = 2.")
    return float(value)
