"""Objects on display: where and when, hours and room, inspections, what wears, what was renewed; what is due."""

from __future__ import annotations

from datetime import date
from typing import Any

from kilter.measure.errors import BadInput
from kilter.store.journal import now
from kilter.store.models import (
    CollectionObject,
    DisplayInspection,
    DisplayPeriod,
    PartsRenewed,
    Repair,
    RunningEntry,
    WearingParts,
)
from kilter.store.verbs.inspections import Inspected, take_inspection_back, write_inspection
from kilter.store.verbs.jobs import START, ask_for
from kilter.store.verbs.repairs import REPAIR
from kilter.store.verbs.running import COUNT, Ran, take_running_back, write_running
from kilter.store.verbs.showings import BOUNDS, SHOW, Showing, show, take_showing_back
from kilter.store.verbs.wearing import Renewal, set_wearing, take_renewal_back, take_wearing_back, write_renewal
from kilter.web.api.display_shapes import (
    ENTRY,
    INSPECTION,
    NEW_ENTRY,
    NEW_FORECAST,
    NEW_INSPECTION,
    NEW_PERIOD,
    NEW_RENEWED,
    NEW_WEAR,
    NOW,
    PERIOD,
    RENEWED,
    STANDS,
    WEAR,
)
from kilter.web.api.fields import by
from kilter.web.api.found import object_of
from kilter.web.api.jobs import JOB, tell_job
from kilter.web.api.operation import PAGING, Call, Operation, looks, makes, rows_of, told
from kilter.web.api.records import Record, may
from kilter.web.api.refusals import not_there
from kilter.web.api.shapes import Truth
from kilter.web.api.statements import REASON
from kilter.wiring.display_dates import Now, display_now
from kilter.wiring.worker import FORECAST

DOING = "Cannot take the entry"


def _tell(row: Any, record: Record) -> dict[str, Any]:
    """A row, with the fields that its record has."""
    values = {name: getattr(row, f"{name}_id" if name == "repair" else name) for name in record.fields
              if name not in STANDS}  # fmt: skip
    plain = {name: one.isoformat() if isinstance(one, date) else one for name, one in values.items()}
    return {"id": row.pk, **plain, **by(row), "why": row.why, "supersedes": row.supersedes_id,
            "withdrawn": row.withdrawn}  # fmt: skip


def _day(call: Call, name: str) -> date | None:
    text = call.body.get(name)
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise BadInput(DOING, f"'{text}' under '{name}'", "a day of the calendar", "Correct it.") from None


def _earlier(call: Call, model: Any) -> Any:
    """The entry that is corrected; None for a new one."""
    return _named(model, call.body.get("supersedes"), object_of(call), "supersedes")


def _named(model: Any, key: int | None, about: CollectionObject, name: str) -> Any:
    if key is None:
        return None
    found = model.objects.select_related("object").filter(pk=key, object=about).first()
    if found is None:
        raise BadInput(DOING, f"no entry {key} under '{name}'", f"an entry about {about.number}", "Look it up first.")
    return found


def _texts(call: Call, *names: str) -> dict[str, str]:
    return {name: call.body.get(name, "") for name in names}


def _show(call: Call) -> Any:
    figures = {name: call.body.get(name) for name in BOUNDS}
    wanted = Showing(_day(call, "begin"), _day(call, "end"), **_texts(call, "place", "conditions"), figures=figures)
    row = show(call.actor, object_of(call), wanted, call.body.get("why", ""), supersedes=_earlier(call, DisplayPeriod))
    return _tell(row, PERIOD)


def _run(call: Call) -> Any:
    body = call.body
    wanted = Ran(
        body["kind"], _day(call, "day"), _day(call, "first"), body.get("hours"), body.get("switch_ons"),
        bool(body.get("anew")), body.get("celsius"), body.get("humidity"), body.get("words", ""),
    )  # fmt: skip
    row = write_running(call.actor, object_of(call), wanted, body.get("why", ""),
                        supersedes=_earlier(call, RunningEntry))  # fmt: skip
    return _tell(row, ENTRY)


def _inspect(call: Call) -> Any:
    body = call.body
    wanted = Inspected(body["key"], _day(call, "day"), body["outcome"], **_texts(call, "words", "inspector"),
                       again=_day(call, "again"))  # fmt: skip
    row = write_inspection(call.actor, object_of(call), wanted, body.get("why", ""),
                           supersedes=_earlier(call, DisplayInspection))  # fmt: skip
    return _tell(row, INSPECTION)


def _wear(call: Call) -> Any:
    body = call.body
    return _tell(set_wearing(call.actor, object_of(call), body["kind"], body["count"], body.get("words", "")), WEAR)


