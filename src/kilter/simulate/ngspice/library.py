"""
The ngspice shared library, reached with ctypes: load a circuit, give commands, read vectors.

Its return codes say 0 for an unknown model, an unknown element and an analysis that was given up, so failure is told
from what it writes to its error stream and from vectors that are missing or not numbers.
"""

from __future__ import annotations

import ctypes
import os
from collections.abc import Sequence
from ctypes import CFUNCTYPE, POINTER, c_bool, c_char_p, c_double, c_int, c_short, c_void_p
from ctypes.util import find_library
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kilter.measure.errors import KilterError, NotAvailable

ENVIRONMENT_NAME = "KILTER_NGSPICE"
_USUAL_NAMES = ("libngspice.so.0", "libngspice.so", "libngspice.0.dylib", "libngspice.dylib", "ngspice.dll")

Complex = NDArray[np.complex128]
Numbers = NDArray[np.float64] | Complex


class NotSettled(KilterError):
    """An analysis that ngspice gave up, or that took too long."""


class _Pair(ctypes.Structure):
    _fields_ = [("real", c_double), ("imaginary", c_double)]


class _Vector(ctypes.Structure):
    _fields_ = [
        ("name", c_char_p),
        ("type", c_int),
        ("flags", c_short),
        ("real", POINTER(c_double)),
        ("complex", POINTER(_Pair)),
        ("length", c_int),
    ]


_SendChar = CFUNCTYPE(c_int, c_char_p, c_int, c_void_p)
_SendStat = CFUNCTYPE(c_int, c_char_p, c_int, c_void_p)
_ControlledExit = CFUNCTYPE(c_int, c_int, c_bool, c_bool, c_int, c_void_p)


def find_ngspice() -> str:
    """
    Where the shared library is: the environment's word first, then the system's, then the usual names.

    Raises:
        NotAvailable: None of these can be loaded.
    """
    places = [os.environ.get(ENVIRONMENT_NAME), find_library("ngspice"), *_USUAL_NAMES]
    if places[0]:
        places = places[:1]
    for place in filter(None, places):
        try:
            ctypes.CDLL(place)
        except OSError:
            continue
        return str(place)
    raise NotAvailable(
        "Cannot start the ngspice engine",
        f"no shared library at {', '.join(str(place) for place in places if place)}",
        f"the ngspice shared library, version 39 or later; the variable {ENVIRONMENT_NAME} may hold its full path",
        "Install the system's package of the ngspice library, or go on without it: what it would answer stays unknown.",
    )


class Library:
    """
    The library in this process; there can be one at most, and a fatal error in it ends the process.

    Args:
        path: What find_ngspice returned.
    """

    def __init__(self, path: str) -> None:
        self.complaints: list[str] = []
        self._said: list[str] | None = None
        self._native = _declared(ctypes.CDLL(path))
        # The callbacks must live as long as the library does.
        self._callbacks = (_SendChar(self._hear), _SendStat(lambda *_: 0), _ControlledExit(lambda *_: os._exit(3)))
        self._native.ngSpice_Init(*self._callbacks, None, None, None, None)
        self.command("set ngbehavior=none")
        self.complaints.clear()

    def command(self, text: str) -> None:
        """Give one command; what it complains about is added to complaints."""
        self._native.ngSpice_Command(text.encode())

    def load(self, netlist: str) -> None:
        """Make this netlist the current circuit, in place of the one before."""
        lines = [line.encode() for line in netlist.splitlines()]
        array = (c_char_p * (len(lines) + 1))(*lines, None)
        self._native.ngSpice_Circ(array)

    def plot(self) -> str:
        """Name of the current set of results, such as 'op3'; 'const' when there is none."""
        return str(self._native.ngSpice_CurPlot().decode())

    def vector_names(self) -> list[str]:
        """Names of all vectors of the current set of results."""
        listed = self._native.ngSpice_AllVecs(self._native.ngSpice_CurPlot())
        names: list[str] = []
        while listed[len(names)] is not None:
            names.append(listed[len(names)].decode())
        return names

    def last(self, name: str | bytes) -> float:
        """The last number of a real vector; NaN when it is missing."""
        found = self._native.ngGet_Vec_Info(name if isinstance(name, bytes) else name.encode())
        if not found or not found.contents.real or not found.contents.length:
            return float("nan")
        return float(found.contents.real[found.contents.length - 1])

    def vector(self, name: str) -> Numbers:
        """A copy of a vector; of length zero when it is missing."""
        found = self._native.ngGet_Vec_Info(name.encode())
        if not found:
            return np.empty(0)
        info = found.contents
        if info.real:
            return np.ctypeslib.as_array(info.real, shape=(info.length,)).copy()
        if not info.complex:
            return np.empty(0)
        pairs = ctypes.cast(info.complex, POINTER(c_double))
        return np.ctypeslib.as_array(pairs, shape=(2 * info.length,)).copy().view(np.complex128)

    def version(self) -> str:
        """Such as 'ngspice-39'."""
        said: list[str] = []
        self._said = said
        self.command("version -s")
        self._said = None
        return next((word for line in said for word in line.split() if word.startswith("ngspice-")), "ngspice")

    def hear_nothing_yet(self) -> None:
        """Forget earlier complaints."""
        self.complaints.clear()

    def complained_of(self, words: Sequence[str]) -> str:
        """A complaint that holds one of these words, given in lower case and the most telling first; else ''."""
        return next((line for word in words for line in self.complaints if word in line.lower()), "")

    def _hear(self, line: bytes, _instance: int, _user: object) -> int:
        channel, _, text = line.decode(errors="replace").partition(" ")
        if channel == "stderr" and text.strip():
            self.complaints.append(text.strip())
        elif self._said is not None:
            self._said.append(text)
        return 0


def _declared(native: ctypes.CDLL) -> Any:
    native.ngSpice_Command.argtypes = [c_char_p]
    native.ngSpice_Circ.argtypes = [POINTER(c_char_p)]
    native.ngGet_Vec_Info.argtypes = [c_char_p]
    native.ngGet_Vec_Info.restype = POINTER(_Vector)
    native.ngSpice_CurPlot.restype = c_char_p
    native.ngSpice_AllVecs.argtypes = [c_char_p]
    native.ngSpice_AllVecs.restype = POINTER(c_char_p)
    return native
