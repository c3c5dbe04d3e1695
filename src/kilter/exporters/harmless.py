"""Words of other people made harmless for a page, an XML file or a file name; what was changed can be seen."""

from __future__ import annotations

import re
import unicodedata

REPLACED = "\N{REPLACEMENT CHARACTER}"
UNFIT = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff"
    "\N{LEFT-TO-RIGHT EMBEDDING}-\N{RIGHT-TO-LEFT OVERRIDE}]"
)
"""Characters that XML 1.0 (2.2) forbids or discourages, and those that turn the order of the words around them."""
LINE_END = re.compile("\r\n|[\r\x85\N{LINE SEPARATOR}\N{PARAGRAPH SEPARATOR}]")
LONGEST_NAME = 100
"""Characters of a file name; ISO 9660 level 4 and common disks bear 200 bytes and more."""
DEVICES = frozenset({"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))})
"""Names that one common system keeps for itself, whatever their ending: common practice, from memory."""


def clean(words: str) -> str:
    """
    Words with every unfit character replaced by a sign that shows its place; line ends are one character.

    >>> clean("a\\x07b\\r\\nc")
    'a\ufffdb\\nc'
    """
    return UNFIT.sub(REPLACED, LINE_END.sub("\n", words))


def one_line(words: str) -> str:
    """Clean words without line ends and tabs."""
    return " ".join(clean(words).split())


def file_name(words: str, otherwise: str = "file") -> str:
    """
    A name that is safe as the last part of a path on any common system, and still like the words it is made from.

    >>> file_name("../../etc/passwd"), file_name("Gerät vorn.JPG"), file_name("CON.txt"), file_name("  ...")
    ('etc-passwd', 'Geraet-vorn.JPG', 'file-CON.txt', 'file')
    """
    spelled = re.sub("[äöüÄÖÜß]", lambda found: GERMAN[found[0]], unicodedata.normalize("NFC", words))
    plain = unicodedata.normalize("NFKD", spelled).encode("ascii", "ignore").decode("ascii")
    name = re.sub(r"[^A-Za-z0-9._]+", "-", plain).strip("-.")
    name = re.sub(r"-*\.[-.]*", ".", name).strip("-.")
    stem, dot, ending = name.rpartition(".")
    if len(name) > LONGEST_NAME:
        name = f"{stem[: LONGEST_NAME - 11]}.{ending[:10]}" if dot and stem else name[:LONGEST_NAME]
    if name.split(".", 1)[0].lower() in DEVICES:
        name = f"{otherwise}-{name}"
    return name or otherwise


GERMAN = {"ä": "ae", "ö": "oe", "ü": "ue", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue", "ß": "ss"}
