"""A sweep: one function, what all its chunks share, and the chunks; the same work whoever does it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from platform import machine, python_version
from typing import Any

import numpy as np

import kilter

EDITION = 1
"""Of the result folder."""

Work = Callable[[Mapping[str, Any], Mapping[str, Any]], Any]
"""From what all chunks share and one chunk to plain data; the same bits for the same two, wherever it runs."""


@dataclass(frozen=True)
class Sweep:
    """
    Work in chunks.

    Args:
        name: What it is, as 'faults'.
        work: A function of a module, so that another process finds it by its name.
        shared: Plain data that every chunk needs.
        chunks: Plain data of each chunk. How it is divided does not depend on the number of workers.
    """

    name: str
    work: Work
    shared: Mapping[str, Any]
    chunks: Sequence[Mapping[str, Any]]

    def key(self, number: int) -> str:
        """Name of a chunk, in the order of the chunks."""
        return f"{number:06d}"

    def identity(self) -> dict[str, Any]:
        """What makes it this sweep and no other: results of different sweeps are never put together."""
        plain = {"shared": self.shared, "chunks": list(self.chunks)}
        return {
            "edition": EDITION,
            "name": self.name,
            "chunks": len(self.chunks),
            "asked": hashlib.sha256(canonical(plain)).hexdigest(),
            "program": program_digest(),
        }


def canonical(plain: Any) -> bytes:
    """
    Plain data as bytes that are the same for the same data; numbers keep every bit.

    >>> canonical({"b": 0.1, "a": [1]})
    b'{"a":[1],"b":0.1}'
    """
    return json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False).encode()


def program_digest() -> str:
    """SHA-256 over every source and data file of the package: numbers of two programs are not one sweep."""
    root, digest = Path(kilter.__file__).parent, hashlib.sha256()
    for path in sorted(root.rglob("*")):
        if path.suffix in (".py", ".toml", ".cir"):
            digest.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()


def made_by() -> str:
    """What a worker computes with; workers that differ in this may differ in the last bit."""
    try:
        numba = f", numba {version('numba')}"
    except PackageNotFoundError:
        numba = ""
    return f"Python {python_version()}, numpy {np.__version__}{numba}, {machine()}"
