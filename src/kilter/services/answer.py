"""The answer of a diagnosis as plain data; its keys are the machine interface (docs/machine-interface.md)."""

from __future__ import annotations

from typing import Any

from kilter.diagnose.ask import Advice
from kilter.diagnose.explain import Reason, Unexplained
from kilter.services.diagnose import Diagnosis, Suspect
from kilter.services.wording import said


def answer(diagnosis: Diagnosis) -> dict[str, Any]:
    """Everything a program may rely on, in lists, dictionaries, texts and numbers only."""
    return {
        "suspects": [_suspect(diagnosis, one) for one in diagnosis.suspects],
        "ties": [list(group) for group in diagnosis.ties],
        "not_in_model": diagnosis.posterior.not_in_model,
        "next_tests": [_test(diagnosis, one) for one in diagnosis.advice],
        "unexplained": [_unexplained(diagnosis, one) for one in diagnosis.unexplained],
        "visited_mass": diagnosis.posterior.visited_mass,
        "fallback_lanes": diagnosis.fallback_lanes,
    }


def unanswered(diagnosis: Diagnosis) -> tuple[str, ...]:
    """What the diagnosis leaves open, one sentence each; where there is any, a command ends with exit code 3."""
    found = []
    if diagnosis.unsettled:
        found.append(
            f"{diagnosis.unsettled} circuit lanes did not settle in any engine; "
            "their readings count as 'could be anything'."
        )
    inside = max((one.probability for one in diagnosis.suspects), default=0.0)
    if diagnosis.posterior.not_in_model > max(inside, diagnosis.posterior.healthy):
        found.append(
            "The leading explanation is a fault that the model cannot express: a bridge, a broken track, a wrong "
            "drawing, a wrong reading."
        )
    if diagnosis.unexplained:
        count = len(diagnosis.unexplained)
        found.append(f"{count} reading{'s' if count > 1 else ''} stay{'' if count > 1 else 's'} unexplained.")
    return tuple(found)


def powered_tests_withheld(diagnosis: Diagnosis, *, power_checks: bool) -> bool:
    """Whether tests with power on were left out: nobody said that the power checks passed, and no reading shows it."""
    states = diagnosis.visit.board.states
    shown = any(states[one.state].powered for one in diagnosis.visit.readings)
    return any(one.powered for one in states.values()) and not (power_checks or shown)


def _suspect(diagnosis: Diagnosis, one: Suspect) -> dict[str, Any]:
    return {
        "part": one.part,
        "probability": one.probability,
        "modes": [{"mode": mode, "probability": share} for mode, share in one.modes],
        "because": [_reason(diagnosis, reason) for reason in one.because],
    }


def _reason(diagnosis: Diagnosis, reason: Reason) -> dict[str, Any]:
    return _reading(diagnosis, reason.reading) | {
        "expected": reason.expected,
        "healthy": reason.healthy,
        "log10_ratio": reason.weight,
        "words": reason.words,
    }


def _unexplained(diagnosis: Diagnosis, one: Unexplained) -> dict[str, Any]:
    return _reading(diagnosis, one.reading) | {"gross": one.gross, "why": one.why}


def _reading(diagnosis: Diagnosis, place: int) -> dict[str, Any]:
    """Where a reading was taken and what it said; its state with what had been done to the object by then."""
    reading = diagnosis.visit.readings[place]
    return {"point": reading.point, "quantity": reading.quantity, "state": reading.state, "read": said(reading)}


def _test(diagnosis: Diagnosis, advice: Advice) -> dict[str, Any]:
    test = advice.test
    return {
        "point": test.point,
        "quantity": test.quantity,
        "state": diagnosis.visit.plain[test.state],
        "bits": advice.bits,
        "minutes": advice.minutes,
        "grade": test.grade,
        "risk": {"object": test.risk_object, "person": test.risk_person},
    }
