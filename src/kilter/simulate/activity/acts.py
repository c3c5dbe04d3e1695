"""Which function stands behind the 'act' of each block kind."""

from __future__ import annotations

from collections.abc import Mapping

from kilter.simulate.activity import arithmetic, computing, counting, gates, paths, sources
from kilter.simulate.activity.work import Act

ACTS: Mapping[str, Act] = {
    "given": sources.given,
    "supply": sources.supply,
    "regulator": sources.regulator,
    "oscillator": sources.oscillator,
    "divider": counting.divider,
    "counter": counting.counter,
    "adder": arithmetic.adder,
    "multiplier": arithmetic.multiplier,
    "reset": computing.reset,
    "processor": computing.processor,
    "follower": computing.follower,
    "amplifier": paths.amplifier,
    "mixer": paths.mixer,
    "switch": paths.switch,
    "connector": paths.connector,
    "lamp": paths.lamp,
    **gates.GATES,
}
