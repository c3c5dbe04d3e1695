"""
The bag: everything about one object in a folder that can be checked and read without Kilter (BagIt, RFC 8493).

The folder is built beside its place and moved there when it is whole, so that no half bag is ever found. The working
folder of the process is left alone: a server may write two bags at once.
"""

from __future__ import annotations

import hashlib
import io
import json
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from kilter.exporters.attachment_files import checked_file
from kilter.exporters.bag_readme import readme
from kilter.exporters.harmless import file_name, one_line
from kilter.exporters.lido import lido
from kilter.exporters.report_html import report_html
from kilter.exporters.report_json import dossier_json, no_surrogates, schema_text
from kilter.exporters.report_pdf import report_pdf
from kilter.exporters.spreadsheet import READING_HEADS, csv_bytes, reading_rows
from kilter.measure.errors import BadInput
from kilter.records.dossier import Dossier

DECLARATION = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
DOING = "Cannot write the bag"
START = (1980, 1, 1, 0, 0, 0)
"""The first time that a ZIP file can hold; every file gets it, so that the same bag gives the same bytes."""


Content = bytes | Path
"""A file of the bag: its bytes, or where they lie."""


def write_bag(dossier: Dossier, folder: Path, *, pdf: bool = True) -> tuple[str, ...]:
    """
    Writes the bag.

    Args:
        dossier: Of the object.
        folder: Made new; nothing is overwritten.
        pdf: With the report in print, which wants the typesetter.

    Returns:
        Attachments that are not in it, with the reason; they are named in the bag's README too.

    Raises:
        BadInput: The folder is there already or cannot be written, or the typesetter refuses.
        NotAvailable: A library that is wanted is not installed.
    """
    if folder.exists():
        raise BadInput(DOING, f"'{folder}', which is there already", "a folder that is not there yet",
                       "Choose another name; nothing is overwritten.")  # fmt: skip
    missing, payload = _payload(dossier, pdf=pdf)
    try:
        with tempfile.TemporaryDirectory(prefix=".bag-", dir=folder.parent) as building:
            whole = Path(building) / "bag"
            for name, content in (payload | _tag_files(dossier, payload)).items():
                (whole / name).parent.mkdir(parents=True, exist_ok=True)
                if isinstance(content, Path):
                    shutil.copyfile(content, whole / name)
                else:
                    (whole / name).write_bytes(content)
            shutil.move(whole, folder)
    except OSError as error:
        raise BadInput(DOING, f"'{folder}': {error.strerror or 'an error of the disk'}",
                       "a new folder in one that is there and can be written",
                       "Choose another place.") from None  # fmt: skip
    return missing


def zip_bag(dossier: Dossier, path: Path, *, pdf: bool = True) -> tuple[str, ...]:
    """
    The same as one ZIP file with the bag in a folder named after the object (RFC 8493, 4.2: one top folder).

    Raises:
        BadInput: The file is there already or cannot be written, or the typesetter refuses.
        NotAvailable: A library that is wanted is not installed.
    """
    missing, payload = _payload(dossier, pdf=pdf)
    top = file_name(dossier.object.number, "object")
    try:
        with path.open("xb") as file, ZipFile(file, "w", ZIP_DEFLATED) as packed:
            for name, content in (payload | _tag_files(dossier, payload)).items():
                entry = ZipInfo(f"{top}/{name}", START)
                entry.compress_type = ZIP_DEFLATED
                with packed.open(entry, "w", force_zip64=True) as place, _opened(content) as source:
                    shutil.copyfileobj(source, place)
    except OSError as error:
        raise BadInput(DOING, f"'{path}': {error.strerror or 'an error of the disk'}",
                       "a new file in a folder that is there",
                       "Choose another name; nothing is overwritten.") from None  # fmt: skip
    return missing


def journal_lines(dossier: Dossier) -> str:
    """The journal, one entry a line."""
    return "".join(json.dumps(no_surrogates(asdict(one)), ensure_ascii=False) + "\n" for one in dossier.journal)


def _payload(dossier: Dossier, *, pdf: bool) -> tuple[tuple[str, ...], dict[str, Content]]:
    files, names, missing = _attachments(dossier)
    payload: dict[str, Content] = {
        "data/README.txt": readme(dossier, names, missing, pdf=pdf).encode("utf-8"),
        "data/dossier.json": dossier_json(dossier).encode("utf-8"),
        "data/dossier.schema.json": schema_text().encode("utf-8"),
        "data/report.html": report_html(dossier).encode("utf-8"),
        "data/lido.xml": lido(dossier, names, private=True).encode("utf-8"),
        "data/readings.csv": csv_bytes(READING_HEADS, reading_rows([dossier])),
        "data/journal.jsonl": journal_lines(dossier).encode("utf-8"),
    }
    if pdf:
        payload["data/report.pdf"] = report_pdf(dossier)
    return missing, payload | files


def _attachments(dossier: Dossier) -> tuple[dict[str, Content], dict[str, str], tuple[str, ...]]:
    """Files by their place in the bag; SHA-256 to place, as seen from data/; and what is missing."""
    files: dict[str, Content] = {}
    names: dict[str, str] = {}
    missing: list[str] = []
    taken: set[str] = set()
    for one in dossier.attachments:
        if one.sha256 in names:
            continue
        try:
            path = checked_file(one)
        except BadInput as error:
            missing.append(f"{one_line(one.name)}: {error.found}")
            continue
        name = next(option for option in _options(file_name(one.name)) if option.lower() not in taken)
        taken.add(name.lower())
        names[one.sha256] = f"attachments/{name}"
        files[f"data/attachments/{name}"] = path
    return files, names, tuple(missing)


def _options(name: str) -> Iterator[str]:
    """The name, then the same with numbers before its ending."""
    stem, dot, ending = name.rpartition(".")
    yield name
    count = 1
    while True:
        count += 1
        yield f"{stem}-{count}.{ending}" if dot else f"{name}-{count}"


def _tag_files(dossier: Dossier, payload: dict[str, Content]) -> dict[str, Content]:
    size = sum(one.stat().st_size if isinstance(one, Path) else len(one) for one in payload.values())
    told = [("Source-Organization", dossier.house), ("External-Identifier", dossier.object.number),
            ("External-Description", f"Record of the object {dossier.object.name}"),
            ("Bagging-Date", dossier.made_at[:10]), ("Payload-Oxum", f"{size}.{len(payload)}")]  # fmt: skip
    info = "".join(f"{label}: {one_line(words)}\n" for label, words in told if one_line(words))
    tags: dict[str, Content] = {"bagit.txt": DECLARATION.encode("ascii"), "bag-info.txt": info.encode("utf-8"),
                                "manifest-sha256.txt": _manifest(payload)}  # fmt: skip
    return tags | {"tagmanifest-sha256.txt": _manifest(tags)}


def _manifest(files: dict[str, Content]) -> bytes:
    lines = []
    for name, content in sorted(files.items()):
        with _opened(content) as file:
            lines.append(f"{hashlib.file_digest(file, 'sha256').hexdigest()}  {name}\n")
    return "".join(lines).encode("ascii")


def _opened(content: Content) -> io.BufferedReader | io.BytesIO:
    return content.open("rb") if isinstance(content, Path) else io.BytesIO(content)
