"""
One connection to an instrument: questions and answers, with an end to every wait.

What goes wrong becomes a message in four parts: no such instrument, unplugged, silent, answering garbage. Whatever has
arrived before is handed on, never dropped.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from time import monotonic
from typing import Any

from kilter.live.profiles import limit
from kilter.measure.errors import BadInput, NotAvailable

BACKEND = "@py"
"""The pure Python backend of PyVISA."""


class NoAnswer(BadInput):
    """
    An instrument that does not answer, or not to the end.

    Args:
        arrived: What had arrived by then.
    """

    def __init__(self, doing: str, found: str, allowed: str, do_next: str, arrived: bytes = b"") -> None:
        super().__init__(doing, found, allowed, do_next)
        self.arrived = arrived


class Connection:
    """
    An open connection; use `connect`.

    Args:
        resource: Of PyVISA.
        address: For messages.
    """

    def __init__(self, resource: Any, address: str) -> None:
        self.resource, self.address = resource, address
        self.owes_answer = False

    def identify(self) -> str:
        """What the instrument says of itself (*IDN?, IEEE 488.2-1992, 10.14)."""
        return self.ask("*IDN?")

    def tell(self, command: str) -> None:
        """
        Sends a command that has no answer.

        Raises:
            NoAnswer: The connection is broken.
        """
        if self.owes_answer:
            self._drop_late_answer()
        with self._failures(f"send '{command}'"):
            self.resource.write(command)

    def ask(self, question: str) -> str:
        """
        Sends a question and waits for a line.

        Raises:
            NoAnswer: Silence, a broken connection, a line without end, or bytes that are no text.
        """
        self.tell(question)
        deadline, answer, ended = monotonic() + limit("answer_s") * 2, b"", False
        while not ended:
            piece, ended = self._piece(question, answer)
            answer += piece
            ended = ended or answer.endswith(b"\n")
            if len(answer) > limit("longest_answer") or (not ended and monotonic() > deadline):
                raise self._bad(question, f"{len(answer)} bytes without an end", "one line", answer)
        text = answer.strip(b"\r\n\0 ")
        if not text.isascii() or not text.decode("ascii").isprintable():
            raise self._bad(question, f"the bytes {text[:24]!r}, which are no text", "a line of text", answer)
        return text.decode("ascii")

    def ask_number(self, question: str) -> float:
        """
        Sends a question and waits for one number; 9.9E37 is infinite, as in SCPI-99, volume 1, 7.2.1.5.

        Raises:
            NoAnswer: No answer, or one that is no number.
        """
        answer = self.ask(question)
        first = answer.split(",")[0].strip().strip('"')
        try:
            value = float(first)
        except ValueError:
            raise self._bad(question, f"the answer '{answer[:60]}'", "a number", answer.encode()) from None
        if value != value or 9.9099e37 < abs(value) < 9.9101e37:
            raise self._bad(question, f"the answer '{answer[:60]}', which stands for no number", "a number",
                            answer.encode())  # fmt: skip
        return float("inf") * (1 if value > 0 else -1) if abs(value) >= 9.9e37 else value

    def read_some(self, count: int, question: str, arrived: bytes) -> bytes:
        """
        Reads up to so many bytes of a block.

        Raises:
            NoAnswer: Silence or a broken connection; it carries what has arrived before.
        """
        piece, _ = self._piece(question, arrived, min(count, int(limit("piece"))))
        return piece

    def _drop_late_answer(self) -> None:
        """An answer that comes too late must not be taken for that to the next question."""
        from pyvisa.errors import Error

        usual, self.resource.timeout = self.resource.timeout, limit("late_s") * 1000
        with suppress(Error, OSError, ValueError):
            for _ in range(int(limit("longest_answer") / limit("piece"))):
                if not self._read(int(limit("piece")))[0]:
                    break
        self.resource.timeout, self.owes_answer = usual, False

    def _piece(self, question: str, arrived: bytes, count: int | None = None) -> tuple[bytes, bool]:
        """Some bytes, and whether the instrument says that they are the last."""
        from pyvisa.constants import StatusCode

        with self._failures(f"read the answer to '{question}'", arrived):
            size = count or int(limit("piece"))
            piece, status = self._read(size)
        if not piece:
            raise self._bad(question, "no more bytes", "an answer", arrived)
        return piece, status == StatusCode.success

    def _read(self, count: int) -> tuple[bytes, Any]:
        """Up to so many bytes, with the library's status; that there may be more is no warning."""
        from pyvisa.constants import StatusCode

        usual = (StatusCode.success_max_count_read, StatusCode.success_termination_character_read)
        with self.resource.ignore_warning(*usual):
            piece, status = self.resource.visalib.read(self.resource.session, count)
        return bytes(piece), status

    @contextmanager
    def _failures(self, what: str, arrived: bytes = b"") -> Iterator[None]:
        """Whatever the library raises, in four parts."""
        from pyvisa.errors import Error, VisaIOError

        try:
            yield
        except (VisaIOError, Error, OSError, ValueError) as error:
            self.owes_answer = True
            silent = "tmo" in str(error).lower() or "timeout" in str(error).lower()
            found = f"silence for {limit('answer_s'):g} s" if silent else f"a broken connection ({str(error)[:80]})"
            if arrived:
                found += f" after {len(arrived)} bytes"
            do_next = "Check cable, power and address, and that nothing else is talking to it; then ask again."
            raise NoAnswer(f"Cannot {what} at {self.address}", found, "an answer", do_next, arrived) from None

    def _bad(self, question: str, found: str, allowed: str, arrived: bytes) -> NoAnswer:
        self.owes_answer = True
        return NoAnswer(f"Cannot understand the answer to '{question}' from {self.address}", found, allowed,
                        "Try another command family, or look whether this is the instrument that was meant.",
                        arrived)  # fmt: skip


