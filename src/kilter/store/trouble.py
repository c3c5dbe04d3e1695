"""What a database or a disk says when it fails, told in four parts to the person who was recording."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from django.db import DatabaseError, IntegrityError, InterfaceError, OperationalError

from kilter.measure.errors import BadInput

NOTHING_LOST = "Nothing of this was recorded; everything before it was."
KNOWN = (
    ("password authentication failed", "a password that the database server refuses", "the password of that user"),
    ("fatal:  database", "a server without that database", "a database that the server's owner has made"),
    ("fatal:  role", "a user whom the database server does not know", "a user of that server"),
    ("database or disk is full", "a full disk", "some free space on the disk of the data folder"),
    ("no space left", "a full disk", "some free space on the disk of the database"),
    ("could not extend file", "a full disk", "some free space on the disk of the database"),
    ("disk i/o error", "a disk that does not take what is written", "a disk that is whole, with free space"),
    ("readonly", "a database that may only be read", "a data folder that can be written"),
    ("read-only", "a database that may only be read", "a data folder that can be written"),
    ("unable to open database file", "no database file, or a folder that cannot be written", "a data folder of Kilter"),
    ("locked", "another writer that would not finish", "writers that take turns"),
    ("malformed", "a damaged database file", "a database that is whole"),
    ("not a database", "a file that is no database", "a database that Kilter made"),
    ("no such table", "a database without Kilter's tables", "a database that 'kilter store init' has made ready"),
    ("does not exist", "a database without Kilter's tables", "a database that 'kilter store init' has made ready"),
    ("connection", "a database server that does not answer", "a server that runs and lets this user in"),
)
NEXT = {
    "a full disk": "Make room, then record it again.",
    "a database that may only be read": "Look at the rights of the data folder and at how its disk is mounted.",
    "another writer that would not finish": "Try again; if it stays so, look which program holds the database.",
    "a database without Kilter's tables": "Run 'kilter store init', and look at KILTER_HOME and KILTER_DATABASE.",
    "a password that the database server refuses": "Correct KILTER_DATABASE.",
    "a server without that database": "Have it made, or correct KILTER_DATABASE.",
    "a user whom the database server does not know": "Correct KILTER_DATABASE.",
    "a database server that does not answer": "Start the server, or correct KILTER_DATABASE.",
    "a damaged database file": "Copy the data folder as it is, then run 'kilter store check' and restore a backup.",
}


@contextmanager
def plainly(doing: str) -> Iterator[None]:
    """
    Turns failures of the database or the disk into messages.

    Raises:
        BadInput: With what went wrong and what to do.
    """
    try:
        yield
    except IntegrityError as error:
        raise BadInput(doing, f"a row that the database refuses ({_first_line(error)})", "rows that fit what is there",
                       "Look at the record as it stands now, and record it again.") from error  # fmt: skip
    except (OperationalError, InterfaceError, DatabaseError, sqlite3.Error) as error:
        raise explained(doing, error) from error
    except OSError as error:
        raise _of_disk(doing, error) from error


def explained(doing: str, error: Exception) -> BadInput:
    """The message for one failure."""
    text = str(error).lower()
    for sign, found, allowed in KNOWN:
        if sign in text:
            return BadInput(doing, found, allowed, f"{NEXT.get(found, 'Look at the data folder.')} {NOTHING_LOST}")
    return BadInput(doing, f"a failure of the database: {_first_line(error)}", "a database that answers",
                    f"Run 'kilter store check'. {NOTHING_LOST}")  # fmt: skip


def is_locked(error: Exception) -> bool:
    """Whether trying again may help: another writer was faster, or two blocked each other."""
    text = str(error).lower()
    return "locked" in text or "deadlock" in text or "could not serialize" in text


def _of_disk(doing: str, error: OSError) -> BadInput:
    if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        found, allowed, following = "a full disk", "some free space for the file", "Make room, then try again."
    elif error.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
        found, allowed = "a folder that may only be read", "a folder that can be written"
        following = "Look at its rights and at how its disk is mounted."
    else:
        found, allowed, following = error.strerror or "an error of the disk", "a disk that answers", "Look at the disk."
    where = f" ({error.filename})" if error.filename else ""
    return BadInput(doing, f"{found}{where}", allowed, f"{following} {NOTHING_LOST}")


def _first_line(error: Exception) -> str:
    return (str(error).splitlines() or [type(error).__name__])[0]
