"""A meter log that was brought: over time, how steady it is, and the reading of a stretch put into the visit."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache, partial
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse

from kilter.circuit.board import Board
from kilter.importers.meter_log import read_meter_logs
from kilter.measure.errors import BadInput
from kilter.measure.instruments import instruments
from kilter.measure.measured import Measured, engineering
from kilter.measure.quantities import guess_quantity, quantities
from kilter.services.read_meter_log import reading_of_log
from kilter.signals.log_span import moves, span_of, steady_from
from kilter.signals.meter_log import MeterLog, Steadiness, steadiness
from kilter.store.models import Filing
from kilter.web.access import page, person_of
from kilter.web.file_readings import DOING as PUTTING
from kilter.web.file_readings import put_into_visit, standing_entries
from kilter.web.forms import form_page
from kilter.web.log_drawing import draw_log
from kilter.web.typed_figures import in_bench_notation
from kilter.wiring.kept_file import read_kept
from kilter.wiring.record_bench import board_of

KIND, DOING = "meter log", "Cannot look at this stretch of the log"
PLAIN_NUMBER = re.compile(r"\d{1,9}(\.\d{0,9})?|\.\d{1,9}")
MINUTE = 60.0
SPREAD, ENDS, LAST = "middle and spread", "least and most", "last tenth"
LINE, SLOW = "straight line, an hour", "slow movement"
ENTRIES, LENGTH, OVER = "entries", "length", "entries over the limit"
CANNOT_TELL = "cannot be told"
SLOWNESS = {None: CANNOT_TELL, False: "none seen", True: "seen: the middle is no steady value"}


@page()
def meter_log(request: HttpRequest, pk: int) -> HttpResponse:
    """Every column over time, the chosen stretch in figures, and a form that takes its reading."""
    named = ("attachment", "object", "visit__object", "visit__board_edition")
    filing = get_object_or_404(Filing.objects.standing().select_related(*named), pk=pk, kind=KIND)
    visit = filing.visit
    edition = visit.board_now() if visit is not None else None
    board = board_of(edition) if edition is not None else None
    typed = request.POST if request.method == "POST" else request.GET
    told: dict[str, Any] = {"filing": filing, "object": filing.object, "visit": visit, "board": board,
                            "taken": standing_entries(filing)}  # fmt: skip
    try:
        logs = _logs(filing.attachment.sha256, filing.name)
    except BadInput as error:
        return form_page(request, "web/meter_log.html", partial(_refused, error), {**told, "unreadable": error})

    def work() -> str:
        log = logs[_column(typed, logs)]
        start, end = _stretch(typed)
        if typed.get("act") == "look":
            kept = {name: typed.get(name, "").strip() for name in ("column", "from", "to")}
            return f"{reverse('meter_log', args=[pk])}?{urlencode({k: v for k, v in kept.items() if v})}"
        if typed.get("act") != "put":
            raise BadInput(DOING, f"'{typed.get('act', '')[:40]}'", "look, put", "Use the buttons of the page.")
        return _put(request, filing, board, span_of(log, start, end), typed)

    return form_page(request, "web/meter_log.html", work, {**told, **_shown(logs, typed, board)})


def _shown(logs: tuple[MeterLog, ...], typed: Mapping[str, str], board: Board | None) -> dict[str, Any]:
    """Drawings and figures; a stretch that cannot be taken is told in its place."""
    odd: BadInput | None = None
    chosen, start, end = 0, None, None
    try:
        chosen = _column(typed, logs)
        start, end = _stretch(typed)
        span_of(logs[chosen], start, end)
    except BadInput as error:
        odd, start, end = error, None, None
    rows = []
    for place, log in enumerate(logs):
        here = place == chosen
        part = span_of(log, start, end) if here and (start is not None or end is not None) and not odd else log
        settled = steady_from(log)
        rows.append({
            "place": place, "name": log.source.rpartition(", ")[2], "warnings": log.warnings, "began": log.began,
            "drawing": draw_log(log, start if here else None, end if here else None), "figures": _figures(part),
            "part": part is not log, "settled": None if settled is None else settled / MINUTE,
            "drifts_at_the_start": bool(settled),
        })  # fmt: skip
    log = logs[chosen]
    guessed = guess_quantity(log.unit) if log.unit else None
    return {
        "rows": rows, "chosen": chosen, "odd": odd, "guessed": guessed,
        "quantities": [one for one in quantities().values() if one.numeric and one.unit == log.unit],
        "instruments": [one for one in instruments().values() if guessed and guessed in one.reads],
        "states": list(board.states.values()) if board is not None else [],
    }  # fmt: skip


def _figures(log: MeterLog) -> list[tuple[str, str]]:
    """What a stretch tells, as name and value."""
    found: Steadiness = steadiness(log)
    if not found.entries:
        return [(OVER, str(found.over_limit))]
    told = [
        (SPREAD, str(found.mean)),
        (ENDS, f"{engineering(found.lowest, log.unit, 4)} to {engineering(found.highest, log.unit, 4)}"),
        (LAST, engineering(found.last, log.unit, 4)),
    ]
    drift = found.drift
    told += [
        (LINE, CANNOT_TELL if drift is None
         else str(Measured(drift.value, log.unit, drift.uncertainty))),
        (SLOW, SLOWNESS[moves(log)]),
    ]  # fmt: skip
    told += [(ENTRIES, str(found.entries)), (LENGTH, f"{found.hours * MINUTE:.1f} min")]
    return told + ([(OVER, str(found.over_limit))] if found.over_limit else [])


def _put(request: HttpRequest, filing: Filing, board: Board | None, log: MeterLog, typed: Mapping[str, str]) -> str:
    if filing.visit is None or board is None:
        raise BadInput(PUTTING, "a log without a visit that has a board", "a log of such a visit",
                       "Bring the log to the visit, and give the visit a board.")  # fmt: skip
    point = typed.get("point", "").strip()
    if not point:
        raise BadInput(PUTTING, "no point", "a point, net or pin of the board", "Say where the meter was connected.")
    made = reading_of_log(log, board, point, quantity_key=typed.get("quantity", ""),
                          instrument_key=typed.get("instrument", ""), state=typed.get("state", ""))  # fmt: skip
    put_into_visit(person_of(request), filing, [made.reading])
    return reverse("bench", args=[filing.visit.object_id, filing.visit.number])


def _column(typed: Mapping[str, str], logs: tuple[MeterLog, ...]) -> int:
    text = typed.get("column", "") or "0"
    if not (text.isascii() and text.isdecimal() and len(text) < 6 and int(text) < len(logs)):
        raise BadInput(DOING, f"the column '{text[:20]}'", f"one of {len(logs)}", "Choose it from the list.")
    return int(text)


def _stretch(typed: Mapping[str, str]) -> tuple[float | None, float | None]:
    """Begin and end. [s]"""
    found = []
    for name in ("from", "to"):
        text = in_bench_notation(typed.get(name, "").strip()).replace(",", ".")
        if text and not PLAIN_NUMBER.fullmatch(text):
            raise BadInput(DOING, f"'{text[:40]}' under '{name}'", "minutes from the first entry on, such as 12.5",
                           "Type it anew, or leave it empty.")  # fmt: skip
        found.append(float(text) * MINUTE if text else None)
    return found[0], found[1]


def _refused(error: BadInput) -> str:
    raise error


@lru_cache(maxsize=4)
def _logs(sha256: str, name: str) -> tuple[MeterLog, ...]:
    """The columns of a file; long ones take seconds to read, so the last few are remembered."""
    return read_kept(sha256, name, read_meter_logs)
