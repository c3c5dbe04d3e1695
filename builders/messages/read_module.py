"""One file of Python as it was read: what stands where in it, without running it."""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field

ERRORS = ("KilterError", "BadInput", "OutOfRange", "NotAllowed", "NotAvailable")
BASES = (*ERRORS, "Exception", "ValueError")
LISTS = ("warnings", "guesses", "notes", "remarks")
"""Names of lists whose sentences are shown to people."""
SHOWN = {
    "src/kilter/services/prove_repair.py": ("_not_whole", "_judge", "_one", "_word", "_number", "limit_words"),
    "src/kilter/services/plan_switch_on.py": ("_why_none",),
    "src/kilter/services/weigh_options.py": ("_words",),
    "src/kilter/planning/options/catalogue.py": ("together", "_with_piece"),
    "src/kilter/importers/table_rows.py": ("_text", "_sheet"),
    "src/kilter/importers/toml_tables.py": ("rows",),
    "src/kilter/wiring/worker.py": ("thorough_diagnosis", "learning", "work_off_one"),
}
"""Functions that build a sentence for people elsewhere than in an error or a list."""
Function = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass
class Module:
    """
    The file.

    Args:
        place: Its path below the project.
        constants: Values given to names of the module or of its classes.
        imported: Name to (module, name there).
        functions: By name; a class by its own name, as the function that makes its objects.
        methods: Name and function of every method: which class an object has is not told by the source.
        owner: The function that a node stands in.
        calls: Every call.
        errors: Names of exceptions: the core's own, and those that this file makes of them.
        shown: Expressions whose texts are shown to people.
    """

    place: str
    constants: dict[str, list[ast.expr]] = field(default_factory=lambda: defaultdict(list))
    imported: dict[str, tuple[str, str]] = field(default_factory=dict)
    functions: dict[str, list[Function]] = field(default_factory=lambda: defaultdict(list))
    methods: list[tuple[str, Function]] = field(default_factory=list)
    owner: dict[ast.AST, Function] = field(default_factory=dict)
    calls: list[ast.Call] = field(default_factory=list)
    errors: set[str] = field(default_factory=lambda: set(ERRORS))
    shown: list[ast.expr] = field(default_factory=list)
    _assigned: dict[Function, dict[str, list[ast.expr]]] = field(default_factory=dict)
    _given_back: dict[Function, list[ast.expr]] = field(default_factory=lambda: defaultdict(list))

    def assigned(self, function: Function, name: str) -> list[ast.expr]:
        """What a function gives to one of its variables; '+=' makes further values of those before it."""
        if function not in self._assigned:
            self._assigned[function] = _assignments(function)
        return self._assigned[function].get(name, [])

    def given_back(self, function: Function) -> list[ast.expr]:
        """What a function that gives a text returns; nothing for any other."""
        kind = ast.unparse(function.returns) if function.returns is not None else ""
        return self._given_back[function] if kind in ("str", "str | None", "tuple[str, ...]", "list[str]") else []

    def returned(self, function: Function, value: ast.expr) -> None:
        """Notes a returned value."""
        self._given_back[function].append(value)


def module_read(place: str, source: str) -> Module:
    """One file, with what stands where in it."""
    module, tree = Module(place), ast.parse(source)
    left: list[tuple[ast.AST, Function | None]] = [(tree, None)]
    while left:
        node, function = left.pop()
        if isinstance(node, Function):
            module.functions[node.name].append(node)
            if function is not None:
                module.owner[node] = function
            if node.name in SHOWN.get(place, ()):
                module.shown += _texts(node)
            function = node
        elif isinstance(node, ast.Name):
            if function is not None:
                module.owner[node] = function
        elif isinstance(node, ast.ImportFrom) and node.module:
            module.imported |= {one.asname or one.name: (node.module, one.name) for one in node.names}
        elif isinstance(node, ast.ClassDef):
            if any(ast.unparse(base).rpartition(".")[2] in BASES for base in node.bases):
                module.errors.add(node.name)
            _constants(module, node.body)
            module.functions[node.name].append(_maker(node))
            module.methods += [(one.name, one) for one in node.body if isinstance(one, Function)]
        elif isinstance(node, ast.Call):
            module.calls.append(node)
            module.shown += _listed(node)
        elif isinstance(node, ast.Return) and node.value is not None and function is not None:
            module.returned(function, node.value)
        left += [(child, function) for child in ast.iter_child_nodes(node)]
    _constants(module, tree.body)
    return module


