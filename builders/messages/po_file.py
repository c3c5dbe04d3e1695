"""
Catalogues as people write them: each message with its translation, in the text form of GNU gettext.

Source: GNU gettext manual, 'The Format of PO Files'. Read is what we write: comments, msgctxt, msgid, msgid_plural,
msgstr, msgstr[N], with texts continued over several lines.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from messages.message import Message

FIELD = re.compile(r'(msgctxt|msgid|msgid_plural|msgstr|msgstr\[(\d)\])\s+(".*")')
SIGNS = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t"}
BACK = {value: key for key, value in SIGNS.items()}
ESCAPED = re.compile(r"\\[\\\"nt]")


@dataclass
class Catalogue:
    """
    The translations into one language.

    Args:
        header: Lines 'Name: value', each with its line end.
        forms: Of every message its translations: one, or one for each plural form.
        notes: What translators wrote about a message, line by line.
    """

    header: str = ""
    forms: dict[Message, tuple[str, ...]] = field(default_factory=dict)
    notes: dict[Message, tuple[str, ...]] = field(default_factory=dict)


def read(text: str) -> Catalogue:
    """
    A catalogue from its text.

    Raises:
        ValueError: A line is none of the kinds above, or a message stands twice.
    """
    found = Catalogue()
    for block in re.split(r"\n\s*\n", text.strip()):
        fields, notes = _fields(block)
        if "msgid" not in fields:
            continue
        forms = tuple(value for name, value in sorted(fields.items()) if name.startswith("msgstr"))
        if not fields["msgid"]:
            found.header = forms[0]
            continue
        message = Message(fields["msgid"], fields.get("msgid_plural", ""), fields.get("msgctxt", ""))
        if message in found.forms:
            raise ValueError(f"twice in the catalogue: {message.text!r}")
        found.forms[message] = forms
        if notes:
            found.notes[message] = tuple(notes)
    return found


def _fields(block: str) -> tuple[dict[str, str], list[str]]:
    fields: dict[str, str] = {}
    notes: list[str] = []
    name = ""
    for line in block.splitlines():
        if match := FIELD.fullmatch(line.strip()):
            name = match[1]
            fields[name] = _plain(match[3])
        elif line.startswith('"') and name:
            fields[name] += _plain(line.strip())
        elif line.startswith("# "):
            notes.append(line[2:])
        elif not line.startswith("#"):
            raise ValueError(f"not a line of a catalogue: {line!r}")
    return fields, notes


def written(
    catalogue: Catalogue, places: Mapping[Message, Iterable[str]], wanted: Sequence[Message], plurals: int = 2
) -> str:
    """
    The catalogue's text: the messages wanted, in their order, each with where it is shown.

    Args:
        places: Names of templates, modules and data files.
        wanted: Messages; one without a translation gets an empty one.
        plurals: Forms of the language.
    """
    blocks = ["\n".join(['msgid ""', *_lines("msgstr", catalogue.header)])]
    for one in wanted:
        forms = catalogue.forms.get(one) or ("",) * (plurals if one.plural else 1)
        lines = [f"# {note}" for note in catalogue.notes.get(one, ())]
        lines += [f"#: {place}" for place in sorted(places[one])]
        lines += _lines("msgctxt", one.context) if one.context else []
        lines += _lines("msgid", one.text)
        lines += _lines("msgid_plural", one.plural) if one.plural else []
        for number, form in enumerate(forms):
            lines += _lines(f"msgstr[{number}]" if one.plural else "msgstr", form)
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks) + "\n"


def _lines(name: str, text: str) -> list[str]:
    """A field; a text of several lines stands one line below another."""
    rows = text.splitlines(keepends=True)
    quoted = ['"' + "".join(SIGNS.get(sign, sign) for sign in row) + '"' for row in rows]
    return [f"{name} {quoted[0]}"] if len(quoted) == 1 else [f'{name} ""', *quoted]


def _plain(quoted: str) -> str:
    return ESCAPED.sub(lambda match: BACK[match[0]], quoted[1:-1])
