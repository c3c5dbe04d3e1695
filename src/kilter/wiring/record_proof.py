"""The acceptance list of a visit of the record, held against what was read since the last thing done."""

from __future__ import annotations

from kilter.services.bench import BenchSession
from kilter.services.prove_repair import Proof, proof_with


def proof_of(session: BenchSession) -> Proof:
    """Made to catch what the parts that were renewed could have had, at the usual risk."""
    weigher = session.diagnoser
    assert weigher.chain is not None
    return proof_with(weigher.board, weigher.chain, session.log.readings())
