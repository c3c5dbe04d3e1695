"""The gate before power: it opens when every check was passed, or with a reason; a name stands under either."""

from __future__ import annotations

from django.db import transaction

from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.services.visit_log import CHECKED, WAIVED
from kilter.store.journal import take_turn
from kilter.store.models import GateCheck, Person, Visit, VisitEntry
from kilter.store.verb import in_one_piece, one_of
from kilter.store.verbs.visits import add_entry, log_of

PASSED = "passed"
MEANS = {PASSED: CHECKED, "waived": WAIVED}
DOING = "Cannot let power on"


def checks_wanted() -> tuple[str, ...]:
    """The checks before power, in words, in order."""
    return tuple(one["words"] for one in table("power_checks")["checks"])


def standing_checks(visit: Visit) -> dict[str, GateCheck]:
    """The latest record of each check of a visit, by its words."""
    rows = GateCheck.objects.filter(visit=visit, superseded_by__isnull=True).select_related("who").order_by("pk")
    return {one.name: one for one in rows}


def outdated(visit: Visit) -> frozenset[str]:
    """Checks, by their words, from before the last thing done to the object: they have to be done anew."""
    deeds = [one.number for one in log_of(visit).standing() if one.deed]
    if not deeds:
        return frozenset()
    last = VisitEntry.objects.get(visit=visit, number=deeds[-1]).at
    return frozenset(name for name, one in standing_checks(visit).items() if one.at < last)


def let_power_on(actor: Person, visit: Visit, means: str, why: str, *, after: int) -> VisitEntry:
    """
    Opens the gate; between looking at the checks and opening it nobody else can record one.

    Args:
        actor: A repairer.
        visit: An open one.
        means: A key of MEANS.
        why: The reason; for going on without the checks there has to be one.
        after: Number of the last entry that the person saw.

    Raises:
        BadInput: A check is missing, is outdated or was not passed, there is no reason, or somebody was faster.
        NotAllowed: The person's role does not allow it.
    """
    one_of(means, "means", tuple(MEANS), DOING)
    words = {"note": why} if why else {}

    def once() -> VisitEntry:
        with transaction.atomic():
            take_turn()
            if means == PASSED:
                _demand_checks(visit)
            return add_entry(actor, visit, MEANS[means], words, None, after=after)

    return in_one_piece(DOING, once)


def _demand_checks(visit: Visit) -> None:
    outcomes, names, old = standing_checks(visit), checks_wanted(), outdated(visit)
    missing = [name for name in names if name not in outcomes or outcomes[name].outcome != PASSED]
    again = [name for name in names if name in old and name not in missing]
    if again:
        raise BadInput(DOING, f"{len(again)} of {len(names)} checks from before the last thing done to the object",
                       "checks that were done since", "Do them again, or go on without with a reason.")  # fmt: skip
    if missing:
        raise BadInput(DOING, f"{len(missing)} of {len(names)} checks that were not passed", "all of them passed",
                       "Do what is missing, or go on without with a reason.")  # fmt: skip
