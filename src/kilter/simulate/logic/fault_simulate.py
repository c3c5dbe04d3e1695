"""
All single stuck-at faults under all vectors, without dropping any.

Stem method: a flip is spread from each fan-out stem once; a fault inside a fan-out-free region responds where it is
excited, reaches its stem, and the stem is seen. Good for single faults; for several at once see `inject`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.simulate.logic.engine import make_sweep
from kilter.simulate.logic.faults import StuckAt, places
from kilter.simulate.logic.inject import Injector
from kilter.simulate.logic.lanes import Vectors, unpack
from kilter.simulate.logic.levels import Levelled, Words
from kilter.simulate.logic.simulate import check_width


@dataclass(frozen=True)
class Responses:
    """
    What each fault does at the outputs.

    Args:
        faults: In the order of the arrays.
        detections: Vectors in which some output differs from the good machine's, shape (faults,).
        signatures: Fingerprint of the full response, 0 for none, shape (faults,); see signature_keys.
    """

    levelled: Levelled
    vectors: Vectors
    faults: tuple[StuckAt, ...]
    detections: NDArray[np.int64]
    signatures: Words

    def undetected(self) -> list[StuckAt]:
        """Faults that no vector shows: redundant ones, and those that want another vector."""
        return [fault for fault, count in zip(self.faults, self.detections, strict=True) if not count]

    def differences(self, fault: StuckAt) -> NDArray[np.bool_]:
        """Where the outputs differ from the good machine's, worked out anew; shape (n_vectors, outputs)."""
        injector = Injector(self.levelled, self.vectors)
        return unpack(injector.outputs([fault]) ^ injector.outputs([]), self.vectors.count)

    def ties(self) -> list[list[StuckAt]]:
        """Faults that these vectors cannot tell apart, by signature; each group in fault order."""
        groups: dict[int, list[StuckAt]] = {}
        for fault, signature in zip(self.faults, self.signatures.tolist(), strict=True):
            groups.setdefault(signature, []).append(fault)
        return list(groups.values())


class StuckAtSweep:
    """
    One netlist and fault list, laid out once and run with as many sets of vectors as wanted.

    Args:
        engine: 'auto', 'compiled' (numba) or 'plain'; all give the same numbers.
    """

    def __init__(self, levelled: Levelled, faults: Sequence[StuckAt], *, engine: str = "auto") -> None:
        self.levelled, self.faults = levelled, tuple(faults)
        self.sweep = make_sweep(levelled, places(levelled, faults), engine)

    def run(self, vectors: Vectors) -> Responses:
        """
        Responses of every fault.

        Raises:
            BadInput: The vectors are for another number of inputs.
        """
        check_width(self.levelled, vectors)
        detections, signatures = self.sweep.run(vectors)
        return Responses(self.levelled, vectors, self.faults, detections, signatures)
