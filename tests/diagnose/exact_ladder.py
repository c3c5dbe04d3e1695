"""
A ladder of four resistors whose posterior is worked out by brute force, with nothing of the engine or the weigher.

    V1 9 V -- in -- R1 1k -- a -- R3 1k -- b        R2 2.2k from a to ground, R4 3.3k from b to ground

Every fault set gets a thousand boards: each resistor's value by its tolerance, each fault with a size of its own. Node
voltages and resistances follow by Kirchhoff's laws in closed form. The likelihood of a visit is the mean over boards of
the product of its readings' densities, so readings of one board depend on each other through the same parts, powered or
not, whatever the shape of their distribution.
"""

from __future__ import annotations

from itertools import combinations, product

import numpy as np
from scipy.special import logsumexp

NETLIST = """Ladder of four resistors
V1 in 0 9
R1 in a 1k
R2 a 0 2.2k
R3 a b 1k
R4 b 0 3.3k
.op
.end
"""
NOMINAL = {"R1": 1e3, "R2": 2.2e3, "R3": 1e3, "R4": 3.3e3}
OPEN_OHM = 1e12
METER_OHM = 10e6
LANES = 1000
"""Boards of each fault set."""


def sets_of(faults, most):
    """Every set of at most so many faults, one mode a part."""
    groups = {}
    for part, mode in faults:
        groups.setdefault(part, []).append((part, mode))
    for size in range(most + 1):
        for some in combinations(groups.values(), size):
            yield from (frozenset(one) for one in product(*some))


def values_of(one, random, lanes, *, tolerance, drift_ln, bridge_ln, modes):
    """Ohms of the four resistors on so many boards with these faults, shape (4, lanes)."""
    broken = dict(one)
    rows = []
    for part, ohm in NOMINAL.items():
        value = ohm * np.exp(tolerance / 2.0 * random.standard_normal(lanes))
        change, size = modes.get(broken.get(part), (None, 0.0)), random.standard_normal(lanes)
        if change[0] == "open":
            value = np.full(lanes, OPEN_OHM)
        elif change[0] == "scale":
            value = value * change[1] ** np.exp(drift_ln * size)
        elif change[0] == "bridge":
            short = change[1] * np.exp(bridge_ln * size)
            value = value * short / (value + short)
        rows.append(value)
    return np.stack(rows)


def readings_of(values, supply):
    """What an ideal meter with 10 megohms shows on each board: test to numbers, [V], [A], [ohm]."""
    r1, r2, r3, r4 = values

    def volts(load_a, load_b):
        below = 1.0 / (1.0 / r4 + load_b)
        at_a = 1.0 / (1.0 / r2 + 1.0 / (r3 + below) + load_a)
        a = supply * at_a / (r1 + at_a)
        return a, a * below / (r3 + below), supply / (r1 + at_a)

    meter = 1.0 / METER_OHM
    right = r3 + r4
    from_a = r2 * right / (r2 + right)
    left = r2 + r3
    return {
        ("voltage", "a"): volts(meter, 0.0)[0],
        ("voltage", "b"): volts(0.0, meter)[1],
        ("current", "V1"): volts(0.0, 0.0)[2],
        ("resistance", "in"): r1 + from_a,
        ("resistance", "a"): from_a,
        ("resistance", "b"): r4 * left / (r4 + left),
    }


def log_likelihood(scaled, evidence):
    """
    Log of the mean over boards of the product of the readings' densities.

    Args:
        scaled: Key of each reading to what it would be on each board, on its scale.
        evidence: (key, value, noise, gross, width) of each reading taken.
    """
    total = 0.0
    for key, value, noise, gross, width in evidence:
        z = (value - scaled[key]) / noise
        inside = np.log1p(-gross) - 0.5 * z * z - np.log(noise * np.sqrt(2.0 * np.pi))
        total = total + np.logaddexp(inside, np.log(gross) - np.log(width))
    return float(logsumexp(total) - np.log(len(total)))
