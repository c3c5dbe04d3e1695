"""Random boards on a bench supply, with a short built in, and ngspice as the world in which the plan is tried."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from kilter.circuit.board import Board
from kilter.importers.load import load_board
from kilter.safety.first_power.ramp import Ramp
from kilter.simulate.ngspice.worker import NgspiceWorker

MODELS = {
    "rect": "d(is=5e-9 n=1.8 bv=400 ibv=5u)",
    "led": "d(is=1e-18 n=1.8)",
    "pass": "npn(is=5e-14 bf=120 br=5 vaf=100)",
    "small": "npn(is=1e-14 bf=200 br=4 vaf=80)",
}
WATTS = (0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)
"""Ratings that parts come in. [W]"""
ROOM = 1.6
"""A designer gives every part at least so many times what it bears."""


@dataclass(frozen=True)
class Made:
    """
    One board and one short.

    Args:
        cards: Name to SPICE card, without the models.
        models: Name to model text.
        watts: Rating of every part. [W]
        rails: Rail name to net.
        short: Part that is shorted, its two nets, and the resistance of the short. [ohm]
    """

    cards: Mapping[str, str]
    models: Mapping[str, str]
    watts: Mapping[str, float]
    rails: Mapping[str, tuple[str, float]]
    supply: float
    short: tuple[str, str, str, float]

    def netlist(self, volts: float, *, shorted: bool) -> str:
        """As ngspice takes it, with the supply at these volts."""
        lines = ["random board", f"V1 in 0 {volts}", *self.cards.values()]
        lines += [f".model {name} {text}" for name, text in self.models.items()]
        if shorted:
            _, a, b, ohm = self.short
            lines.append(f"RSHORT {a} {b} {ohm}")
        return "\n".join([*lines, ".end", ""])

    def write(self, folder: Path) -> Board:
        """The board as a person would describe it: netlist and board file."""
        (folder / "board.cir").write_text(self.netlist(self.supply, shorted=False).replace(".end", ".op\n.end"))
        parts = []
        for ref, watts in self.watts.items():
            kind = {"D": "diode", "Z": "zener", "Q": "transistor", "R": "resistor", "C": "electrolytic"}[self.kind(ref)]
            limits = 'volts = "63 V"' if kind == "electrolytic" else f'watts = "{watts} W"'
            parts.append(f'{ref} = {{ kind = "{kind}", limits = {{ {limits} }} }}')
        rails = [f'[rails.{name}]\nnet = "{net}"\nnominal = "{volts:.3f} V"\nlow = "{0.9 * volts:.3f} V"\n'
                 f'high = "{1.1 * volts:.3f} V"' for name, (net, volts) in self.rails.items()]  # fmt: skip
        text = ['kilter = 1', 'board = "Random"', 'netlist = "board.cir"', *rails, "[parts]", *parts,
                "[states.off]\npowered = false", "[states.on]\npowered = true"]  # fmt: skip
        (folder / "board.toml").write_text("\n".join(text) + "\n")
        return load_board(str(folder / "board.toml"))

    def kind(self, ref: str) -> str:
        """Letter of a part; zeners are told from other diodes by their model."""
        return "Z" if ref.startswith("D") and " z" in self.cards[ref] else ref[0]


def made(seed: int, worker: NgspiceWorker) -> Made:
    """A supply of one to three rails, every part rated for at least 1.6 times what it bears when healthy."""
    random = np.random.default_rng(seed)
    supply = float(random.uniform(9, 20))
    cards = {"R1": f"R1 in fused {random.uniform(0.1, 0.5):.3f}", "D1": "D1 fused raw rect", "C1": "C1 raw 0 1000u"}
    models = dict(MODELS)
    places = [("C1", "raw", "0")]
    rails = {"RAW": "raw"}
    for rail in range(1, int(random.integers(1, 4)) + 1):
        out = f"v{rail}"
        wanted = float(random.uniform(0.3, 0.7)) * supply
        models[f"z{rail}"] = f"d(is=1e-14 n=1.2 bv={wanted:.2f} ibv=5m)"
        ohm = (supply - 1.0 - wanted) / float(random.uniform(0.008, 0.02))
        if random.random() < 0.5:
            cards[f"R{rail}1"] = f"R{rail}1 raw {out} {ohm:.1f}"
            cards[f"D{rail}1"] = f"D{rail}1 0 {out} z{rail}"
            load = wanted / float(random.uniform(0.001, 0.005))
        else:
            cards[f"R{rail}1"] = f"R{rail}1 raw ref{rail} {ohm:.1f}"
            cards[f"D{rail}1"] = f"D{rail}1 0 ref{rail} z{rail}"
            cards[f"R{rail}2"] = f"R{rail}2 raw col{rail} {random.uniform(2, 15):.2f}"
            cards[f"Q{rail}1"] = f"Q{rail}1 col{rail} ref{rail} {out} pass"
            load = wanted / float(random.uniform(0.02, 0.12))
            places.append((f"Q{rail}1", f"col{rail}", out))
        cards[f"C{rail}1"] = f"C{rail}1 {out} 0 100u"
        places += [(f"C{rail}1", out, "0"), (f"D{rail}1", cards[f"D{rail}1"].split()[2], "0")]
        rails[f"V{rail}"] = out
        for number in range(int(random.integers(1, 4))):
            cards[f"R{rail}{number + 3}"] = f"R{rail}{number + 3} {out} 0 {load * (1 + number):.1f}"
        if random.random() < 0.5:
            cards[f"R{rail}7"] = f"R{rail}7 {out} lamp{rail} {max(wanted - 2, 0.5) / 0.008:.0f}"
            cards[f"D{rail}7"] = f"D{rail}7 lamp{rail} 0 led"
        if random.random() < 0.5:
            cards[f"R{rail}8"] = f"R{rail}8 {out} base{rail} 47k"
            cards[f"R{rail}9"] = f"R{rail}9 {out} coll{rail} 1k"
            cards[f"Q{rail}8"] = f"Q{rail}8 coll{rail} base{rail} 0 small"
    place = places[int(random.integers(len(places)))]
    one = Made(cards, models, {}, {}, supply, (*place, float(10 ** random.uniform(-1, 0.7))))
    volts, heat = _point(one, supply, worker, shorted=False)
    watts = {ref: next(size for size in WATTS if size >= ROOM * heat.get(ref, 0.0)) for ref in cards}
    return Made(cards, models, watts, {name: (net, volts[net]) for name, net in rails.items()}, supply, one.short)


def _point(
    one: Made, volts: float, worker: NgspiceWorker, *, shorted: bool
) -> tuple[dict[str, float], dict[str, float]]:
    """Volts by ngspice, and the heat of every part from its own ammeters, laid in series with every pin."""
    lines = []
    for ref, card in one.cards.items():
        words = card.split()
        pins = 3 if ref[0] == "Q" else 2
        inner = [f"{ref}p{pin}" for pin in range(pins)]
        lines.append(" ".join([words[0], *inner, *words[1 + pins :]]))
        lines += [f"VM{ref}{pin} {net} {inner[pin]} 0" for pin, net in enumerate(words[1 : 1 + pins])]
    text = one.netlist(volts, shorted=shorted)
    for card, line in zip(one.cards.values(), [""] * len(one.cards), strict=True):
        text = text.replace(card + "\n", line + "\n", 1)
    point = worker.operating_point(text.replace(".end", "\n".join(lines) + "\n.end"))
    found = {name.lower(): value for name, value in point.items()}
    heat = {}
    for ref, card in one.cards.items():
        pins = 3 if ref[0] == "Q" else 2
        nets = card.split()[1 : 1 + pins]
        heat[ref] = abs(sum(found[f"vm{ref.lower()}{pin}#branch"] * found.get(net.lower(), 0.0)
                            for pin, net in enumerate(nets)))  # fmt: skip
    return found, heat


@dataclass(frozen=True)
class Outcome:
    """How a walk up the ramp went: at which step it stopped (None: never), and the worst healthy part."""

    stopped: int | None
    part: str
    times: float


def walk(one: Made, ramp: Ramp, worker: NgspiceWorker, *, shorted: bool = True) -> Outcome:
    """Goes up the ramp in ngspice, the short in place or not, as a person would with the supply's own limit."""
    worst = (0.0, "")
    for number, step in enumerate(ramp.steps):
        volts, heat, limited = limited_point(one, step.volts["V1"], step.limit, worker, shorted=shorted)
        worst = max(worst, *((watts / one.watts[ref], ref) for ref, watts in heat.items() if ref != one.short[0]))
        outside = any(not low <= volts[one.rails[name][0]] <= high for name, (low, high) in step.rails.items())
        if limited or outside:
            return Outcome(number, worst[1], worst[0])
    return Outcome(None, worst[1], worst[0])


def limited_point(
    one: Made, setting: float, limit: float, worker: NgspiceWorker, *, shorted: bool = True
) -> tuple[dict[str, float], dict[str, float], bool]:
    """Where a supply of this setting and limit settles."""
    volts, heat = _point(one, setting, worker, shorted=shorted)
    if abs(volts["v1#branch"]) <= limit:
        return volts, heat, False
    low, high = 0.0, setting
    for _ in range(14):
        middle = (low + high) / 2
        volts, heat = _point(one, middle, worker, shorted=shorted)
        low, high = (middle, high) if abs(volts["v1#branch"]) < limit else (low, middle)
    return volts, heat, True
