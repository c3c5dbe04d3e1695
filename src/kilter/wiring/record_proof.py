"""The acceptance list of a visit of the record, held against what was read since the last thing done."""

from __future__ import annotations

from kilter.planning.numbers import number
from kilter.services.acceptance_list import acceptance_list
from kilter.services.bench import BenchSession
from kilter.services.prove_repair import Proof, faults_of, prove_repair


def proof_of(session: BenchSession) -> Proof:
    """Made to catch what the parts that were renewed could have had, at the usual risk."""
    readings, board = session.log.readings(), session.diagnoser.board
    faults = faults_of(board, (), readings)
    chain = session.diagnoser.chain
    assert chain is not None
    items = acceptance_list(board, chain, faults, None, (), ())
    return prove_repair(board, items, faults, readings, number("proof", "risk"))
