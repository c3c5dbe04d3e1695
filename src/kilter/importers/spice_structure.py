"""
The outline of a SPICE netlist: which lines, models, parameters and subcircuits each subcircuit holds.

Nothing is computed here. Lines that no part of Kilter uses are listed in words, with their place.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from kilter.importers.spice_cards import Card, assignments, bad_card, card_of, expression_inside
from kilter.importers.spice_lines import Deck, Line
from kilter.importers.spice_scope import Function

ANALYSIS = frozenset((
    ".op", ".dc", ".ac", ".tran", ".tf", ".noise", ".pz", ".sens", ".disto", ".four", ".fourier", ".print", ".plot",
    ".probe", ".save", ".meas", ".measure", ".width", ".step", ".mc", ".wcase", ".backanno", ".options", ".option",
    ".opt", ".net", ".hb", ".pss", ".sp",
))  # fmt: skip
START_VALUES = frozenset((".ic", ".nodeset"))
CONDITIONS = frozenset((".if", ".elseif", ".else", ".endif"))

MODEL = re.compile(r"\.model\s+(?P<name>\S+)\s+(?P<type>[^\s(]+)(?P<rest>.*)", re.IGNORECASE)
FUNCTION = re.compile(r"\.func\s+(?P<name>[^\W\d]\w*)\s*\((?P<arguments>[^()]*)\)\s*=?\s*(?P<body>.+)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class ModelCard:
    """A `.model` as written: its type in lower case and its parameters' texts."""

    name: str
    type: str
    settings: dict[str, str]
    line: Line


@dataclass
class Definition:
    """The top level or one `.subckt`: everything in it, by lower-case name."""

    name: str
    line: Line | None = None
    ports: tuple[str, ...] = ()
    defaults: dict[str, str] = field(default_factory=dict)
    parameters: dict[str, str] = field(default_factory=dict)
    functions: dict[str, Function] = field(default_factory=dict)
    models: dict[str, ModelCard] = field(default_factory=dict)
    inner: dict[str, Definition] = field(default_factory=dict)
    cards: list[Card] = field(default_factory=list)


@dataclass
class Outline:
    """A whole netlist in outline."""

    top: Definition
    globals: frozenset[str]
    warnings: list[str]


def outline(deck: Deck) -> Outline:
    """
    Sort the lines of a deck into definitions.

    Raises:
        BadInput: A definition that is not closed, or a line that cannot be taken apart.
    """
    found = Outline(Definition("the netlist"), frozenset(), list(deck.warnings))
    open_definitions = [found.top]
    for line in deck.lines:
        word = line.text.split(maxsplit=1)[0].lower()
        if word == ".subckt":
            open_definitions.append(_subcircuit(line, open_definitions[-1]))
        elif word == ".ends":
            _close(line, open_definitions)
        elif word.startswith("."):
            _dot_line(line, word, open_definitions[-1], found)
        else:
            open_definitions[-1].cards.append(card_of(line))
    if len(open_definitions) > 1:
        last = open_definitions[-1]
        assert last.line is not None
        raise bad_card(last.line, f".subckt {last.name} without .ends", "a subcircuit closed by .ends",
                       "Add the .ends line.")  # fmt: skip
    return found


def _subcircuit(line: Line, outer: Definition) -> Definition:
    head, settings = assignments(line.text)
    words = [word for word in head.split()[1:] if word.lower() not in ("params:", "optional:")]
    if len(words) < 2:
        raise bad_card(line, f"'{line.text}'", ".subckt, a name and at least one port", "Name the subcircuit's ports.")
    ports = tuple(words[1:])
    if len({port.lower() for port in ports}) < len(ports):
        raise bad_card(line, f"one port named twice in .subckt {words[0]}", "ports with different names",
                       "Rename one of them.")  # fmt: skip
    definition = Definition(words[0], line, ports, settings)
    outer.inner[words[0].lower()] = definition
    return definition


def _close(line: Line, open_definitions: list[Definition]) -> None:
    if len(open_definitions) == 1:
        raise bad_card(line, ".ends without .subckt", "one .ends for each .subckt", "Remove the line.")
    words = line.text.split()
    if len(words) > 1 and words[1].lower() != open_definitions[-1].name.lower():
        raise bad_card(line, f".ends {words[1]} inside .subckt {open_definitions[-1].name}",
                       f".ends {open_definitions[-1].name}", "Close the inner subcircuit first.")  # fmt: skip
    open_definitions.pop()


def _dot_line(line: Line, word: str, definition: Definition, found: Outline) -> None:
    if word in (".param", ".params"):
        _parameters(line, definition)
    elif word == ".func":
        _function(line, definition)
    elif word == ".model":
        _model(line, definition, found)
    elif word == ".global":
        found.globals |= {name.lower() for name in line.text.split()[1:]}
    elif word in CONDITIONS:
        raise bad_card(line, f"'{word}'", "netlists without conditional parts",
                       "Keep the lines of the branch that holds and remove the others.")  # fmt: skip
    elif word in ANALYSIS:
        found.warnings.append(f"{line.place}: the analysis line '{word}' is not used.")
    elif word in START_VALUES:
        found.warnings.append(f"{line.place}: the starting values of '{word}' are not used.")
    elif word == ".temp":
        found.warnings.append(f"{line.place}: '{line.text}' is not used; the circuit is taken at 27 °C.")
    else:
        found.warnings.append(f"{line.place}: the line '{word}' is not known and is left out.")


def _parameters(line: Line, definition: Definition) -> None:
    head, settings = assignments(line.text)
    if len(head.split()) != 1 or not settings or not all(settings.values()):
        raise bad_card(line, f"'{line.text}'", ".param name=value, perhaps several", "Write a value for each name.")
    definition.parameters |= settings


def _function(line: Line, definition: Definition) -> None:
    match = FUNCTION.fullmatch(line.text)
    if not match:
        raise bad_card(line, f"'{line.text}'", ".func name(x, y) {expression}", "Write the function in this form.")
    names = tuple(name.strip().lower() for name in match["arguments"].split(",") if name.strip())
    definition.functions[match["name"].lower()] = Function(names, expression_inside(match["body"]))


def _model(line: Line, definition: Definition, found: Outline) -> None:
    match = MODEL.fullmatch(line.text)
    if not match:
        raise bad_card(line, f"'{line.text}'", ".model name type(parameters)", "Write the model in this form.")
    rest = match["rest"].strip()
    if rest.startswith("(") and rest.endswith(")"):
        rest = rest[1:-1]
    head, settings = assignments(rest)
    flags = re.sub(r"[(),]", " ", head).split()
    if match["type"].lower().startswith("ako:"):
        raise bad_card(line, f"the model type '{match['type']}'", "models written out in full",
                       "Copy the parameters of the other model into this one.")  # fmt: skip
    if flags:
        found.warnings.append(f"{line.place}: {', '.join(flags)} in model {match['name']} has no value; left out.")
    name = match["name"].lower()
    if name in definition.models:
        found.warnings.append(f"{line.place}: model {match['name']} is defined a second time; the later one is used.")
    settings = {key: re.sub(r"\s*\)$", "", text) if "(" not in text else text for key, text in settings.items()}
    definition.models[name] = ModelCard(match["name"], match["type"].lower(), settings, line)
