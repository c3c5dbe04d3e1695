"""What the bench page shows, as plain data for its template."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from kilter.diagnose.ask import Advice
from kilter.measure.instruments import instrument
from kilter.measure.quantities import quantity
from kilter.measure.tables import table
from kilter.safety.hazards import chassis_in_doubt, hazards
from kilter.services.answer import powered_tests_withheld, unanswered
from kilter.services.bench import BenchSession
from kilter.services.board_drawing import draw_board
from kilter.services.diagnose import Diagnosis, Suspect
from kilter.services.visit_log import READ
from kilter.services.wording import asked, kind_words, mode_words, place_words, said

WORTH_MODE, LOUD = 0.05, 0.5


def bench_view(session: BenchSession, chosen: str = "") -> dict[str, Any]:
    """
    Everything but the frame of the page.

    Args:
        session: As it stands.
        chosen: Key of the test to show large, as the list of tests names it; '' for the best.
    """
    diagnosis, board = session.diagnosis(), session.diagnoser.board
    page = table("web")["page"]
    offers = session.offers()
    tests = [test_view(diagnosis, one) for one in offers[: int(page["tests"])]]
    next_test = next((one for one in tests if one["key"] == chosen), tests[0] if tests else None)
    suspects = {one.part: one.probability for one in diagnosis.suspects}
    most = int(page["suspects"])
    return {
        "board": board,
        "tests": tests,
        "next": next_test,
        "drawing": draw_board(board, suspects, next_test["point"] if next_test else ""),
        "suspects": [suspect_view(diagnosis, one) for one in diagnosis.suspects[:most]],
        "more_suspects": diagnosis.suspects[most:],
        "healthy": diagnosis.posterior.healthy,
        "outside": diagnosis.posterior.not_in_model,
        "ties": diagnosis.ties,
        "decision": diagnosis.decision,
        "unexplained": [
            {"asked": asked(diagnosis.visit.readings[one.reading]), "said": said(diagnosis.visit.readings[one.reading]),
             "why": one.why}
            for one in diagnosis.unexplained
        ],
        "unanswered": unanswered(diagnosis),
        "known": known_view(session),
        "after": len(session.log.entries),
        "gate": session.log.gate,
        "withheld": powered_tests_withheld(diagnosis, power_checks=session.log.power_checks),
        "chassis_in_doubt": chassis_in_doubt(board),
        "cautions": _cautions(diagnosis, next_test),
        "states": list(diagnosis.visit.states_now()),
    }  # fmt: skip


def test_view(diagnosis: Diagnosis, advice: Advice) -> dict[str, Any]:
    """One test."""
    test, board = advice.test, diagnosis.visit.board
    what, state = quantity(test.quantity), board.states[test.state]
    plain = diagnosis.visit.plain[test.state]
    return {
        "key": f"{test.point}|{test.quantity}|{plain}",
        "point": test.point,
        "where": place_words(board, test.point),
        "quantity": test.quantity,
        "quantity_words": what.words,
        "unit": what.unit,
        "words": what.categories,
        "number": what.read_as == "number",
        "state": plain,
        "state_words": state.label,
        "powered": state.powered,
        "instrument": test.instrument,
        "instrument_words": instrument(test.instrument).words if test.instrument else "",
        "bits": advice.bits,
        "minutes": advice.minutes,
        "grade": test.grade,
        "retake": advice.retake,
        "outlook": advice.outlook,
    }


def suspect_view(diagnosis: Diagnosis, one: Suspect) -> dict[str, Any]:
    """One suspect with its reasons, those that say most first."""
    board = diagnosis.visit.board
    modes = [(mode_words(board, (one.part, mode)), share / one.probability) for mode, share in one.modes]
    reasons = sorted((each for each in one.because if abs(each.weight) >= LOUD), key=lambda each: -abs(each.weight))
    return {
        "part": one.part,
        "probability": one.probability,
        "kind": kind_words(board, one.part),
        "where": place_words(board, one.part),
        "modes": [(words, share) for words, share in modes if share >= WORTH_MODE],
        "reasons": [
            {
                "asked": asked(diagnosis.visit.readings[each.reading]),
                "said": said(diagnosis.visit.readings[each.reading]),
                "words": each.words,
                "for": each.weight > 0,
                "with": each.expected,
                "healthy": each.healthy,
            }
            for each in reasons[:6]
        ],
    }


def known_view(session: BenchSession) -> list[Mapping[str, Any]]:
    """What stands, the latest first."""
    rows: list[Mapping[str, Any]] = []
    for one in reversed(session.log.standing()):
        reading = one.reading
        rows.append({
            "number": one.number,
            "kind": one.kind,
            "deed": one.deed,
            "point": reading.point if reading else one.words.get("point", ""),
            "quantity": reading.quantity if reading else one.words.get("quantity", ""),
            "said": said(reading) if reading else one.words.get("note", ""),
            "state": reading.state if reading else one.words.get("state", ""),
            "doubtful": bool(reading and reading.doubtful),
            "is_reading": one.kind == READ,
        })  # fmt: skip
    return rows


def _cautions(diagnosis: Diagnosis, shown: Mapping[str, Any] | None) -> list[str]:
    """What to mind before the test that is shown large."""
    if shown is None:
        return []
    step = "powered" if shown["powered"] else "unpowered"
    return [f"{one.title}: {one.cautions[0]}" for one in hazards(diagnosis.visit.board) if one.at in ("any", step)]
