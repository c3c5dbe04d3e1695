"""
Reader for the .bench form in which the ISCAS-85 and ISCAS-89 benchmark circuits are passed on.

`INPUT(a)`, `OUTPUT(y)`, `y = NAND(a, b)`, `# comment`; kinds in any case, BUFF for a buffer, DFF for a flip-flop
that is clocked once a step. Read strictly: what is not understood is refused, with its line number.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

from kilter.measure.errors import BadInput
from kilter.simulate.logic.netlist import Gate, LogicNetlist, Register

KINDS = {kind: kind for kind in ("and", "nand", "or", "nor", "xor", "xnor", "not", "buf")} | {"buff": "buf"}

PORT = re.compile(r"(INPUT|OUTPUT)\s*\(\s*([^\s(),=]+)\s*\)", re.IGNORECASE)
ASSIGNMENT = re.compile(r"([^\s(),=]+)\s*=\s*(\w+)\s*\(([^()]*)\)")
NET = re.compile(r"[^\s(),=]+")


@dataclass
class _Found:
    inputs: list[str] = field(default_factory=list)
    outputs: list[str] = field(default_factory=list)
    gates: list[Gate] = field(default_factory=list)
    registers: list[Register] = field(default_factory=list)
    driven: dict[str, int] = field(default_factory=dict)
    read: dict[str, int] = field(default_factory=dict)


def read_bench_file(path: Path) -> LogicNetlist:
    """
    The netlist of a .bench file.

    Raises:
        BadInput: The file is not there or not readable as text, or a line is not understood.
    """
    try:
        text = path.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput(
            f"Cannot read the netlist {path}", f"{error}", "a text file in .bench form", "Check the name and the file."
        ) from error
    return read_bench(text, path.name)


def read_bench(text: str, name: str = "netlist.bench") -> LogicNetlist:
    """
    The netlist in a .bench text.

    Raises:
        BadInput: A line is not understood, a net is driven twice, or a net is read that nothing drives.

    >>> read_bench("INPUT(a)\\nOUTPUT(y)\\ny = NOT(a)").gates[0].kind
    'not'
    """
    found = _Found()
    for number, line in enumerate(text.splitlines(), 1):
        words = line.split("#", 1)[0].strip()
        if words:
            _read_line(words, number, name, found)
    for net, number in found.read.items():
        if net not in found.driven:
            allowed = "a net named as INPUT or on the left of an assignment"
            raise _refused(name, number, f"net '{net}', which nothing drives", allowed)
    return LogicNetlist(
        tuple(found.gates), tuple(found.inputs), tuple(found.outputs), tuple(found.registers), name=name
    )


def _read_line(words: str, number: int, name: str, found: _Found) -> None:
    if port := PORT.fullmatch(words):
        net = port[2]
        if port[1].upper() == "INPUT":
            _drive(net, number, name, found)
            found.inputs.append(net)
        else:
            found.read.setdefault(net, number)
            found.outputs.append(net)
    elif assignment := ASSIGNMENT.fullmatch(words):
        _read_assignment(assignment, number, name, found)
    else:
        raise _refused(name, number, f"'{words}'", "INPUT(net), OUTPUT(net) or net = KIND(net, net ...)")


def _read_assignment(assignment: re.Match[str], number: int, name: str, found: _Found) -> None:
    output, kind = assignment[1], assignment[2].lower()
    inputs = tuple(net.strip() for net in assignment[3].split(","))
    if not all(NET.fullmatch(net) for net in inputs):
        raise _refused(name, number, f"the input list '{assignment[3]}'", "net names with commas between them")
    if kind not in KINDS and kind != "dff":
        raise _refused(name, number, f"the gate kind '{assignment[2]}'", "DFF, " + ", ".join(KINDS).upper())
    if kind in ("not", "buf", "buff", "dff") and len(inputs) != 1:
        raise _refused(name, number, f"{len(inputs)} inputs on {kind.upper()}", "one")
    _drive(output, number, name, found)
    for net in inputs:
        found.read.setdefault(net, number)
    if kind == "dff":
        found.registers.append(Register("dff", inputs[0], output))
    else:
        found.gates.append(Gate(KINDS[kind], inputs, output))


def _drive(net: str, number: int, name: str, found: _Found) -> None:
    if net in found.driven:
        raise _refused(name, number, f"a second driver of net '{net}'", f"one driver; line {found.driven[net]} has it")
    found.driven[net] = number


def _refused(name: str, number: int, found: str, allowed: str) -> BadInput:
    return BadInput(f"Cannot read line {number} of the netlist {name}", found, allowed, "Correct the line.")
