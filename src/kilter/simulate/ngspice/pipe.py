"""Messages between a process and its own worker: a length, then a pickle. Never for data from anywhere else."""

from __future__ import annotations

import pickle
import struct
from typing import Any, BinaryIO

_LENGTH = struct.Struct(">Q")


def send(stream: BinaryIO, message: object) -> None:
    """Write one message."""
    body = pickle.dumps(message, protocol=pickle.HIGHEST_PROTOCOL)
    stream.write(_LENGTH.pack(len(body)) + body)
    stream.flush()


def receive(stream: BinaryIO) -> Any:
    """
    Read one message.

    Raises:
        EOFError: The other side ended.
    """
    (length,) = _LENGTH.unpack(_exactly(stream, _LENGTH.size))
    return pickle.loads(_exactly(stream, length))


def _exactly(stream: BinaryIO, count: int) -> bytes:
    data = stream.read(count)
    if len(data) < count:
        raise EOFError
    return data
