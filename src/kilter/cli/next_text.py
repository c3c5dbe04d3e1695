"""The next tests as text: where the probe goes, what it is expected to read, what it costs, and its cautions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from kilter.cli.layout import heading, wrapped
from kilter.diagnose.ask import Advice
from kilter.measure.instruments import instrument
from kilter.measure.quantities import quantity
from kilter.safety.hazards import chassis_in_doubt, hazards
from kilter.services.diagnose import Diagnosis
from kilter.services.wording import place_words

MOST_TESTS = 5
LOOKED_AT = 12
"""Parts to look at that are named."""

POWERED_CAUTION = (
    "Some of these are read with power on. Kilter knows the drawing, not the object in front of you: whether it may be "
    "switched on, and by whom, is for the rules of your house and a person who knows mains and stored charge."
)
UNPOWERED_CAUTION = (
    "Some of these are read with power off. That the plug is out does not say that nothing is charged: measure the "
    "large capacitors first, and discharge them slowly through a resistor if they hold a charge."
)
CHASSIS = (
    "No test with power on is proposed: what the chassis is joined to is not known. Somebody trained measures it and "
    "writes chassis = 'isolated' or 'live' under [object] in the board file ('kilter hazards' tells more)."
)
WITHHELD = (
    "Tests with power on are left out until the checks before switching on are passed (--power-checks-passed says so)."
)


def next_tests(diagnosis: Diagnosis, most: int = MOST_TESTS) -> Iterator[str]:
    """The best tests, one paragraph each; parts that only an eye is asked for are looked at in one go."""
    yield heading("next tests")
    if not diagnosis.advice:
        yield wrapped("None: no test that is open now would tell anything more.", 2)
    for number, group in enumerate(in_one_go(diagnosis.advice, most), 1):
        if len(group) == 1:
            yield from advice_lines(diagnosis, group[0], f"{number}. ")
        else:
            yield from _look_lines(diagnosis, group, f"{number}. ")


def in_one_go(advice: Sequence[Advice], most: int = MOST_TESTS) -> list[tuple[Advice, ...]]:
    """The best tests, at most so many things to do: looks at parts in one state count as one, where the first is."""
    groups: dict[tuple[object, ...], list[Advice]] = {}
    for number, one in enumerate(advice):
        look = one.test.quantity == "look"
        groups.setdefault(("look", one.test.state) if look else (number,), []).append(one)
    return [tuple(group) for group in list(groups.values())[:most]]


def _look_lines(diagnosis: Diagnosis, group: Sequence[Advice], number: str) -> Iterator[str]:
    """Several parts to look at."""
    names = [one.test.point for one in group]
    listed = ", ".join(names[:LOOKED_AT]) + (f" and {len(names) - LOOKED_AT} more" if len(names) > LOOKED_AT else "")
    words, state = quantity("look").words, diagnosis.visit.plain[group[0].test.state]
    yield wrapped(f"{number}{words}, at {listed}, state '{state}' (eye)", 2, 3)
    bits, minutes = sum(one.bits for one in group), sum(one.minutes for one in group)
    yield wrapped(f"worth together up to {bits:.2g} bit for {minutes:.2g} min at grade {group[0].test.grade}", 5)


def advice_lines(diagnosis: Diagnosis, advice: Advice, number: str = "") -> Iterator[str]:
    """One test: where and what, what it is worth and costs, what the leading suspects expect of it."""
    test, board = advice.test, diagnosis.visit.board
    where = place_words(board, test.point)
    state = diagnosis.visit.plain[test.state]
    with_what = f" ({instrument(test.instrument).words})" if test.instrument else ""
    again = "read again: " if advice.retake else ""
    place = f"{test.point} ({where})" if where else test.point
    yield wrapped(f"{number}{again}{quantity(test.quantity).words} at {place}, state '{state}'{with_what}", 2, 3)
    yield wrapped(
        f"worth {advice.bits:.2g} bit for {advice.minutes:.2g} min at grade {test.grade}; "
        f"cost with risk and intervention {advice.cost:.2g} min",
        5,
    )
    outlook = "; ".join(f"{one.suspect}: {one.words}" for one in advice.outlook)
    if outlook:
        yield wrapped(f"expected: {outlook}", 5, 2)


def cautions(diagnosis: Diagnosis, *, withheld: bool, most: int = MOST_TESTS) -> Iterator[str]:
    """What to mind before the tests just shown; `withheld` where tests with power on were left out."""
    shown_first = [group[0].test for group in in_one_go(diagnosis.advice, most)]
    shown = [diagnosis.visit.board.states[test.state] for test in shown_first]
    contact = [test.grade >= 2 for test in shown_first]
    words = []
    if any(state.powered for state in shown):
        words.append(POWERED_CAUTION)
    if any(not state.powered and touch for state, touch in zip(shown, contact, strict=True)):
        words.append(UNPOWERED_CAUTION)
    board = diagnosis.visit.board
    if chassis_in_doubt(board):
        words.append(CHASSIS)
    elif withheld:
        words.append(WITHHELD)
    step = "powered" if any(state.powered for state in shown) else "unpowered"
    words += [f"{one.title}: {one.cautions[0]}" for one in hazards(board) if one.at in ("any", step)]
    if words:
        yield heading("cautions")
    yield from (wrapped(one, 2) for one in words)
