"""Dossiers for the tests of what is handed over: one full and friendly, one with hostile words in every text."""

from __future__ import annotations

import dataclasses
import hashlib
from pathlib import Path
from typing import Any, TypeVar

from PIL import Image

from kilter.records.dossier import (
    Attachment,
    Dossier,
    Findings,
    ObjectFields,
    Statement,
    Suspect,
    ToldReading,
    ToldVisit,
    VisitNote,
)
from kilter.records.dossier_display import (
    Ending,
    ToldCount,
    ToldDisplay,
    ToldDue,
    ToldInspection,
    ToldRenewal,
    ToldRunning,
    ToldStretch,
    ToldWear,
)
from kilter.records.dossier_proof import ToldAcceptance, ToldChannel, ToldItem, ToldSession, ToldSoak
from kilter.records.dossier_work import Approval, Proposal, RemovedPart, Repair
from kilter.records.journal import JournalEntry, JournalLine
from kilter.services.journal_chain import START, hash_of

WHEN = "2026-03-01T09:05:30Z"
HOSTILE = (
    "=1+1 <script>alert(1)</script>]]>&amp;'\" #panic() \x00\x07\x1b[31m\x85\ud800\ufffe\u202e $x$ @a %0A\\u{7} 漢Ω"
)
"""Formula, HTML, XML, typesetter's markup, control characters, half a character, an override of direction."""
Kind = TypeVar("Kind")


def file_of(folder: Path, name: str, kind: str, data: bytes, **more: Any) -> Attachment:
    """An attachment whose bytes lie in the folder."""
    digest = hashlib.sha256(data).hexdigest()
    (folder / digest).write_bytes(data)
    return Attachment(name, kind, digest, size=len(data), at=WHEN, who="p-2", path=folder / digest, **more)


def photograph(folder: Path, colour: str, *, turned: bool = False) -> bytes:
    """A JPEG 60 wide and 40 high that says where it was taken; turned, it is to be shown 40 wide and 60 high."""
    exif = Image.Exif()
    exif[0x0112] = 6 if turned else 1
    exif[0x010E] = "KEEP-THIS-PLACE-SECRET"
    exif.get_ifd(0x8825)[1] = "N"
    path = folder / f"{colour}.jpg"
    Image.new("RGB", (60, 40), colour).save(path, exif=exif)
    return path.read_bytes()


def journal(*verbs: str) -> tuple[JournalLine, ...]:
    """A chain of entries by the project's own rule."""
    lines, previous = [], START
    for number, verb in enumerate(verbs, 1):
        entry = JournalEntry(number, WHEN, "p-1", verb, "object HC 0417", "straße", "", '{"a":1}', "", previous)
        lines.append(JournalLine(**dataclasses.asdict(entry), hash=hash_of(entry)))
        previous = hash_of(entry)
    return tuple(lines)


