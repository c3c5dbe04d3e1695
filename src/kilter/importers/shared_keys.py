"""The list of other collections' keys: a TOML file that a person keeps, with a name and a trust for each key."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from kilter.diagnose.learned_odds import number
from kilter.importers.text_files import read_text
from kilter.importers.toml_tables import read_toml
from kilter.measure.errors import BadInput
from kilter.services.accept_shared import Sharer


def read_shared_keys(path: Path) -> tuple[Sharer, ...]:
    """
    The collections whose keys are known.

    Raises:
        BadInput: It cannot be read, a key is none or there twice, or a trust is not between 0 and 1.
    """
    file = read_toml(path, "the list of keys")
    found: list[Sharer] = []
    for name, row in file.tables("keys"):
        key = row.needed_text("key").lower()
        if not re.fullmatch(r"[0-9a-f]{64}", key):
            raise row.bad("key", key, "64 hexadecimal digits", "Copy it as 'kilter share key' printed it there.")
        trust: Any = row.take("trust")
        most = number("most_trust")
        if not isinstance(trust, (int, float)) or isinstance(trust, bool) or not 0 <= trust <= most:
            raise row.bad("trust", trust, f"a weight from 0 to {most:g}", "1 means: as good as our own counts.")
        if any(key == one.key for one in found):
            raise row.bad("key", key, "each key once", "Take the other one out.")
        found.append(Sharer(name, key, float(trust)))
        row.done()
    file.done()
    return tuple(found)


def read_private_key(path: Path) -> bytes:
    """
    The private key's text.

    Raises:
        BadInput: It cannot be read.
    """
    return read_text(path, "the private key").encode()


def read_shared_file(path: Path) -> bytes:
    """
    The bytes of a shared file.

    Raises:
        BadInput: It cannot be read.
    """
    try:
        return path.read_bytes()
    except OSError as error:
        raise BadInput("Cannot read the shared file", f"{path}: {error.strerror}", "a file that can be read",
                       "Name another file.") from None  # fmt: skip
