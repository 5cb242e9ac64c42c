"""The docstrings of what others compute with are its specification; elsewhere one plain sentence is enough.

In full (contact, stats, evidence, units, mechanics and the notebook API), for every public function of a
module and every public method of a dataclass:

- Parameters lists the arguments of the signature, all of them, in order; a dataclass lists its fields.
- Returns (or Yields) is there when something comes back. A property says it in its first line instead.
- Raises names every exception that the function itself raises.
- References names the source, in contact never "own" or "see" alone: a book, a standard or the derivation.
- Examples holds a doctest. For both a method may lean on its class, and a property needs neither.
- Every argument that is a float or an array tells its unit: in square brackets, [-] if it has none, or in
  words such as "in any one unit".

Elsewhere: one sentence, which more prose and Examples may follow, and in a class the list of its Attributes;
none of the other sections, which would only repeat the types.

The command's functions are left out: their docstrings are what `--help` prints.
"""

from __future__ import annotations

import ast
import inspect
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "toolkit" / "pinscar"
SECTION = re.compile(r"^(?P<title>[A-Z][A-Za-z ]+)\n-{3,}$", re.MULTILINE)
ENTRY = re.compile(r"^(?P<names>[*\w]+(?:, [*\w]+)*)(?: ?: ?(?P<type>.*))?$")
FULL_ROOMS = {"contact", "stats", "evidence"}
FULL_MODULES = {"pinscar.units", "pinscar.mechanics", "pinscar.mechanics_sheets"}
NOTEBOOK_API = {
    "pinscar.desk.campaign": {"open_campaign", "check", "demo", "Desk"},
    "pinscar.desk.scar_reading": {"read_scars"},
    "pinscar.desk.formulation": {"formulation"},
}
QUANTITIES = {
    "pinscar.mechanics",
    "pinscar.mechanics_sheets",
    "pinscar.desk.campaign",
    "pinscar.desk.formulation",
}
"""Modules whose arguments carry their own unit."""
ELSEWHERE_ALLOWED = {False: {"Examples"}, True: {"Examples", "Attributes"}}
"""Sections of a docstring that needs no full one: of a function, and of a class."""
FunctionNode = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass(frozen=True)
class Subject:
    """One documented thing: where it is, its node, its docstring and its class's."""

    module: str
    name: str
    node: FunctionNode
    text: str
    class_text: str = ""
    method: bool = False

    @property
    def place(self) -> str:
        return f"{self.module}:{self.name}"

    @property
    def full(self) -> bool:
        """Whether the rules of a full docstring hold for it."""
        return in_full(self.module, self.name.split(".")[0])


def in_full(module: str, name: str) -> bool:
    """Whether a top-level name of a module is documented in full."""
    rooms = module.split(".")[1:2]
    return bool(FULL_ROOMS & set(rooms)) or module in FULL_MODULES or name in NOTEBOOK_API.get(module, ())


def sections(text: str) -> dict[str, str]:
    """The sections of a NumPy-style docstring by title."""
    found = list(SECTION.finditer(text))
    ends = [*(match.start() for match in found[1:]), len(text)]
    return {
        match["title"]: text[match.end() : end].strip("\n") for match, end in zip(found, ends, strict=False)
    }


def entries(section: str) -> dict[str, str]:
    """What a Parameters section says of each name: its type and its description."""
    found: dict[str, str] = {}
    current: list[str] = []
    for line in section.splitlines():
        match = ENTRY.match(line)
        if match:
            current = match["names"].split(", ")
            found |= dict.fromkeys(current, f"{match['type'] or ''} |")
        elif line.strip():
            found |= {name: f"{found[name]} {line.strip()}" for name in current}
    return found


def arguments(subject: Subject) -> dict[str, str]:
    """The arguments of the signature with their annotations, as written."""
    spec = subject.node.args
    plain = [*spec.posonlyargs, *spec.args]
    starred = [(f"*{spec.vararg.arg}", spec.vararg)] if spec.vararg else []
    double = [(f"**{spec.kwarg.arg}", spec.kwarg)] if spec.kwarg else []
    named = [(a.arg, a) for a in plain] + starred + [(a.arg, a) for a in spec.kwonlyargs] + double
    if subject.method and "staticmethod" not in decorators(subject.node):
        named = named[1:]
    return {name: ast.unparse(a.annotation) if a.annotation else "" for name, a in named}


def decorators(node: FunctionNode | ast.ClassDef) -> set[str]:
    return {ast.unparse(d.func if isinstance(d, ast.Call) else d) for d in node.decorator_list}


def is_property(subject: Subject) -> bool:
    return bool(decorators(subject.node) & {"property", "cached_property", "functools.cached_property"})