def full(folder: Path) -> Dossier:
    """Everything that a dossier can hold, in an invented house."""
    return Dossier(
        ObjectFields("HC 0417", "Quillet step computer", "teaching computer", "1983", "Halden Cross Museum",
                     "accessioned", "Store 2, shelf 14", "display only", "one hour a day",
                     "Quillet main board, revision 2"),
        WHEN,
        "Halden Cross Museum",
        statements=(
            Statement("significance", "One of forty built for schools."),
            Statement("diagnosis", "processor dead, find another", "sticker in the lid", 0.5, "1991", "U6", "dead"),
            Statement("open question", "Why was the fuse changed to 2 A?", at=WHEN, who="p-1"),
            Statement("condition", "Corner chipped.", standing=False),
        ),
        visits=(
            ToldVisit(1, "No sound.", WHEN, "", "p-1", (
                ToldReading(1, "BASE1", "voltage", 1.524, "", "V", 0.005, "dmm", "bench", WHEN, "p-1"),
                ToldReading(2, "SPK", "resistance", float("inf"), "", "ohm", 0.0, "dmm", "off", WHEN, "p-2"),
                ToldReading(3, "sound", "sound", None, "silent", standing=False),
                ToldReading(4, "V9", "voltage", -12.1, "", "V", 0.05, "dmm", "bench", WHEN, "p-1", doubtful=True),
            ), (VisitNote(5, "power checks", at=WHEN, who="p-1"),)),
        ),
        findings=Findings((Suspect("R41", 0.98, "drifted high", ("BASE1 read 1.524 V",)),), 0.0001, 0.004,
                          ("SPK resistance",), ("resistance at R41",), ("1 reading stays unexplained.",)),
        proposals=(Proposal(1, 2, "replace original", 5, "R41", "fit 100k", "drifted", "leave it", "solder it back",
                            WHEN, "p-1", (Approval("p-3", "keeper", "consent", WHEN, "keep the part"),),
                            "carried out"),),
        repairs=(Repair("replaced", "R41", 5, "100k lifted", "100k 1 %, bought 2026", "1, version 2", 1, WHEN, "p-1"),),
        removed_parts=(RemovedPart("HC 0417/1", "R41", "carbon, 100k", True, "kept with the object", "bag 3", WHEN),),
        attachments=(
            file_of(folder, "vorn.jpg", "photograph before", photograph(folder, "red"), caption="Before, from above"),
            file_of(folder, "danach.jpg", "photograph after", photograph(folder, "blue", turned=True), caption="After"),
            file_of(folder, "../letter.txt", "document", b"letter", caption="A letter", media_type="text/plain"),
        ),
        journal=journal("received", "read", "repaired"),
        cautions=("C1 was found charged.",),
        names={"p-1": "Ilse Varn", "p-2": "Tom Ekered", "p-3": "M. Osk"},
        acceptance=(ToldAcceptance(1, "open", 0.05, (
            ToldItem("V5", "voltage", "bench", "V", 4.75, 5.25, "4.75 V to 5.25 V", "board file", 4.783, 5.217, True,
                     "5.00 ± 0.02 V", "accepted", "within its limits with 100.0%"),
            ToldItem("sound", "sound", "bench", limits="right", source="prediction", because="not read yet"),
        ), ("R41 drifted high",), 0.01, ("U6 is pulled and not back",)),),
        soaks=(
            ToldSoak(1, 24.0, "bench", (ToldChannel("V5", "V", 4.75, 5.25),), "changed", ("ab" * 32,), (
                ToldSession("day 1.csv", 23.5, 0.5, (ToldChannel("V5", "V", 4.75, 5.25, 1410, "changed", "at 12 h"),),
                            ("V9",)),
            ), 23.5, 0, ((0.9, 10.2),), 0.1, ("23.5 h were watched without failure.",), ("V9 was not logged",),
                "a smell of dust", WHEN, "p-1"),
            ToldSoak(2, 8.0, "", (ToldChannel("V5", "V", None, 5.25),), at=WHEN, who="p-2"),
        ),
        display=ToldDisplay(
            "2026-03-01", True, True,
            (ToldStretch("2025-05-01", "", "entrance hall", "dust from the door", 12.0, None, 350.0, None, 9.5, WHEN,
                         "p-1"),
             ToldStretch("2025-05-02", "", "hall", at=WHEN, who="p-2", ended=Ending("replaced", "a day off", WHEN,
                                                                                    "p-1"))),
            (ToldCount("hours", 62.0, 122.0, "counted", 350.0), ToldCount("switch_ons")),
            (ToldRunning("meter read", "2025-06-01", "", 72.0, None, True, words="read at closing", at=WHEN,
                         who="p-2"),
             ToldRunning("ran", "2025-06-03", "2025-06-02", 3.5, 4.0, at=WHEN, who="p-2",
                         ended=Ending("taken back", "another object", WHEN, "p-3")),
             ToldRunning("room", "2025-06-04", celsius=31.5, humidity=44.0, at=WHEN, who="p-2")),
            (ToldInspection("dust", "2025-06-05", "something found", "Dust out", "a frayed lead", "Odile Marn",
                            "2025-08-01", WHEN, "p-2"),),
            (ToldDue("dust", "Dust out, vents clear", "2026-04-01", "2025-06-05", 6, False),
             ToldDue("electrical", "Electrical inspection", "2026-03-01", "", 12, True),
             ToldDue("renew belt", "Renew 1 × belt", "2027-01-01")),
            (ToldRenewal("belt", "2025-06-06", 2, "drive belts", 1, "both stretched", False, WHEN, "p-1"),
             ToldRenewal("belt", "2025-06-07", 1, "drive belts", None, "B3", True, WHEN, "p-1")),
            (ToldWear("belt", 3, "drive belts", "counted with the lid off", WHEN, "p-1"),),
            ("The meter of the lamp could not be used.",),
        ),
    )  # fmt: skip


def hostile(folder: Path) -> Dossier:
    """The same with hostile words in every text that people write, but for hashes and places on the disk."""
    changed = _hostile(full(folder))
    return dataclasses.replace(changed, names={"p-1": HOSTILE, HOSTILE: HOSTILE})


def _hostile(value: Kind) -> Kind:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        kept = ("sha256", "hash", "previous", "path", "names")
        fields = {one.name: getattr(value, one.name) for one in dataclasses.fields(value)}
        return dataclasses.replace(value, **{k: v if k in kept else _hostile(v) for k, v in fields.items()})
    if isinstance(value, tuple):
        return tuple(_hostile(one) for one in value)  # type: ignore[return-value]
    if isinstance(value, str):
        return HOSTILE if value not in ("photograph before", "photograph after") else value  # type: ignore[return-value]
    return value
