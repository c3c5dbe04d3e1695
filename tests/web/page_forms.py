"""What a page holds, read by Python's own HTML parser: its forms with their fields, its links, and what would run."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

TYPED = {"text", "search", "password", ""}
"""Kinds of input into which anything can be typed."""
PROGRAMS = ("javascript:", "data:", "vbscript:")
PICTURES = ("data:image/jpeg;", "data:image/png;", "data:image/webp;", "data:image/gif;")
"""Kinds that hold no program."""


@dataclass
class Field:
    """One field of a form."""

    name: str
    kind: str
    value: str
    most: int


@dataclass
class PageForm:
    """A form: where it goes and what stands in it when the page is shown."""

    action: str
    method: str
    fields: list[Field] = field(default_factory=list)

    def texts(self) -> list[Field]:
        """Fields that hold what a person types."""
        return [one for one in self.fields if one.kind in TYPED or one.kind == "textarea"]

    def sent(self) -> dict[str, object]:
        """What a browser would send as it stands: a choice has its first or chosen value, an empty box nothing."""
        told: dict[str, object] = {}
        for one in self.fields:
            if one.name and one.kind not in ("file", "checkbox", "radio", "submit") and one.name not in told:
                told[one.name] = one.value
        return told


class PageReader(HTMLParser):
    """
    Reads a page.

    `running` tells what a browser would run or apply though it stands in the page: scripts and styles within it, event
    attributes, addresses that are programs. `marked` tells elements that a planted text would make.
    """

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.forms: list[PageForm] = []
        self.links: list[str] = []
        self.running: list[str] = []
        self.marked: list[str] = []
        self.text = ""
        self.ids: list[str] = []
        self._area: Field | None = None
        self._select: Field | None = None
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Notes what matters of an element."""
        told = {name: value or "" for name, value in attrs}
        self.ids += [told["id"]] if "id" in told else []
        self._note_what_runs(tag, told)
        if tag == "a":
            self.links.append(told.get("href", ""))
        elif tag == "form":
            self.forms.append(PageForm(told.get("action", ""), told.get("method", "get").lower()))
        elif tag in ("input", "textarea", "select", "button") and self.forms:
            kind = told.get("type", "submit" if tag == "button" else "").lower() if tag in ("input", "button") else tag
            made = Field(told.get("name", ""), kind, told.get("value", ""), int(told.get("maxlength", 10**6)))
            self.forms[-1].fields.append(made)
            self._area, self._select = (made if tag == "textarea" else None), (made if tag == "select" else None)
        elif tag == "option" and self._select is not None and ("selected" in told or not self._select.value):
            self._select.value = told.get("value", "")

    def _note_what_runs(self, tag: str, told: dict[str, str]) -> None:
        places = [told.get(name, "").strip().lower() for name in ("href", "src", "action", "formaction", "xlink:href")]
        if (tag == "script" and "src" not in told) or tag in ("style", "iframe", "object", "embed", "base"):
            self.running.append(f"<{tag}>")
        self.running += [f"<{tag} {name}>" for name in told if name.startswith(("on", "hx-on")) or name == "style"]
        self.running += [one for one in places if one.startswith(PROGRAMS) and not one.startswith(PICTURES)]
        if "planted" in told or tag == "planted":
            self.marked.append(f"<{tag}>")

    def handle_data(self, data: str) -> None:
        """Text, also what stands in a text area."""
        self.text += data
        if self._area is not None:
            self._area.value += data

    def handle_endtag(self, tag: str) -> None:
        """Ends an area or a choice."""
        if tag == "textarea":
            self._area = None
        if tag == "select":
            self._select = None
