"""Definite-length blocks (IEEE 488.2-1992, 8.7.9): '#', how many digits follow, the length in so many digits, bytes."""

from __future__ import annotations

from time import monotonic

from kilter.live.connection import Connection, NoAnswer
from kilter.live.profiles import limit


class HalfBlock(NoAnswer):
    """A block that breaks off among its data; 'arrived' holds those that came."""


def ask_block(connection: Connection, question: str) -> bytes:
    """
    Sends a question whose answer is a block, and takes it in piece by piece.

    Raises:
        NoAnswer: No block.
        HalfBlock: It breaks off; the error carries the data that arrived.
    """
    connection.tell(question)
    deadline = monotonic() + limit("block_s")
    start = _exactly(connection, 2, question, deadline)
    if start[:1] != b"#" or not start[1:2].isdigit() or start[1:2] == b"0":
        raise _bad(connection, question, f"{start!r} at its beginning", "'#' and a digit from 1 to 9", start)
    digits = _exactly(connection, int(start[1:2]), question, deadline)
    if not digits.isdigit() or int(digits) > limit("largest_block"):
        allowed = f"a length of up to {limit('largest_block'):.0f}"
        raise _bad(connection, question, f"the length {digits[:12]!r}", allowed, start + digits)
    try:
        return _exactly(connection, int(digits), question, deadline)
    except NoAnswer as error:
        raise HalfBlock(error.doing, error.found, error.allowed, error.do_next, error.arrived) from None


def _exactly(connection: Connection, count: int, question: str, deadline: float) -> bytes:
    """So many bytes."""
    got = bytearray()
    while len(got) < count:
        got += connection.read_some(count - len(got), question, bytes(got))
        if len(got) < count and monotonic() > deadline:
            found = f"{len(got)} of {count} bytes in {limit('block_s'):g} s"
            raise _bad(connection, question, found, "the whole block", bytes(got))
    return bytes(got)


def _bad(connection: Connection, question: str, found: str, allowed: str, arrived: bytes) -> NoAnswer:
    return NoAnswer(f"Cannot read the block that answers '{question}' from {connection.address}", found, allowed,
                    "Choose another command family, or fewer points on the instrument.", arrived)  # fmt: skip
