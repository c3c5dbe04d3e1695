"""An instrument on a real network socket, made to misbehave."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

Answer = Callable[[socket.socket, str], None]


@contextmanager
def instrument(answer: Answer) -> Iterator[str]:
    """The VISA address of a server that hands every line it receives to `answer`."""
    server = socket.create_server(("127.0.0.1", 0))
    server.settimeout(10)
    thread = threading.Thread(target=_serve, args=(server, answer), daemon=True)
    thread.start()
    try:
        yield f"TCPIP::127.0.0.1::{server.getsockname()[1]}::SOCKET"
    finally:
        server.close()
        thread.join(2)


def _serve(server: socket.socket, answer: Answer) -> None:
    try:
        wire, _ = server.accept()
    except OSError:
        return
    with wire:
        wire.settimeout(10)
        buffer = b""
        while True:
            try:
                more = wire.recv(4096)
                if not more:
                    return
                buffer += more
                while b"\n" in buffer:
                    line, buffer = buffer.split(b"\n", 1)
                    answer(wire, line.decode())
            except OSError:
                return


def says(**answers: bytes) -> Answer:
    """Answers by the first word's letters before '?', such as READ=b'5.0\\n'; silence for all else."""

    def answer(wire: socket.socket, line: str) -> None:
        key = line.strip(":").split("?")[0].replace(":", "_").replace("*", "")
        if "?" in line and key in answers:
            wire.sendall(answers[key])

    return answer


def in_turn(*answers: bytes | None) -> Answer:
    """Each question gets the next answer; None closes the wire, b'' is silence."""
    left = list(answers)

    def answer(wire: socket.socket, line: str) -> None:
        if "?" not in line:
            return
        now = left.pop(0) if left else b""
        if now is None:
            wire.shutdown(socket.SHUT_RDWR)
            wire.close()
            return
        wire.sendall(now)

    return answer


def late(answer: bytes, seconds: float, then: bytes) -> Answer:
    """The first answer comes too late, the second at once."""
    asked = []

    def reply(wire: socket.socket, line: str) -> None:
        asked.append(line)
        if len(asked) == 1:
            time.sleep(seconds)
            wire.sendall(answer)
        else:
            wire.sendall(then)

    return reply