def is_dataclass(node: ast.ClassDef) -> bool:
    return bool(decorators(node) & {"dataclass", "dataclasses.dataclass"})


def docstring(node: FunctionNode | ast.ClassDef) -> str:
    return inspect.cleandoc(ast.get_docstring(node, clean=False) or "")


def subjects_of(module: str, source: str) -> Iterator[Subject]:
    """The public functions and dataclass methods of a module's source."""
    for node in ast.parse(source).body:
        if isinstance(node, FunctionNode) and not node.name.startswith("_"):
            if not any(name.endswith((".command", ".callback", "overload")) for name in decorators(node)):
                yield Subject(module, node.name, node, docstring(node))
        elif isinstance(node, ast.ClassDef) and is_dataclass(node) and not node.name.startswith("_"):
            for inner in node.body:
                if isinstance(inner, FunctionNode) and not inner.name.startswith("_"):
                    name = f"{node.name}.{inner.name}"
                    yield Subject(module, name, inner, docstring(inner), docstring(node), method=True)


def modules() -> Iterator[tuple[str, str]]:
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
        yield ".".join(part for part in parts if part != "__init__"), path.read_text(encoding="utf-8")


def faults_of_parameters(subject: Subject) -> Iterator[str]:
    want = [] if is_property(subject) else list(arguments(subject))
    section = sections(subject.text).get("Parameters", "")
    listed = list(entries(section))
    # Names that share a line (both moduli, say) stand where the first of them stands.
    first = [match["names"].split(", ")[0] for match in map(ENTRY.match, section.splitlines()) if match]
    if sorted(want) != sorted(listed) or first != [name for name in want if name in first]:
        yield f"{subject.place}: Parameters lists {listed}, the signature has {want}"


def faults_of_returns(subject: Subject) -> Iterator[str]:
    gives = ast.unparse(subject.node.returns) if subject.node.returns else "nothing annotated"
    if is_property(subject) or gives in ("None", "NoReturn", "Never", "Iterator[None]"):
        return
    if not {"Returns", "Yields"} & sections(subject.text).keys():
        yield f"{subject.place}: no Returns section"


def faults_of_raises(subject: Subject) -> Iterator[str]:
    told = _somewhere(subject, "Raises")
    for name in sorted(raised(subject.node)):
        if not re.search(rf"^{name}$", told, re.MULTILINE):
            yield f"{subject.place}: raises {name}, which Raises does not name"


def raised(node: FunctionNode) -> set[str]:
    """The exceptions that a function's own statements raise by name."""
    found = set()
    for inner in ast.walk(node):
        if isinstance(inner, ast.Raise) and isinstance(inner.exc, ast.Call):
            found.add(ast.unparse(inner.exc.func).split(".")[-1])
    # Our own names for a kind of ValueError, and functions that make the exception.
    return {"ValueError" if name == "OutOfRangeError" else name for name in found if not name.startswith("_")}


def faults_of_references(subject: Subject) -> Iterator[str]:
    told = _somewhere(subject, "References").strip()
    if not is_property(subject) and not told:
        yield f"{subject.place}: no References section"
    if subject.module.startswith("pinscar.contact") and re.match(r"(Own|See|None)\b", told):
        yield f"{subject.place}: References gives neither a source nor a derivation: {told}"


def faults_of_examples(subject: Subject) -> Iterator[str]:
    if not is_property(subject) and ">>>" not in _somewhere(subject, "Examples"):
        yield f"{subject.place}: no doctest in an Examples section"


def faults_of_units(subject: Subject) -> Iterator[str]:
    if subject.module in QUANTITIES:
        return
    told = entries(sections(subject.text).get("Parameters", ""))
    for name, annotation in arguments(subject).items():
        text = told.get(name, "")
        number = re.search(r"float|ArrayLike|NDArray|FloatArray", annotation)
        if (
            not number
            or annotation.startswith("Callable")
            or re.search(r"\b(bool|object|int|str|datetime64)\b", annotation + text.split("|")[0])
        ):
            continue
        if not re.search(r"\[[^\]]+\]|\bunits?\b", text):
            yield f"{subject.place}: no unit in square brackets for {name}"


def _somewhere(subject: Subject, title: str) -> str:
    of_class = sections(subject.class_text).get(title, "") if subject.method else ""
    return sections(subject.text).get(title, "") + of_class


RULES = {
    "parameters": faults_of_parameters,
    "returns": faults_of_returns,
    "raises": faults_of_raises,
    "references": faults_of_references,
    "examples": faults_of_examples,
    "units": faults_of_units,
}


