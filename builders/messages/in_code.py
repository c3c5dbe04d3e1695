"""Fixed words that the code keeps in rows and shows through variables: states, kinds, roles, acts, outcomes, verbs."""

from __future__ import annotations

from collections.abc import Iterator

from kilter.diagnose.explain import STRENGTHS
from kilter.diagnose.settings import settings
from kilter.planning.accession import accession_states
from kilter.planning.display.usage import ASSUMED, COUNTED, PLANNED
from kilter.planning.proof.decide import ACCEPTED, CANNOT_TELL, OPEN, REJECTED
from kilter.services.acceptance_list import DECLARED, GOOD_BOARDS, PREDICTED
from kilter.services.acceptance_list import NOT_KNOWN as NOT_KNOWN_LIMITS
from kilter.services.allocate_parts import CAUTIONS as ALLOCATION_CAUTIONS
from kilter.services.approvals import ACTS, ANOTHER, CONSENT, REFUSAL
from kilter.services.bench import DEEDS
from kilter.services.compare_known_good import AS_GOOD, FAR_OFF, NOT_KNOWN, NOT_READ, OFF
from kilter.services.compare_thermal import ALIKE, COLDER, HOTTER
from kilter.services.learn_record import OTHERWISE
from kilter.services.learn_times import REPAIR, SETUP
from kilter.services.permissions import ROLES, VERBS
from kilter.services.plan_display import CAUTIONS as DISPLAY_CAUTIONS
from kilter.services.plan_display import LEAVE, OVER_AGE, RENEW, WAIT
from kilter.services.plan_switch_on import CAUTIONS
from kilter.services.propose_outcome import AT_BENCH
from kilter.services.prove_repair import CAUTIONS as PROOF_CAUTIONS
from kilter.services.visit_log import KINDS
from kilter.services.weigh_options import CAUTION as OPTIONS_CAUTION
from kilter.store.models import (
    DisplayInspection,
    GateCheck,
    PartMove,
    ProposalEnd,
    Repair,
    RunningEntry,
    Statement,
    VisitEvent,
    VisitOutcome,
)
from kilter.store.models.attachment import KINDS as FILE_KINDS
from kilter.store.models.collection import EDITED, STATES
from kilter.store.models.job import DONE, FAILED, RUNNING, STOPPED, WAITING
from kilter.web.pages import meter_logs
from kilter.web.spoken import FORMS, LOOSE_FORMS
from kilter.web.thermal_rows import HOW
from kilter.wiring.worker import HANDLERS
from messages.message import Message

LISTS: dict[str, tuple[str, ...]] = {
    "diagnose/explain": (
        *(f"speaks {words} {side}" for _, words in STRENGTHS for side in ("for", "against")), "says little", "anything",
        "the leading explanations treat it as a gross error", "only a fault outside the model accounts for it",
    ),
    "diagnose/outlook": ("nothing wrong",),
    "diagnose/stop": (
        "Leave it: no fault that the model knows explains the readings better than none",
        "Leave it as it is, for static display",
    ),
    "planning/accession": accession_states(),
    "planning/display/due": ("judgement", "handbook", "second-hand"),
    "planning/display/usage": (COUNTED, PLANNED, ASSUMED),
    "planning/options/catalogue": ("a spare of the maker's type", "a substitute", "one from a donor"),
    "services/acceptance_list": (DECLARED, GOOD_BOARDS, PREDICTED, NOT_KNOWN_LIMITS),
    "services/answer": (
        "The leading explanation is a fault that the model cannot express: a bridge, a broken track, a wrong "
        "drawing, a wrong reading.", "1 reading stays unexplained.",
    ),
    "services/allocate_parts": ALLOCATION_CAUTIONS,
    "services/approvals": (*ACTS, ANOTHER, CONSENT, REFUSAL, "agreed", "needs no approval"),
    "services/compare_thermal": (ALIKE, COLDER, HOTTER),
    "services/compare_known_good": (AS_GOOD, OFF, FAR_OFF, NOT_READ, NOT_KNOWN),
    "services/stand_on_display": ("hours as planned, not counted", "switch-ons as planned, not counted"),
    "services/plan_display": (*DISPLAY_CAUTIONS, RENEW, OVER_AGE, WAIT, LEAVE, "Look at"),
    "services/learn_record": (OTHERWISE,),
    "services/learn_times": (SETUP, *(REPAIR + case for case in settings("repair_minutes"))),
    "services/propose_outcome": (AT_BENCH,),
    "services/prove_repair": PROOF_CAUTIONS,
    "services/weigh_options": (OPTIONS_CAUTION,),
    "web/thermal_rows": tuple(HOW.values()),
    "web/pages/meter_logs": (
        meter_logs.SPREAD, meter_logs.ENDS, meter_logs.LAST, meter_logs.LINE, meter_logs.SLOW, meter_logs.ENTRIES,
        meter_logs.LENGTH, meter_logs.OVER, *meter_logs.SLOWNESS.values(),
    ),
    "services/permissions": (*ROLES, *VERBS),
    "services/plan_switch_on": CAUTIONS,
    "services/visit_log": KINDS,
    "store/models": (
        *STATES, *EDITED, *Statement.KINDS, *FILE_KINDS, *Repair.ACTS, *PartMove.DISPOSITIONS, *VisitEvent.KINDS,
        *VisitOutcome.FOUND, *VisitOutcome.STATES,
        *GateCheck.OUTCOMES, *RunningEntry.KINDS, *DisplayInspection.OUTCOMES, *ProposalEnd.KINDS, WAITING, RUNNING,
        DONE, FAILED, STOPPED,
    ),
    "store/verbs": ("set a password", "make a key", "take a key back", "stopped on request", "stopped before it began"),
    "web/learned_view": ("as called", "recalibrated"),
    "web/pages/bench": (*DEEDS, "noted", "done", "skipped", "taken back"),
    "web/spoken": ("'%(text)s'", *(message for _, message in FORMS + LOOSE_FORMS)),
    "wiring/worker": tuple(HANDLERS),
}  # fmt: skip
"""Module to the words that it shows."""


PROOF = "proof"
"""Context of the verdicts of a proof, some of which are other words elsewhere."""


def in_code() -> Iterator[tuple[str, Message]]:
    """Each message with the module that it stands in."""
    for place, words in LISTS.items():
        for text in words:
            yield f"src/kilter/{place}", Message(text)
    for text in (ACCEPTED, REJECTED, CANNOT_TELL, OPEN):
        yield "src/kilter/planning/proof/decide", Message(text, context=PROOF)
