"""XML as a tree of tags with their lines; a document that declares entities of its own is refused."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import isfinite
from xml.parsers import expat

from kilter.measure.errors import BadInput

DEEPEST = 100
"""Nesting at which a document is refused."""
LARGEST = 1e6


@dataclass(slots=True)
class Tag:
    """One element: its name, attributes, line and the elements inside it."""

    name: str
    attributes: dict[str, str]
    line: int
    file: str
    inside: list[Tag] = field(default_factory=list)

    def get(self, attribute: str) -> str:
        """An attribute, '' where it is absent."""
        return self.attributes.get(attribute, "")

    def first(self, *names: str) -> Tag:
        """The element at the end of a path of names, an empty one where there is none."""
        tag = self
        for name in names:
            tag = next((one for one in tag.inside if one.name == name), Tag(name, {}, self.line, self.file))
        return tag

    def all(self, *names: str) -> Iterator[Tag]:
        """All elements at the end of a path of names; a path may meet several elements at each step."""
        for one in self.inside:
            if one.name == names[0]:
                if len(names) == 1:
                    yield one
                else:
                    yield from one.all(*names[1:])

    def figure(self, attribute: str, default: float = 0.0) -> float:
        """
        An attribute as a number.

        Raises:
            BadInput: It is none, or larger than LARGEST.
        """
        word = self.get(attribute)
        try:
            number = float(word) if word else default
        except ValueError:
            number = float("nan")
        if isfinite(number) and abs(number) <= LARGEST:
            return number
        raise BadInput(f"Cannot read {self.file}", f"{attribute}='{word}' at {self.file} line {self.line}",
                       f"a number up to {LARGEST:g}", "Save the file again with the program that made it.")  # fmt: skip


def read_tree(text: str, file: str) -> Tag:
    """
    The outermost element of a document.

    Raises:
        BadInput: The text is no XML, declares entities or is nested deeper than DEEPEST.

    >>> tree = read_tree('<a><b c="1"/>\\n<b c="2"/></a>', "x.xml")
    >>> [(tag.get("c"), tag.line) for tag in tree.all("b")]
    [('1', 1), ('2', 2)]
    """
    parser = expat.ParserCreate(encoding="utf-8")
    top = Tag("", {}, 1, file)
    around = [top]

    def refused(*_: object) -> None:
        raise _bad(file, parser.CurrentLineNumber, "an entity that the document declares", "plain elements")

    def begin(name: str, attributes: dict[str, str]) -> None:
        if len(around) > DEEPEST:
            raise _bad(file, parser.CurrentLineNumber, "deeper nesting", f"up to {DEEPEST} levels")
        tag = Tag(name, attributes, parser.CurrentLineNumber, file)
        around[-1].inside.append(tag)
        around.append(tag)

    parser.StartElementHandler = begin
    parser.EndElementHandler = lambda _name: around.pop()
    parser.EntityDeclHandler = refused
    try:
        parser.Parse(text.encode("utf-8", "surrogatepass"), True)
    except expat.ExpatError as error:
        words = f"text that is no XML: {expat.ErrorString(error.code)}"
        raise _bad(file, error.lineno, words, "an XML document") from None
    return top.inside[0]


def _bad(file: str, line: int, found: str, allowed: str) -> BadInput:
    return BadInput(f"Cannot read {file}", f"{found} at {file} line {line}", allowed,
                    "Look for a file that was cut short, or that is another one than was meant.")  # fmt: skip
