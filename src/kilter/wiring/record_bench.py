"""The bench session on the record: visits kept in the database, diagnosers kept warm between two answers."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field, replace
from threading import Lock, RLock

from kilter.circuit.board import Board
from kilter.importers.load import load_board
from kilter.importers.reading_lines import reading_of
from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantity
from kilter.measure.tables import table
from kilter.parts.kinds import modes_of
from kilter.records.history import History, Label, Seen
from kilter.records.reading import Reading
from kilter.services.bench import BenchSession
from kilter.services.diagnose import Diagnoser, Diagnosis
from kilter.services.plan_switch_on import SwitchOnPlan, plan_switch_on
from kilter.services.visit_log import Entry, VisitLog
from kilter.store.journal import now
from kilter.store.models import BoardEdition, Person, Statement, Visit
from kilter.store.verbs.boards import unpacked
from kilter.store.verbs.visits import add_entry, add_readings, log_of
from kilter.wiring.diagnosers import diagnoser
from kilter.wiring.record_experience import AtBench, at_bench, experience_mark

Told = tuple[tuple[str, str, str, float | None, str], ...]
NO_BOARD = "Cannot weigh anything in this visit"


@dataclass
class _Desk:
    """
    What is kept for one visit between two answers.

    Args:
        key: Of what it was made from; another key makes another desk.
        board: With the object's own history.
        weigher: Its diagnoser.
        learned: What the collection learned that counts here.
        end: Puts the second engine away.
        turn: One request at a time.
        known: The log last weighed, and what came out.
    """

    key: tuple[object, ...]
    board: Board
    weigher: Diagnoser
    learned: AtBench
    end: ExitStack
    turn: RLock = field(default_factory=RLock)
    known: tuple[VisitLog, Diagnosis] | None = None


_desks: OrderedDict[int, _Desk] = OrderedDict()
_boards: OrderedDict[str, Board] = OrderedDict()
_plans: OrderedDict[str, SwitchOnPlan] = OrderedDict()
_turn = Lock()


def board_of(edition: BoardEdition) -> Board:
    """
    The board of an edition; the last few are remembered.

    Raises:
        BadInput: Its files are missing or make no board.
    """
    if edition.digest not in _boards:
        board = load_board(str(unpacked(edition)))
        _boards[edition.digest] = board
        while len(_boards) > _most("boards"):
            _boards.popitem(last=False)
    return _boards[edition.digest]


def plan_of(edition: BoardEdition) -> SwitchOnPlan:
    """
    The plan of the first switch-on for an edition's board; the last few are remembered.

    Raises:
        BadInput: Its files are missing or make no board.
    """
    if edition.digest not in _plans:
        _plans[edition.digest] = plan_switch_on(board_of(edition))
        while len(_plans) > _most("boards"):
            _plans.popitem(last=False)
    return _plans[edition.digest]


@contextmanager
def session_of(visit: Visit, actor: Person) -> Iterator[BenchSession]:
    """
    The bench session of a visit as it stands in the record now; what it keeps is recorded for the actor.

    Raises:
        BadInput: The visit has no board, or its board cannot be loaded.
    """
    with _desk(visit) as desk:
        log = log_of(visit)

        def keep(entries: Sequence[Entry]) -> None:
            first, *others = entries
            if others:
                told = [(one.words, one.reading) for one in entries if one.reading is not None]
                add_readings(actor, visit, told, after=first.number - 1)
            else:
                add_entry(actor, visit, first.kind, first.words, first.reading, after=first.number - 1)

        def understand(words: Mapping[str, str]) -> Reading:
            return reading_of(words, "this line", desk.board, "Cannot take this reading")

        known = desk.known if desk.known is not None and len(desk.known[0].entries) == len(log.entries) else None
        session = BenchSession(desk.weigher, known[0] if known else log, understand, keep, _time, actor.key)
        session._known = known
        try:
            yield session
        finally:
            desk.known = session._known


def posterior_without(session: BenchSession) -> dict[str, float]:
    """Probability of each part after the same readings, by the handbook's odds alone."""
    used = session.diagnoser
    plain = Diagnoser(used.board, used.chain, limits=used.limits, known_good=used.known_good,
                      not_working=used.not_working)  # fmt: skip
    return dict(plain.posterior(session.log.readings()).parts())


