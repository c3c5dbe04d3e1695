"""Writes shared files and keys, and what came in such files: board files, netlists and known-good readings."""

from __future__ import annotations

import csv
import io
import json
import os
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantity

OWNER_ONLY = 0o600


def write_new(path: Path, data: bytes, *, secret: bool = False) -> None:
    """
    Writes a file that is not there yet.

    Args:
        path: Where.
        data: All of it.
        secret: Only its owner may read it.

    Raises:
        BadInput: It is there already, or cannot be written.
    """
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    try:
        with os.fdopen(os.open(path, flags, OWNER_ONLY if secret else 0o644), "wb") as file:
            file.write(data)
    except OSError as error:
        raise BadInput(
            f"Cannot write {path}", error.strerror or "an error of the disk", "a new file in a folder that is there",
            "Choose another name; nothing is overwritten.",
        ) from None  # fmt: skip


def write_boards(folder: Path, content: Mapping[str, Any], sharer: str) -> list[Path]:
    """
    The boards of an accepted file as board files and netlists; their version stands in the names and in the files.

    Raises:
        BadInput: A file is there already, or cannot be written.
    """
    written = []
    for one in content["boards"]:
        stem = f"{_stem(one['title'])}-{one['digest'][:8]}"
        head = {"kilter": one["board"].get("kilter", 1), "board": one["title"]}
        if one["netlist"]:
            head["netlist"] = f"{stem}.cir"
            written.append(_written(folder / f"{stem}.cir", one["netlist"]))
        origin = f"# From {sharer}, number {content['sequence']}, version {one['digest']}, licence {one['licence']}.\n"
        body = {key: value for key, value in one["board"].items() if key != "kilter"}
        written.append(_written(folder / f"{stem}.toml", origin + toml({**head, **body})))
    return written


def write_readings(folder: Path, content: Mapping[str, Any]) -> list[Path]:
    """
    The known-good readings of an accepted file, one CSV file for each specimen.

    Raises:
        BadInput: A file is there already, or cannot be written.
    """
    written = []
    for number, one in enumerate(content["known_good"], 1):
        name = f"known-good-{one['board'][:8]}-{content['key'][:8]}-{content['sequence']}-{number}.csv"
        written.append(_written(folder / name, readings_text(one["readings"])))
    return written


def readings_text(rows: Sequence[Mapping[str, Any]]) -> str:
    """Shared readings as a readings file."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(("point", "quantity", "value", "uncertainty", "state", "instrument"))
    for row in rows:
        unit = quantity(row["quantity"]).unit
        value, uncertainty = row["value"], row.get("uncertainty", "")
        words = value if isinstance(value, str) else f"{value!r} {unit}".strip()
        spread = f"{uncertainty!r} {unit}".strip() if uncertainty != "" and not isinstance(value, str) else ""
        writer.writerow((row["point"], row["quantity"], words, spread, row.get("state", ""), row.get("instrument", "")))
    return text.getvalue()


def toml(table: Mapping[str, Any], place: str = "") -> str:
    """
    Plain data as TOML: tables of tables as headed tables, everything else in one line each.

    >>> print(toml({"kilter": 1, "parts": {"R1": {"kind": "resistor", "drifts": [0.5]}}}), end="")
    kilter = 1
    <BLANKLINE>
    [parts."R1"]
    "kind" = "resistor"
    "drifts" = [0.5]
    """
    plain = {key: value for key, value in table.items() if not isinstance(value, Mapping)}
    lines = [f"{key if not place else json.dumps(key)} = {_inline(value)}" for key, value in plain.items()]
    text = "".join(f"{line}\n" for line in lines)
    for key, value in table.items():
        if isinstance(value, Mapping) and value and all(isinstance(row, Mapping) for row in value.values()):
            for name, row in value.items():
                body = "".join(f"{json.dumps(k)} = {_inline(v)}\n" for k, v in row.items())
                text += f"\n[{key}.{json.dumps(name)}]\n{body}"
        elif isinstance(value, Mapping):
            text += f"\n[{key}]\n" + "".join(f"{json.dumps(k)} = {_inline(v)}\n" for k, v in value.items())
    return text


def _inline(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{json.dumps(key)} = {_inline(row)}" for key, row in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_inline, value)) + "]"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")


def _written(path: Path, text: str) -> Path:
    write_new(path, text.encode())
    return path


def _stem(words: str) -> str:
    return re.sub(r"[^A-Za-z0-9]+", "-", words).strip("-").lower() or "board"
