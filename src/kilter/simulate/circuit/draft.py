"""The draft of a circuit's equations: named parameters and stamps, before unknowns are numbered."""

from __future__ import annotations

from dataclasses import dataclass, field

Key = tuple[str, ...]
"""Name of a parameter: ('g', 'R7'), ('bridge', '0', 'vcc'), ('link', 'U1', 'out'), ('is', 'D2') ..."""


@dataclass
class Draft:
    """What is collected while the elements are walked."""

    nodes: dict[str, int] = field(default_factory=dict)
    branches: dict[str, int] = field(default_factory=dict)
    branch_nodes: list[tuple[str, list[str]]] = field(default_factory=list)
    parameter: dict[Key, int] = field(default_factory=dict)
    nominal: list[float] = field(default_factory=list)
    matrix: list[tuple[object, object, Key, float]] = field(default_factory=list)
    reactive: list[tuple[object, object, Key, float]] = field(default_factory=list)
    sources: list[tuple[object, Key, float]] = field(default_factory=list)
    diodes: list[tuple[str, str, float, Key]] = field(default_factory=list)
    transistors: list[tuple[tuple[str, str, str], tuple[float, ...], Key]] = field(default_factory=list)
    edges: list[tuple[str, str, Key]] = field(default_factory=list)
    ignored: list[str] = field(default_factory=list)

    def number(self, key: Key, value: float) -> Key:
        """A parameter with its nominal value."""
        if key not in self.parameter:
            self.parameter[key] = len(self.nominal)
            self.nominal.append(value)
        return key

    def admittance(self, a: str, b: str, key: Key, into: list[tuple[object, object, Key, float]]) -> None:
        """The four stamps of a two-terminal admittance."""
        into += [(a, a, key, 1.0), (b, b, key, 1.0), (a, b, key, -1.0), (b, a, key, -1.0)]
