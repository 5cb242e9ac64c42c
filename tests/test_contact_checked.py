"""Every public function and method of the mechanics is held against something outside itself.

This looks only that its name stands in tests/reference (an outside value) or tests/contact (a second route,
a limit, a relation); what stands there is for a reader to judge. A doctest alone is not enough: it may pin
what the code happens to give.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
CONTACT = ROOT / "toolkit" / "pinscar" / "contact"


def names_of(module: str, source: str) -> Iterator[tuple[str, str]]:
    """Where each public function or method stands, and the pattern that a test of it must hold."""
    for node in ast.parse(source).body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield f"{module}.{node.name}", rf"\b{node.name}\b"
        elif isinstance(node, ast.ClassDef) and not any(
            ast.unparse(base) == "Protocol" for base in node.bases
        ):
            for inner in node.body:
                if isinstance(inner, ast.FunctionDef) and not inner.name.startswith("_"):
                    yield f"{module}.{node.name}.{inner.name}", rf"\.{inner.name}\b"


def code_of(path: Path) -> str:
    """A test file's code, without the imports, which check nothing."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    kept = [node for node in tree.body if not isinstance(node, ast.Import | ast.ImportFrom)]
    return "\n".join(ast.unparse(node) for node in kept)


def unchecked(sources: dict[str, str], tests: str) -> list[str]:
    return [
        place
        for module, source in sources.items()
        for place, pattern in names_of(module, source)
        if not re.search(pattern, tests)
    ]


def test_every_public_function_of_the_mechanics_has_a_check():
    sources = {path.stem: path.read_text(encoding="utf-8") for path in sorted(CONTACT.glob("*.py"))}
    tests = [*(ROOT / "tests" / "reference").glob("*.py"), *(ROOT / "tests" / "contact").glob("*.py")]
    assert len(sources) > 10
    assert unchecked(sources, "\n".join(map(code_of, tests))) == []


def test_a_function_without_a_check_is_seen():
    source = "def depth(x): ...\nclass Pair:\n    def width(self): ...\n    def _own(self): ...\n"
    assert unchecked({"a": source}, "depth_of(1); width(2)") == ["a.depth", "a.Pair.width"]
    assert unchecked({"a": source}, "depth(1); pair.width()") == []
