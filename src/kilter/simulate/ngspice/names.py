"""Names that ngspice accepts for any net or element name, and the way back."""

from __future__ import annotations

import re

from kilter.circuit.board import GROUND

_PLAIN = frozenset("abcdefghijklmnopqrstuvwxyz0123456789")
_ESCAPE = re.compile(r"_(?:(\d+)_|([a-z_]))")


def node_name(net: str) -> str:
    """
    The ngspice node of a net.

    Every name starts with 'n', so that none is a number, a keyword or an alias of ground.

    >>> node_name("vcc"), node_name("U1.Q3"), node_name("0")
    ('nvcc', 'n_u1_46__q3', '0')
    """
    return net if net == GROUND else "n" + _escape(net)


def net_of(node: str) -> str:
    """
    The net of an ngspice node made by node_name.

    >>> net_of(node_name("+5V_Ω"))
    '+5V_Ω'
    """
    return node if node == GROUND else _unescape(node[1:])


def element_name(kind: str, name: str) -> str:
    """
    The ngspice name of an element: its letter, then its name.

    ngspice reads the kind of an element from the first letter, so a source named 'DZv' would be taken for a diode.

    >>> element_name("R", "r7"), element_name("V", "DZv")
    ('rr7', 'v_d_zv')
    """
    return kind.lower() + _escape(name)


def model_name(kind: str, name: str) -> str:
    """
    The ngspice name of the model card that belongs to one diode or transistor.

    >>> model_name("Q", "q1")
    'mqq1'
    """
    return "m" + element_name(kind, name)


def _escape(name: str) -> str:
    return "".join(map(_escaped, name))


def _escaped(letter: str) -> str:
    if letter in _PLAIN:
        return letter
    if letter == "_":
        return "__"
    lower = letter.lower()
    return f"_{lower}" if lower in _PLAIN and lower.upper() == letter else f"_{ord(letter)}_"


def _unescape(name: str) -> str:
    return _ESCAPE.sub(lambda found: chr(int(found[1])) if found[1] else found[2].upper(), name)