def _renew(call: Call) -> Any:
    body, about = call.body, object_of(call)
    wanted = Renewal(body["kind"], _day(call, "day"), body["count"], body.get("failed"), body.get("words", ""),
                     _named(Repair, body.get("repair"), about, "repair"))  # fmt: skip
    row = write_renewal(call.actor, about, wanted, body.get("why", ""), supersedes=_earlier(call, PartsRenewed))
    return _tell(row, RENEWED)


def _back(model: Any, verb: Any, record: Record) -> Any:
    def work(call: Call) -> Any:
        key = call.path["row"]
        found = model.objects.select_related("object").filter(pk=key, object_id=call.path["object"]).first()
        if found is None:
            raise not_there("Cannot find it", f"no entry {key} of that kind about it", "entries about this object")
        return _tell(verb(call.actor, found, call.body["why"]), record)

    return work


def _list(relation: str, record: Record) -> Any:
    def work(call: Call) -> Any:
        rows = getattr(object_of(call), relation).select_related("who").order_by("pk")
        return told(call, rows if call.query.get("all") else rows.standing(), lambda row: _tell(row, record))

    return work


def _now(_: Call) -> Any:
    there = display_now(now().date())
    keys = dict(CollectionObject.objects.filter(display_periods__isnull=False).values_list("number", "pk"))
    return {"on": there.today.isoformat(), "objects": _objects(there, keys), "due": [
        {"object": keys[one.object], "number": one.object, "key": one.key, "words": one.words,
         "day": one.day.isoformat(), "over": one.over, "last": one.last.isoformat() if one.last else None,
         "months": one.months} for one in there.due]}  # fmt: skip


def _objects(there: Now, keys: dict[str, int]) -> list[dict[str, Any]]:
    found = []
    for one in there.standings:
        row: dict[str, Any] = {"object": keys[one.thing.number], "number": one.thing.number,
                               "assumed": list(one.assumed)}  # fmt: skip
        for name, rate in (("hours", one.hours), ("switch_ons", one.switch_ons)):
            row |= {name: rate.so_far if rate.known else None, f"{name}_a_year": rate.a_year,
                    f"{name}_basis": rate.basis, f"{name}_told": rate.told}  # fmt: skip
        found.append(row)
    return found


def _ahead(call: Call) -> Any:
    return tell_job(ask_for(call.actor, FORECAST, {"years": call.body["years"]}))


def _kept(
    name: str, words: str, path: str, relation: str, record: Record, new: Record, verb: str, work: Any, back: Any,
    model: Any,
) -> tuple[Operation, ...]:  # fmt: skip
    """What every kind of entry has: a list, a way to add or correct one, and a way to take one back."""
    where = f"/objects/{{object}}/display/{path}"
    return (
        looks(f"list-{name}", where, f"{words}, as it stands.", _list(relation, record), rows_of(record),
              query={"all": may(Truth(), "also what was corrected or taken back"), **PAGING}),
        makes(f"add-{name}", where, verb, f"{words}: writes an entry down, or corrects one.", work, record, new),
        makes(f"take-{name}-back", f"{where}/{{row}}/take-back", verb, f"{words}: takes an entry back, with a reason.",
              _back(model, back, record), record, REASON),
    )  # fmt: skip


OPERATIONS: tuple[Operation, ...] = (
    looks("get-display", "/display", "What is on display now, how much it ran, and what is due.", _now, NOW),
    makes("forecast-display", "/display/forecasts", START, "Puts a forecast of failures and spares in the queue of "
          "long work.", _ahead, JOB, NEW_FORECAST),
    *_kept("display-periods", "When and where an object is on display", "periods", "display_periods", PERIOD,
           NEW_PERIOD, SHOW, _show, take_showing_back, DisplayPeriod),
    *_kept("running", "Hours, switch-ons and the room", "running", "running_entries", ENTRY, NEW_ENTRY, COUNT, _run,
           take_running_back, RunningEntry),
    *_kept("inspections", "Inspections", "inspections", "display_inspections", INSPECTION, NEW_INSPECTION, COUNT,
           _inspect, take_inspection_back, DisplayInspection),
    *_kept("wear", "What wears in an object", "wear", "wearing_parts", WEAR, NEW_WEAR, SHOW, _wear, take_wearing_back,
           WearingParts),
    *_kept("renewals", "What was renewed", "renewals", "parts_renewed", RENEWED, NEW_RENEWED, REPAIR, _renew,
           take_renewal_back, PartsRenewed),
)  # fmt: skip
