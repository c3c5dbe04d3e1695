"""Supply nets: by a voltage in their name, or by capacitors to ground and parts that draw from them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from kilter.circuit.board import GROUND, Board, Rail
from kilter.circuit.inference.inference import DOUBT, Inference
from kilter.circuit.inference.names import is_unnumbered_supply, short_name, voltage_inside, voltage_of
from kilter.measure.tables import table
from kilter.records.part import Part

CAPACITORS = ("capacitor", "ceramic", "film", "paper", "electrolytic", "tantalum")


def is_capacitor(part: Part) -> bool:
    """Whether a part is a two-pin capacitor."""
    return part.kind in CAPACITORS and len(part.pins) == 2


def other_end(part: Part, net: str) -> str | None:
    """The net at the other pin of a two-pin part that is on a net; None for others."""
    ends = list(part.pins.values())
    if len(ends) != 2 or net not in ends or ends[0] == ends[1]:
        return None
    return ends[1] if ends[0] == net else ends[0]


def supply_nets(board: Board) -> dict[str, bool]:
    """Nets that are supplies, to whether their connections (and not only their names) say so."""
    rules = table("board_inference")["rails"]
    capacitors = Counter(other_end(part, GROUND) for part in board.parts.values() if is_capacitor(part))
    consumers: Counter[str] = Counter()
    for part in board.parts.values():
        if part.kind in rules["kinds"]:
            consumers.update(set(part.pins.values()))
    found = {}
    for net, pins in board.nets().items():
        built = capacitors[net] >= rules["capacitors"] and consumers[net] >= rules["consumers"]
        named = len(pins) > 1 and (voltage_of(net) or is_unnumbered_supply(net))
        if net != GROUND and (built or named):
            found[net] = built
    return found


def rails_of(
    supplies: dict[str, bool], made: Mapping[str, tuple[str, float]]
) -> tuple[dict[str, Rail], list[Inference]]:
    """
    Rails of the supplies whose voltage is known, and a question about each of the others.

    Args:
        supplies: Nets that are supplies.
        made: Net to the regulator that feeds it and the voltage that its type tells. [V]
    """
    rails: dict[str, Rail] = {}
    found: list[Inference] = []
    band = float(table("board_inference")["rails"]["band"])
    for net, built in supplies.items():
        why = "its capacitors to ground and the chips on it" if built else "its name"
        nominal = voltage_of(net)
        nominal = voltage_inside(net) if nominal is None and built else nominal
        if nominal is None and net in made:
            ref, nominal = made[net]
            why = f"the regulator {ref}"
        elif nominal is not None:
            why = "its name and the capacitors and chips on it" if built else "its name"
        if nominal is None:
            found.append(Inference("rail", (net,), f"The net {net} looks like a supply because of {why}, but its "
                                   f"voltage is not known; write [rails.{short_name(net) or net}] with net and "
                                   "nominal in the board file.", DOUBT))  # fmt: skip
        elif nominal:
            low, high = sorted(round(nominal * share, 6) for share in (1 - band, 1 + band))
            name = short_name(net)
            name = name if name and name not in rails else net
            rails[name] = Rail(name, net, nominal, low, high)
            found.append(Inference("rail", (net,), f"The net {net} is taken as a supply of {nominal:g} V, good from "
                                   f"{low:g} V to {high:g} V, because of {why}."))  # fmt: skip
    return rails, found
