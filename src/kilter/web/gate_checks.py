"""The checks before power as a form: what is typed, what stands, and what somebody else wrote in between."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.http import HttpRequest

from kilter.measure.errors import BadInput
from kilter.store.journal import take_turn
from kilter.store.models import GateCheck, Visit
from kilter.store.verb import in_one_piece
from kilter.store.verbs.visits import record_check
from kilter.web.access import person_of
from kilter.wiring.power_gate import checks_wanted, outdated, standing_checks

DOING = "Cannot record the checks"


def rows_of_checks(request: HttpRequest, visit: Visit) -> list[dict[str, Any]]:
    """
    The checks as the form shows them; what was typed and not taken comes first, what stands is told beside it.

    Args:
        request: POST where a form was refused.
        visit: Whose checks.
    """
    standing, typed, old, rows = standing_checks(visit), request.POST, outdated(visit), []
    for place, name in enumerate(checks_wanted()):
        row = standing.get(name)
        outcome, words = _as_it_stands(None if name in old else row)
        told = typed.get(f"outcome-{place}", outcome), typed.get(f"words-{place}", words)
        rows.append({"name": name, "row": row, "outcome": told[0], "words": told[1], "seen": row.pk if row else "",
                     "old": name in old, "differs": row is not None and told != (row.outcome, row.words)})  # fmt: skip
    return rows


def record_checks(request: HttpRequest, visit: Visit) -> None:
    """
    Records the outcomes that were changed on the page, all of them or none.

    Raises:
        BadInput: Words without an outcome, or somebody else recorded the same check since the page was shown.
    """

    def once() -> None:
        with transaction.atomic():
            take_turn()
            standing, old = standing_checks(visit), outdated(visit)
            for place, name in enumerate(checks_wanted()):
                _record(request, visit, place, name, standing.get(name), old=name in old)

    in_one_piece(DOING, once)


def _record(
    request: HttpRequest, visit: Visit, place: int, name: str, earlier: GateCheck | None, *, old: bool
) -> None:
    outcome, words = request.POST.get(f"outcome-{place}", ""), request.POST.get(f"words-{place}", "").strip()
    key = request.POST.get(f"seen-{place}", "")
    seen = next((one for one in visit.checks.filter(name=name) if str(one.pk) == key), None)
    shown = [_as_it_stands(None)] if old else [_as_it_stands(seen), _as_it_stands(earlier)]
    if (outcome, words) in shown:
        return
    if not outcome:
        raise BadInput(DOING, f"'{words[:40]}' without an outcome", ", ".join(GateCheck.OUTCOMES),
                       "Choose what came out of that check.")  # fmt: skip
    if earlier is not None and earlier != seen:
        raise BadInput(DOING, f"'{earlier.outcome}', which {earlier.who.name} wrote while you looked at this page",
                       "outcomes that were seen", "Look at what was added, then send yours again.")  # fmt: skip
    record_check(person_of(request), visit, name, outcome, words, earlier)


def _as_it_stands(check: GateCheck | None) -> tuple[str, str]:
    return (check.outcome, check.words) if check else ("", "")