def backend_for(backend: str = BACKEND) -> Any:
    """
    PyVISA's manager of connections.

    Raises:
        NotAvailable: PyVISA or its backend is not installed.
    """
    try:
        import pyvisa

        return pyvisa.ResourceManager(backend)
    except (ImportError, ValueError, OSError) as error:
        raise NotAvailable("Cannot talk to instruments", f"no PyVISA with its pure Python backend ({str(error)[:80]})",
                           "the extra 'live'", "Install it: pip install 'kilter[live]'.") from None  # fmt: skip


@contextmanager
def connect(address: str, *, backend: str = BACKEND) -> Iterator[Connection]:
    """
    An instrument at a VISA address such as 'TCPIP::192.0.2.7::5025::SOCKET', 'ASRL3::INSTR' or 'USB::...::INSTR'.

    Raises:
        NotAvailable: The extra 'live' is not installed.
        NoAnswer: There is no instrument.
    """
    manager = backend_for(backend)
    try:
        resource = _opened(manager, address)
        try:
            yield Connection(resource, address)
        finally:
            with suppress(Exception):
                resource.close()
    finally:
        with suppress(Exception):
            manager.close()


def listed(*, backend: str = BACKEND) -> tuple[str, ...]:
    """Addresses of the instruments that show themselves; those on the network mostly do not."""
    manager = backend_for(backend)
    try:
        return tuple(manager.list_resources("?*"))
    finally:
        manager.close()


def _opened(manager: Any, address: str) -> Any:
    try:
        resource = manager.open_resource(address, open_timeout=int(limit("answer_s") * 1000))
        resource.timeout = limit("answer_s") * 1000
        resource.read_termination, resource.write_termination = "\n", "\n"
    except Exception as error:  # noqa: BLE001 (the backend raises the bare class where nobody listens)
        found = f"no instrument that answers ({str(error)[:100]})"
        forms = (
            "an address such as TCPIP::192.0.2.7::5025::SOCKET, TCPIP::192.0.2.7::INSTR, ASRL3::INSTR, USB::...::INSTR"
        )
        do_next = "Check that it is plugged in, switched on and free; 'kilter live list' shows what is seen."
        raise NoAnswer(f"Cannot connect to {address[:80]}", found, forms, do_next) from None
    return resource