def learned_at(visit: Visit) -> AtBench:
    """
    What was learned that counts at a visit's bench.

    Raises:
        BadInput: The visit has no board, or its board cannot be loaded.
    """
    with _desk(visit) as desk:
        return desk.learned


@contextmanager
def _desk(visit: Visit) -> Iterator[_Desk]:
    edition = visit.board_now()
    if edition is None:
        raise BadInput(NO_BOARD, "no board", "a visit with a board",
                       "Name the board in the object's entry, then give the visit that board.")  # fmt: skip
    told = history_of(visit)
    key = basis_of(visit, edition, told)
    with _turn:
        desk = _desks.get(visit.pk)
        if desk is None or desk.key != key:
            if desk is not None:
                desk.end.close()
            desk = _desks[visit.pk] = _new_desk(key, edition, visit, told)
        _desks.move_to_end(visit.pk)
        while len(_desks) > _most("desks"):
            _desks.popitem(last=False)[1].end.close()
    with desk.turn:
        yield desk


def basis_of(visit: Visit, edition: BoardEdition, told: Told) -> tuple[object, ...]:
    """Everything besides the readings that a diagnosis at the bench rests on."""
    return (edition.digest, visit.not_working, visit.instruments, told, visit.object.made, experience_mark())


def history_of(visit: Visit) -> Told:
    """What stands about the visit's object that a diagnosis weighs."""
    rows = Statement.objects.standing().filter(object=visit.object, kind__in=("diagnosis", "seen")).order_by("pk")
    return tuple(rows.values_list("kind", "part", "mode", "reliability", "text"))


def _new_desk(
    key: tuple[object, ...], edition: BoardEdition, visit: Visit, told: Told
) -> _Desk:
    board = with_history(board_of(edition), told)
    end = ExitStack()
    learned = at_bench(board, visit)
    weigher = end.enter_context(weigher_of(board, visit, learned))
    return _Desk(key, board, weigher, learned, end)


@contextmanager
def weigher_of(board: Board, visit: Visit, learned: AtBench) -> Iterator[Diagnoser]:
    """
    The diagnoser of a visit at the bench.

    Args:
        board: With what stands about the object.
        visit: Its instruments, and whether the object works.
        learned: What counts at this bench.
    """
    at_hand = tuple(filter(None, visit.instruments.split(",")))
    with diagnoser(
        board, at_hand=at_hand, not_working=visit.not_working, odds=learned.odds, effort=learned.effort
    ) as weigher:
        weigher.two_steps = False  # a page answers at once; the thorough diagnosis looks a step further
        yield weigher


def with_history(board: Board, told: Told) -> Board:
    """
    The board with what stands about this object: earlier diagnoses with their reliability, and signs seen.

    Args:
        board: Of its type.
        told: Kind, part, mode or sign, reliability, text. What names no part or mode of this board is for people only.
    """
    labels = [
        Label(part, mode, reliability, text)
        for kind, part, mode, reliability, text in told
        if kind == "diagnosis" and part in board.parts and reliability is not None
        and (not mode or any(one.key == mode for one in modes_of(board.parts[part])))
    ]  # fmt: skip
    seen = [
        Seen(part, mode)
        for kind, part, mode, _, _ in told
        if kind == "seen" and part in board.parts and mode in quantity("look").categories
    ]
    history = board.history
    return replace(board, history=History((*history.labels, *labels), (*history.seen, *seen)))


def _most(name: str) -> int:
    return int(table("web")["kept"][name])


def _time() -> str:
    return now().strftime("%Y-%m-%dT%H:%M:%SZ")
