"""Library symbols inside S-expression schematics: pins by unit and style, power symbols, symbols that extend others."""

from __future__ import annotations

import re

from kilter.importers.drawing import Place
from kilter.importers.sexpr import Form
from kilter.importers.sexpr_figures import figure, spot
from kilter.importers.symbols import Symbol, SymbolPin

PER_MILLIMETRE = 10_000
"""Whole-number places of the drawing in one millimetre."""

UNIT = re.compile(r".*_(\d{1,6})_(\d{1,6})", re.DOTALL)


def place_of(form: Form) -> Place:
    """The place that an (at x y ...) or (xy x y) names."""
    x, y = spot(form)
    return (round(x * PER_MILLIMETRE), round(y * PER_MILLIMETRE))


def library_symbols(schematic: Form) -> dict[str, Symbol]:
    """The symbols that a sheet carries with it, by their full name."""
    forms = {form.at(1): form for form in schematic.form("lib_symbols").forms("symbol")}
    short = {name.split(":")[-1]: form for name, form in forms.items()}
    return {name: _symbol(name, form, forms | short) for name, form in forms.items()}


def _symbol(name: str, form: Form, forms: dict[str, Form]) -> Symbol:
    power = form.forms("power")
    symbol = Symbol(name, power=bool(power), local=bool(power) and "local" in power[0])
    seen = {id(form)}
    while form.word("extends") in forms and id(forms[form.word("extends")]) not in seen:
        form = forms[form.word("extends")]
        seen.add(id(form))
    for body in (form, *form.forms("symbol")):
        match = UNIT.fullmatch(body.at(1)) if body is not form else None
        unit, style = (int(match[1]), int(match[2])) if match else (0, 0)
        symbol.pins += [_pin(pin, unit, style) for pin in body.forms("pin")]
    return symbol


def _pin(pin: Form, unit: int, style: int) -> SymbolPin:
    hidden = "hide" in pin or pin.word("hide") == "yes"
    return SymbolPin(pin.word("number"), pin.word("name"), place_of(pin.form("at")), unit, style,
                     pin.at(1) == "power_in", hidden)  # fmt: skip


def unit_of(form: Form) -> tuple[int, int]:
    """Unit and drawing style of a placed symbol; 1 where it says nothing."""
    style = form.form("body_style") if form.forms("body_style") else form.form("convert")
    return int(figure(form.form("unit"), 1, 1)), int(figure(style, 1, 1))
