"""The docstrings are the specification: this reads all of them.

The rules, for every public function of a module and every public method of a dataclass in toolkit/pinscar:

- Parameters lists the arguments of the signature, all of them, in order; a dataclass lists its fields.
- Returns (or Yields) is there when something comes back. A property says it in its first line instead.
- contact and stats: References names the source. A method may lean on its class for it.
- contact, stats and units: Examples holds a doctest. A method may lean on its class for it.
- elsewhere: a function that takes plain values only (text, numbers, truth values, None), at least one, and
  gives back a plain value has a doctest too: it costs a line there and shows the form of the text.
- contact: every argument that is a float or an array tells its unit in square brackets, [1] if it has none.

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
PLAIN = {"str", "int", "float", "bool", "None"}
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
    def top(self) -> str:
        return self.module.split(".")[1] if "." in self.module else ""


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


def faults_of_references(subject: Subject) -> Iterator[str]:
    if subject.top in ("contact", "stats") and not _somewhere(subject, "References").strip():
        yield f"{subject.place}: no References section"


def faults_of_examples(subject: Subject) -> Iterator[str]:
    if ">>>" in _somewhere(subject, "Examples"):
        return
    if subject.top in ("contact", "stats", "units") or _takes_and_gives_plain_values(subject):
        yield f"{subject.place}: no doctest in an Examples section"


def faults_of_units(subject: Subject) -> Iterator[str]:
    if subject.top != "contact":
        return
    told = entries(sections(subject.text).get("Parameters", ""))
    for name, annotation in arguments(subject).items():
        text = told.get(name, "")
        number = re.search(r"float|ArrayLike|NDArray|FloatArray", annotation)
        if (
            not number
            or annotation.startswith("Callable")
            or re.search(r"\b(bool|object|int|str)\b", text.split("|")[0])
        ):
            continue
        if not re.search(r"\[[^\]]+\]", text):
            yield f"{subject.place}: no unit in square brackets for {name}"


def _somewhere(subject: Subject, title: str) -> str:
    of_class = sections(subject.class_text).get(title, "") if subject.method else ""
    return sections(subject.text).get(title, "") + of_class


def _takes_and_gives_plain_values(subject: Subject) -> bool:
    if subject.method or not arguments(subject):
        return False
    gives = ast.unparse(subject.node.returns) if subject.node.returns else ""
    return gives != "None" and all(
        set(re.split(r" \| ", annotation)) <= PLAIN for annotation in [*arguments(subject).values(), gives]
    )


RULES = {
    "parameters": faults_of_parameters,
    "returns": faults_of_returns,
    "references": faults_of_references,
    "examples": faults_of_examples,
    "units": faults_of_units,
}


@pytest.mark.parametrize("rule", RULES)
def test_every_docstring_keeps_the_rule(rule):
    faults = [
        fault
        for module, source in modules()
        for subject in subjects_of(module, source)
        for fault in RULES[rule](subject)
    ]
    assert not faults, "\n" + "\n".join(faults)


def faults_of_fields(module: str, source: str) -> Iterator[str]:
    """Public dataclasses of a module whose docstring does not list their fields in order."""
    for node in ast.parse(source).body:
        if isinstance(node, ast.ClassDef) and is_dataclass(node) and not node.name.startswith("_"):
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


def test_every_dataclass_lists_its_fields():
    faults = [fault for module, source in modules() for fault in faults_of_fields(module, source)]
    assert not faults, "\n" + "\n".join(faults)


BAD = '''
def force(load: float, area: float) -> float:
    """Divide.

    Parameters
    ----------
    load : float
        Load.
    """
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

    References
    ----------
    Own derivation: by definition.

    Examples
    --------
    >>> force(2.0, area=1.0)
    2.0
    """
    return load / area
'''


@pytest.mark.parametrize("rule", RULES)
def test_the_rules_see_a_bad_docstring_and_pass_a_good_one(rule):
    (bad,) = subjects_of("pinscar.contact.x", BAD)
    (good,) = subjects_of("pinscar.contact.x", GOOD)
    assert list(RULES[rule](bad))
    assert not list(RULES[rule](good))
