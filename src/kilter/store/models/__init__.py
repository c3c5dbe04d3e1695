"""Tables of the record. Rows are written by the verbs in `kilter.store.verbs` alone."""

from __future__ import annotations

from kilter.store.models.attachment import Attachment, Filing
from kilter.store.models.board import BoardEdition, BoardFile, KnownBoard
from kilter.store.models.collection import CollectionObject, ObjectEdition, Statement
from kilter.store.models.display import DisplayInspection, DisplayPeriod, PartsRenewed, RunningEntry, WearingParts
from kilter.store.models.job import Job
from kilter.store.models.journal import JournalRow
from kilter.store.models.learned import KnownSharer, LearnedEntry
from kilter.store.models.outcome import VisitOutcome
from kilter.store.models.person import AccessToken, LoginAttempt, Person, PersonalData
from kilter.store.models.proposal import Approval, Proposal, ProposalEnd, ProposalVersion
from kilter.store.models.repair import PartMove, RemovedPart, Repair
from kilter.store.models.soak import SoakFinding, SoakPlan
from kilter.store.models.visit import GateCheck, Visit, VisitEntry, VisitEvent

__all__ = [
    "AccessToken", "Approval", "Attachment", "BoardEdition", "BoardFile", "CollectionObject", "DisplayInspection",
    "DisplayPeriod", "Filing", "GateCheck", "Job", "JournalRow", "KnownBoard", "KnownSharer", "LearnedEntry",
    "LoginAttempt", "ObjectEdition", "PartMove", "PartsRenewed", "Person", "PersonalData", "Proposal",
    "ProposalEnd", "ProposalVersion", "RemovedPart", "Repair", "RunningEntry", "SoakFinding", "SoakPlan", "Statement",
    "Visit", "VisitEntry", "VisitEvent", "VisitOutcome", "WearingParts",
]  # fmt: skip
