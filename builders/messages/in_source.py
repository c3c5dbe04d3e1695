"""Texts that stand in the pages' own files: in templates, and in Python where gettext is called."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from django.utils.translation.template import templatize

from messages.message import Message

LITERAL = r"""u?(?:'(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*")"""
CALL = re.compile(rf"\b(\w*gettext|_)\(\s*({LITERAL}(?:\s*,\s*{LITERAL})*)")
"""What the framework's own reading of a template leaves: calls of gettext among blanked text."""
CALLS = ("_", "gettext", "gettext_lazy", "gettext_noop", "ngettext", "pgettext", "npgettext")


def in_template(path: Path) -> Iterator[Message]:
    """Texts of one template's translate and blocktranslate tags, as the framework looks them up."""
    for name, literals in CALL.findall(templatize(path.read_text("utf-8"), origin=str(path))):
        yield _message(name, [ast.literal_eval(one) for one in re.findall(LITERAL, literals)])


def in_module(path: Path) -> Iterator[Message]:
    """Texts handed to gettext in one Python file."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in CALLS:
            texts = [one.value for one in node.args if isinstance(one, ast.Constant) and isinstance(one.value, str)]
            if texts:
                yield _message(node.func.id, texts)


def _message(name: str, texts: list[str]) -> Message:
    context = texts.pop(0) if name in ("pgettext", "npgettext") else ""
    plural = texts[1] if name in ("ngettext", "npgettext") else ""
    return Message(texts[0], plural, context)
