"""Chips with storage against small models in numbers, through a few hundred steps drawn by chance."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from models import MODELS, Model, Pins
from one_chip import X, inputs_of, play

from kilter.parts.catalogue import catalogue_types

STEPS = 200
SEEDS = range(1, 7)
GATE_A_CLOCK = {"INH", "/CE", "1EN", "2EN"}
"""Enables that make an edge by themselves, so they move alone, as clocks do."""


def stimulus(key: str, models: list[Model], seed: int) -> tuple[list[Pins], int]:
    """Steps of input values, and how many of them bring the chip to a known state."""
    names = inputs_of(key)
    known = {name: value for model in models for name, value in model.known.items()}
    still = {name: value for model in models for name, value in (model.still or {}).items()}
    clocks = [pin.name for pin in catalogue_types()[key].with_role("clock")]
    clocks += [name for name in names if name in GATE_A_CLOCK]
    base = dict.fromkeys(names, 0) | known | still
    setting = models[0].clocked_setting
    if setting == "words":
        steps = [base | {"WA": place & 1, "WB": place >> 1} for place in range(4)]
    elif setting:
        clock = setting.removeprefix("-")
        levels = (0, 1, 1) if not setting.startswith("-") else (0, 1, 0)
        steps = [base | {clock: level} for level in levels]
    else:
        steps = [base]
    opening = len(steps)
    chance = np.random.default_rng(seed)
    for _ in range(STEPS):
        step = dict(steps[-1])
        if chance.random() < 0.5:  # data and controls move while the clock stands
            low = not any(step[clock] for clock in clocks)
            free = [name for name in names if name not in clocks and (low or name not in models[0].steady)]
            step |= {name: int(chance.integers(2)) for name in free}
            rare = [name for name in known if name in free]
            for name in rare:
                if chance.random() < 0.9:
                    step[name] = 1 - known[name]
        else:
            clock = clocks[chance.integers(len(clocks))] if clocks else names[0]
            step[clock] = 1 - step[clock]
        steps.append(step | still)
    return steps, opening


def asserted(model: Model, step: Pins) -> bool:
    return all(step[name] == value for name, value in model.known.items())


@pytest.mark.parametrize("key", sorted(MODELS))
def test_storage_follows_its_model(key: str) -> None:
    runs = [stimulus(key, MODELS[key], seed) for seed in SEEDS]
    together = zip(*(steps for steps, _ in runs), strict=True)
    shown = play(key, [{name: np.array([step[name] for step in row]) for name in row[0]} for row in together])
    seen = set()
    for lane, (steps, opening) in enumerate(runs):
        for place, name, value in expected(MODELS[key], steps, opening):
            got = int(shown[place][name][lane])
            assert got == value, f"{key} pin {name} at step {place} of run {lane}: {got}, not {value}"
            seen.add((name, value))
    shown_pins = {name for name, _ in seen}
    assert shown_pins == {name for model in MODELS[key] for name in model.shows(model.state, runs[0][0][0])}
    assert sum(value in (0, 1) for _, value in seen) > len(shown_pins), "nothing moved"


def expected(models: list[Model], steps: list[Pins], opening: int) -> Iterator[tuple[int, str, int]]:
    """Step, pin and value, wherever the models know."""
    states = [model.state for model in models]
    doubt = [False] * len(models)
    for place, now in enumerate(steps):
        before = steps[place - 1] if place else now
        for index, model in enumerate(models):
            if place >= opening:
                states[index] = model.after(states[index], now, before)
            doubt[index] = doubt[index] or fights(now)
            if doubt[index] and asserted(model, now) and not fights(now) and not model.clocked_setting:
                doubt[index], states[index] = False, model.state
            if place >= opening - 1 and not doubt[index]:
                for name, value in model.shows(states[index], now).items():
                    yield place, name, value


def fights(now: Pins) -> bool:
    """Clear and preset at once: what then holds is not said."""
    for unit in "12":
        if now.get(f"/{unit}CLR", 1) == 0 and now.get(f"/{unit}PRE", 1) == 0:
            return True
        if now.get(f"{unit}R", 0) and now.get(f"{unit}S", 0):
            return True
    return False


def test_storage_is_unknown_before_it_is_set() -> None:
    shown = play("7474", [{name: np.array([1]) for name in inputs_of("7474")}])
    assert shown[0]["1Q"][0] == X


def test_most_types_with_storage_have_a_model() -> None:
    stored = {key for key, kind in catalogue_types().items() if any(line.stores for line in kind.equations)}
    without = stored - set(MODELS)
    assert without == {"74170", "4094", "4511"}
    assert len(MODELS) >= 50