def _maker(node: ast.ClassDef) -> Function:
    """What makes an object of a class: its own beginning, or one that takes its fields in order."""
    for one in node.body:
        if isinstance(one, ast.FunctionDef) and one.name == "__init__":
            return one
    fields = [one.target.id for one in node.body if isinstance(one, ast.AnnAssign) and isinstance(one.target, ast.Name)]
    made = ast.parse(f"def {node.name}(self, {', '.join(fields)}): ...").body[0]
    assert isinstance(made, ast.FunctionDef)
    return made


def _constants(module: Module, body: list[ast.stmt]) -> None:
    for statement in body:
        for name, value in _pairs(statement):
            module.constants[name].append(value)


def _pairs(node: ast.AST) -> Iterator[tuple[str, ast.expr]]:
    """Names with the values that one statement gives them."""
    targets = node.targets if isinstance(node, ast.Assign) else []
    if isinstance(node, ast.AnnAssign | ast.NamedExpr) and node.value is not None:
        targets = [node.target]
    for target in targets:
        if isinstance(target, ast.Name):
            yield target.id, node.value  # type: ignore[attr-defined]
        elif isinstance(target, ast.Tuple) and isinstance(node.value, ast.Tuple):  # type: ignore[attr-defined]
            for one, value in zip(target.elts, node.value.elts, strict=False):  # type: ignore[attr-defined]
                if isinstance(one, ast.Name):
                    yield one.id, value


def _assignments(function: Function) -> dict[str, list[ast.expr]]:
    found: dict[str, list[ast.expr]] = defaultdict(list)
    for node in ast.walk(function):
        for name, value in _pairs(node):
            found[name].append(value)
    for node in ast.walk(function):
        if isinstance(node, ast.AugAssign) and isinstance(node.target, ast.Name) and isinstance(node.op, ast.Add):
            before = found[node.target.id]
            found[node.target.id] = [*before, *(ast.BinOp(one, ast.Add(), node.value) for one in before)]
    return found


def _listed(call: ast.Call) -> list[ast.expr]:
    """What a call adds to a list of sentences, or gives as one."""
    found = [one.value for one in call.keywords if one.arg in LISTS]
    if isinstance(call.func, ast.Attribute) and call.func.attr in ("append", "extend", "insert"):
        holder = call.func.value
        name = holder.attr if isinstance(holder, ast.Attribute) else holder.id if isinstance(holder, ast.Name) else ""
        found += call.args[-1:] if name in LISTS else []
    return found


def _added_to(value: ast.expr) -> bool:
    """Whether '+=' made it, see _assignments: its pieces stand in the source, the whole does not."""
    return isinstance(value, ast.BinOp) and not hasattr(value, "lineno")


def _texts(function: Function) -> list[ast.expr]:
    """The texts of one function's body, apart from its description and what stands inside another text."""
    found: list[ast.expr] = []

    def visit(node: ast.AST) -> None:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.JoinedStr | ast.IfExp):
                found.append(child)
            elif isinstance(child, ast.Constant):
                if isinstance(child.value, str) and " " in child.value.strip() and "\n" not in child.value:
                    found.append(child)
            else:
                visit(child)

    found += [value for values in _assignments(function).values() for value in values if _added_to(value)]
    for statement in function.body[1:] if ast.get_docstring(function) else function.body:
        visit(statement)
    return found


def called(call: ast.Call) -> str:
    """The last word of what is called."""
    if isinstance(call.func, ast.Attribute):
        return call.func.attr
    return call.func.id if isinstance(call.func, ast.Name) else ""


def parameters(function: Function) -> list[str]:
    """Names of a function's arguments, in order."""
    own = function.args
    names = [one.arg for one in (*own.posonlyargs, *own.args, *own.kwonlyargs)]
    return [*names, *(one.arg for one in (own.vararg, own.kwarg) if one is not None)]


def defaults(function: Function, name: str) -> Iterator[ast.expr]:
    """What stands for an argument that is not given."""
    positional = [*function.args.posonlyargs, *function.args.args]
    for argument, value in zip(reversed(positional), reversed(function.args.defaults), strict=False):
        if argument.arg == name:
            yield value
    for argument, default in zip(function.args.kwonlyargs, function.args.kw_defaults, strict=True):
        if argument.arg == name and default is not None:
            yield default


def given(function: Function, call: ast.Call) -> Iterator[tuple[str, ast.expr]]:
    """Each argument of a call with the name that the function has for it."""
    names = [one.arg for one in (*function.args.posonlyargs, *function.args.args)]
    if names and names[0] in ("self", "cls"):
        names = names[1:]
    rest = function.args.vararg.arg if function.args.vararg else ""
    for number, node in enumerate(call.args):
        if number < len(names):
            yield names[number], node
        elif rest:
            yield rest, node
    yield from ((one.arg, one.value) for one in call.keywords if one.arg)