@pytest.mark.parametrize("rule", RULES)
def test_every_full_docstring_keeps_the_rule(rule):
    faults = [
        fault
        for module, source in modules()
        for subject in subjects_of(module, source)
        if subject.full
        for fault in RULES[rule](subject)
    ]
    assert not faults, "\n" + "\n".join(faults)


def faults_of_fields(module: str, source: str) -> Iterator[str]:
    """Public dataclasses, documented in full, whose docstring does not list their fields in order."""
    for node in ast.parse(source).body:
        if isinstance(node, ast.ClassDef) and is_dataclass(node) and in_full(module, node.name):
            if node.name.startswith("_"):
                continue
            fields = [
                inner.target.id
                for inner in node.body
                if isinstance(inner, ast.AnnAssign)
                and isinstance(inner.target, ast.Name)
                and not ast.unparse(inner.annotation).startswith("ClassVar")
            ]
            told = sections(docstring(node))
            listed = list(entries(told.get("Parameters", told.get("Attributes", ""))))
            if fields != listed:
                yield f"{module}:{node.name}: Parameters lists {listed}, the fields are {fields}"


def test_every_dataclass_in_full_lists_its_fields():
    faults = [fault for module, source in modules() for fault in faults_of_fields(module, source)]
    assert not faults, "\n" + "\n".join(faults)


def faults_elsewhere(module: str, source: str) -> Iterator[str]:
    """Docstrings that need no full one and are missing, open with no sentence, or hold a section too many."""

    def faults(node: FunctionNode | ast.ClassDef, top: str, public: bool) -> Iterator[str]:
        command = any(name.endswith((".command", ".callback", "overload")) for name in decorators(node))
        if not in_full(module, top) and not command:
            text, is_class = docstring(node), isinstance(node, ast.ClassDef)
            first = text.split("\n\n")[0]
            if public and not text:
                yield f"{module}:{node.name}: no docstring"
            if text and not re.fullmatch(r"[^\n]+[.!?:]", first):
                yield f"{module}:{node.name}: opens with no sentence of one line"
            if spare := sections(text).keys() - ELSEWHERE_ALLOWED[is_class]:
                yield f"{module}:{node.name}: sections that repeat the signature: {', '.join(sorted(spare))}"
        for inner in node.body:
            if isinstance(inner, FunctionNode | ast.ClassDef):
                yield from faults(inner, top, public and not inner.name.startswith("_") and is_class_of(node))

    def is_class_of(node: ast.AST) -> bool:
        return isinstance(node, ast.ClassDef)

    for node in ast.parse(source).body:
        if isinstance(node, FunctionNode | ast.ClassDef):
            yield from faults(node, node.name, not node.name.startswith("_"))


def test_elsewhere_a_docstring_is_a_sentence_without_repeated_types():
    faults = [fault for module, source in modules() for fault in faults_elsewhere(module, source)]
    assert not faults, "\n" + "\n".join(faults)


def test_a_docstring_that_repeats_the_signature_is_seen_elsewhere_only():
    assert list(faults_elsewhere("pinscar.page.x", GOOD)) == [
        "pinscar.page.x:force: sections that repeat the signature: Parameters, Raises, References, Returns"
    ]
    assert list(faults_elsewhere("pinscar.contact.x", GOOD)) == []
    assert list(faults_elsewhere("pinscar.page.x", 'def force():\n    """Divide."""\n')) == []
    assert list(faults_elsewhere("pinscar.page.x", "def force(): ...\n")) == [
        "pinscar.page.x:force: no docstring"
    ]


BAD = '''
def force(load: float, area: float) -> float:
    """Divide.

    Parameters
    ----------
    load : float
        Load.
    """
    if not area:
        raise ValueError("area is zero")
    return load / area
'''
GOOD = '''
def force(load: float, *, area: float, name: str = "x") -> float:
    """Divide.

    Parameters
    ----------
    load, area : float
        Load [N] and area [m^2].
    name : str
        What it is called.

    Returns
    -------
    float
        Pressure [Pa].

    Raises
    ------
    ValueError
        The area is zero.

    References
    ----------
    By definition.

    Examples
    --------
    >>> force(2.0, area=1.0)
    2.0
    """
    if not area:
        raise ValueError("area is zero")
    return load / area
'''


@pytest.mark.parametrize("rule", RULES)
def test_the_rules_see_a_bad_docstring_and_pass_a_good_one(rule):
    (bad,) = subjects_of("pinscar.contact.x", BAD)
    (good,) = subjects_of("pinscar.contact.x", GOOD)
    assert list(RULES[rule](bad))
    assert not list(RULES[rule](good))
