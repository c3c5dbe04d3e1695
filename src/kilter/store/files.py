"""Files under the data folder, each named by the SHA-256 of its content and written once."""

from __future__ import annotations

import hashlib
import os
import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import IO

from kilter.measure.errors import BadInput

PIECE = 1 << 20


class FileStore:
    """
    The files of a record.

    Args:
        folder: Made with the first file.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, sha256: str) -> Path:
        """Where a content is, or would be; never built from a name that a person gave."""
        if len(sha256) != 64 or not set(sha256) <= set("0123456789abcdef"):
            raise BadInput("Cannot find the file", f"'{sha256[:70]}'", "64 hexadecimal digits", "Name its SHA-256.")
        return self.folder / sha256[:2] / sha256

    def keep(self, source: IO[bytes], most: int | None = None) -> tuple[str, int]:
        """
        Puts a content away and waits until it is on the disk; one that is there already is left alone.

        Args:
            source: Read to its end.
            most: Largest size. [B]

        Returns:
            SHA-256 and size in bytes.

        Raises:
            BadInput: It is larger, or empty.
            OSError: The disk is full or may not be written.
        """
        self.folder.mkdir(parents=True, exist_ok=True)
        waiting = self.folder / f".coming-{secrets.token_hex(8)}"
        digest, size = hashlib.sha256(), 0
        try:
            with waiting.open("xb") as file:
                while piece := source.read(PIECE):
                    size += len(piece)
                    if most is not None and size > most:
                        raise BadInput("Cannot keep the file", f"more than {most:,} bytes", f"at most {most:,} bytes",
                                       "Keep it elsewhere and write down where.")  # fmt: skip
                    digest.update(piece)
                    file.write(piece)
                file.flush()
                os.fsync(file.fileno())
            if not size:
                raise BadInput("Cannot keep the file", "an empty file", "at least one byte", "Look at the file.")
            self._settle(waiting, self.path(digest.hexdigest()))
        finally:
            waiting.unlink(missing_ok=True)
        return digest.hexdigest(), size

    def _settle(self, waiting: Path, target: Path) -> None:
        target.parent.mkdir(exist_ok=True)
        if not target.exists():
            waiting.chmod(0o444)
            waiting.replace(target)
            _settle_folder(target.parent)

    def open(self, sha256: str) -> IO[bytes]:
        """
        A content, to be read.

        Raises:
            BadInput: It is not there.
        """
        path = self.path(sha256)
        try:
            return path.open("rb")
        except FileNotFoundError:
            raise BadInput("Cannot read the file", f"no content {sha256[:12]}... in {self.folder}",
                           "files that the record knows", "Restore it from a backup.") from None  # fmt: skip

    def wrong(self, known: Iterator[tuple[str, int]]) -> Iterator[str]:
        """What is not as it should be, of the contents that the record knows by SHA-256 and size."""
        for sha256, size in known:
            path = self.path(sha256)
            if not path.is_file():
                yield f"the file {sha256} is missing"
            elif path.stat().st_size != size or digest_of(path) != sha256:
                yield f"the file {sha256} was altered: {path.stat().st_size} bytes, {size} were kept"


def digest_of(path: Path) -> str:
    """SHA-256 of a file, hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _settle_folder(folder: Path) -> None:
    """Waits until the folder's own entry is on the disk, where the system can do that."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
