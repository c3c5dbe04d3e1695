"""
What the core says in its own words: the parts of errors, and sentences that pages show.

The source is read, not run. A text is followed from where it is given to an error back to where it is written: through
variables, constants of modules, choices, and the small functions that pass their arguments on or give a text back.
"""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

from messages.read_module import Function, Module, called, defaults, given, module_read, parameters
from messages.text_forms import Form, forms

LAYERS = (
    "measure", "records", "circuit", "parts", "signals", "thermal", "simulate", "diagnose", "safety", "planning",
    "services", "importers", "exporters", "store", "wiring", "web",
)  # fmt: skip
"""That a page can reach."""
LEFT_OUT = ("web/api",)
"""The programs' door speaks English."""
TRANSLATED = ("_", "gettext", "ngettext", "pgettext", "gettext_lazy")
"""What these give is in the reader's language already."""
NOUNS = ("what",)
"""Variables that hold a noun to be said, even where it is a single word."""
KEPT = (*NOUNS, "doing", "found", "allowed", "do_next")
"""Fields of objects that keep such texts until something is shown."""
NOUN = "what\x04"
"""Before such a word, as a compiled catalogue writes a context."""
WORD = re.compile(r"[^\W\d_]{2,}")
LONG_WORD = re.compile(r"(?<![^\W\d_])[^\W\d_A-Z][^\W\d_]{2,}")


def in_core(source: Path) -> dict[str, set[str]]:
    """
    Template to the files that say it.

    Args:
        source: The folder that holds the package `kilter`.
    """
    modules = {}
    for path in sorted(source.glob("kilter/*/**/*.py")):
        place = path.relative_to(source).as_posix()
        inside = place.partition("/")[2]
        if inside.split("/")[0] in LAYERS and not inside.startswith(LEFT_OUT):
            name = place.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
            modules[name] = module_read(f"src/{place}", path.read_text("utf-8"))
    return Reader(modules).read()


def worth_saying(form: Form, *, whole: bool) -> bool:
    """Whether a text has words of its own: a key, a name or a unit alone says the same in every language."""
    literal = "\0".join(one if isinstance(one, str) else "" for one in form)
    if len(form) > 1:
        words = WORD.findall(literal)
        return LONG_WORD.search(literal) is not None or len(words) > 1 or words == ["Cannot"] or (
            bool(words) and _tells_more(form))
    if " " in literal.strip():
        return WORD.search(literal) is not None
    return whole and LONG_WORD.fullmatch(literal) is not None


def _tells_more(form: Form) -> bool:
    """Whether what stands in a text's place makes it known: what another error says, or a kind of thing."""
    inside = [one for place in form.places() for one in ast.walk(place)]
    names = {one.attr for one in inside if isinstance(one, ast.Attribute)}
    nouns = {one.id for one in inside if isinstance(one, ast.Name)}
    return not (names.isdisjoint(KEPT) and nouns.isdisjoint(NOUNS))


class Reader:
    """Follows texts back through a set of modules, by name 'kilter.store.verbs'."""

    def __init__(self, modules: dict[str, Module]) -> None:
        self.modules = modules
        self.found: dict[str, set[str]] = defaultdict(set)
        self._followed: set[tuple[ast.expr, bool]] = set()
        self._passing: dict[Function, dict[str, bool]] = defaultdict(dict)
        self._methods: dict[str, list[tuple[Module, Function]]] = defaultdict(list)
        self._errors = {name for module in modules.values() for name in module.errors}
        for module in modules.values():
            for name, function in module.methods:
                self._methods[name].append((module, function))
            for name, functions in module.functions.items():
                for function in functions:
                    if name[:1].isupper():
                        self._passing[function] = {one: True for one in parameters(function) if one in KEPT}

    def read(self) -> dict[str, set[str]]:
        """Template to places."""
        before = -1
        while before != (before := self._known()):
            for module in self.modules.values():
                for call in module.calls:
                    self._call(module, call)
                for node in module.shown:
                    self.follow(module, node, whole=True)
        return dict(self.found)

    def _known(self) -> int:
        return sum(1 + whole for names in self._passing.values() for whole in names.values())

    def _call(self, module: Module, call: ast.Call) -> None:
        name = called(call)
        if name in self._errors:
            for node in (*call.args, *(one.value for one in call.keywords)):
                self.follow(module, node, whole=True)
            return
        functions = self._methods.get(name, []) if isinstance(call.func, ast.Attribute) else []
        for _, function in (*self.named(module, name), *functions):
            if wanted := self._passing.get(function):
                for parameter, node in given(function, call):
                    if parameter in wanted:
                        self.follow(module, node, whole=wanted[parameter], noun=parameter in NOUNS)

    def follow(self, module: Module, node: ast.expr, *, whole: bool, noun: bool = False) -> None:
        """
        Takes every text that an expression may give.

        Args:
            module: That it stands in.
            node: The expression.
            whole: It is a text of its own; otherwise it stands in a place of another, and single words are left out.
            noun: It names a kind of thing; a single word is then kept under a context of its own.
        """
        if (node, whole) in self._followed or (node, True) in self._followed:
            return
        self._followed.add((node, whole))
        for form in forms(node.value if isinstance(node, ast.Starred) else node):
            if worth_saying(form, whole=whole):
                text = form.template()
                self.found[NOUN + text if noun and " " not in text else text].add(module.place)
            for place in form.places():
                self._into(module, place, whole=whole and len(form) == 1)

    def _into(self, module: Module, node: ast.expr, *, whole: bool) -> None:
        """Follows the value of one place."""
        if isinstance(node, ast.FormattedValue):
            if node.conversion != -1 or node.format_spec is not None:
                return
            node = node.value
        if isinstance(node, ast.Name):
            self._variable(module, node, whole=whole or node.id in NOUNS)
        elif isinstance(node, ast.Call):
            self._given_back(module, node, whole=whole)
        elif isinstance(node, ast.Subscript) and isinstance(node.value, ast.Name):
            for where, value in self.constant(module, node.value.id):
                for one in value.values if isinstance(value, ast.Dict) else ():
                    self.follow(where, one, whole=whole)
        elif isinstance(node, ast.Tuple | ast.List | ast.Set):
            for one in node.elts:
                self.follow(module, one, whole=whole)
        elif isinstance(node, ast.GeneratorExp | ast.ListComp | ast.SetComp):
            self.follow(module, node.elt, whole=whole)
        elif isinstance(node, ast.IfExp | ast.BoolOp | ast.JoinedStr):
            self.follow(module, node, whole=whole)

    def _variable(self, module: Module, node: ast.Name, *, whole: bool) -> None:
        function, noun = module.owner.get(node), node.id in NOUNS
        while function is not None:
            if node.id in parameters(function):
                self._passing[function][node.id] = self._passing[function].get(node.id, False) or whole
                for default in defaults(function, node.id):
                    self.follow(module, default, whole=whole, noun=noun)
                return
            if values := module.assigned(function, node.id):
                for value in values:
                    self.follow(module, value, whole=whole, noun=noun)
                return
            function = module.owner.get(function)
        for where, value in self.constant(module, node.id):
            self.follow(where, value, whole=whole, noun=noun)

    def _given_back(self, module: Module, call: ast.Call, *, whole: bool) -> None:
        name = called(call)
        if name in ("join", "tuple", "list", "sorted"):
            for one in call.args[:1]:
                self._into(module, one, whole=False)
        elif name not in TRANSLATED:
            for where, function in self.named(module, name):
                for value in where.given_back(function):
                    self.follow(where, value, whole=whole)

    def named(self, module: Module, name: str) -> Iterator[tuple[Module, Function]]:
        """The functions that a name stands for in a module."""
        yield from ((module, one) for one in module.functions.get(name, ()))
        if name in module.imported:
            place, theirs = module.imported[name]
            other = self.modules.get(place)
            if other is not None and other is not module:
                yield from self.named(other, theirs)

    def constant(self, module: Module, name: str) -> Iterator[tuple[Module, ast.expr]]:
        """The values that a module gives to a name of its own or an imported one."""
        yield from ((module, one) for one in module.constants.get(name, ()))
        if name in module.imported:
            place, theirs = module.imported[name]
            other = self.modules.get(place)
            if other is not None and other is not module:
                yield from self.constant(other, theirs)
