"""The shape of the project: imports go one way, modules and functions stay small, templates hold no logic."""

from __future__ import annotations

import ast
import fnmatch
import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "toolkit" / "pinscar"
TEMPLATES = sorted((ROOT / "templates").glob("*.ipynb"))
LONGEST_MODULE = 400
LONGEST_BODY = 60
LONGEST_CHAIN = 12
"""Modules of ours from the first to the last, each importing the next, inside functions too."""
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"} | {
    "toolkit", "notebooks", "templates", "tests", "data_demo",
}  # fmt: skip
# Names of XML vocabularies look like addresses; nothing fetches them.
NAMESPACES = re.compile(r"https?://(www\.w3\.org|ns\.adobe\.com|purl\.org|www\.aiim\.org)/")
FETCHERS = {"requests", "httpx", "aiohttp", "urllib.request", "urllib3", "http.client", "ftplib"}
LOGIC = (
    ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef, ast.Lambda, ast.If, ast.IfExp, ast.For, ast.AsyncFor,
    ast.While, ast.Try, ast.Match, ast.comprehension,
)  # fmt: skip


def sources() -> list[Path]:
    """Every Python file that is not a test."""
    return sorted([*PACKAGE.rglob("*.py"), *(ROOT / "data_demo").rglob("*.py")])


def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def docstring_lines(tree: ast.Module) -> int:
    """Lines taken by the docstrings of a module, its classes and its functions."""
    total = 0
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            first = node.body[0] if node.body else None
            if first is not None and ast.get_docstring(node) is not None:
                total += first.end_lineno - first.lineno + 1
    return total


def body_lines(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of a function's body without its docstring."""
    start = 1 if ast.get_docstring(node) is not None else 0
    return node.end_lineno - node.body[start].lineno + 1 if len(node.body) > start else 0


def test_imports_go_one_way():
    code = "import sys; from importlinter.cli import lint_imports; sys.exit(lint_imports(no_cache=True))"
    paths = os.pathsep.join(filter(None, [str(ROOT / "toolkit"), os.environ.get("PYTHONPATH")]))
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env=os.environ | {"PYTHONPATH": paths},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert re.search(r"[1-9]\d* kept, 0 broken", done.stdout)


def imports() -> dict[str, set[str]]:
    """Which modules of the package each of them imports, inside functions and for types too."""
    parts = {path: path.relative_to(PACKAGE.parent).with_suffix("").parts for path in PACKAGE.rglob("*.py")}
    names = {".".join(place).removesuffix(".__init__"): path for path, place in parts.items()}
    found: dict[str, set[str]] = {name: set() for name in names}
    for name, path in names.items():
        for node in ast.walk(parsed(path)):
            if isinstance(node, ast.ImportFrom) and node.module:
                found[name] |= {
                    whole if (whole := f"{node.module}.{one.name}") in names else node.module
                    for one in node.names
                }
            elif isinstance(node, ast.Import):
                found[name] |= {one.name for one in node.names}
    return {name: (targets & set(names)) - {name} for name, targets in found.items()}


def longest_chain(graph: dict[str, set[str]]) -> list[str]:
    """The longest way through imports; a circle is an error."""
    known: dict[str, list[str]] = {}

    def chain(name: str, above: tuple[str, ...]) -> list[str]:
        assert name not in above, f"a circle of imports: {' -> '.join([*above, name])}"
        if name not in known:
            known[name] = [
                name,
                *max((chain(one, (*above, name)) for one in graph[name]), key=len, default=[]),
            ]
        return known[name]

    return max((chain(name, ()) for name in graph), key=len)


def test_no_chain_of_imports_is_too_long():
    found = longest_chain(imports())
    assert len(found) <= LONGEST_CHAIN, " -> ".join(found)
    assert found[-1] != found[0] and len(found) > 5  # the graph was read


def test_the_longest_chain_and_a_circle_are_found():
    assert longest_chain({"a": {"b", "c"}, "b": {"c"}, "c": set()}) == ["a", "b", "c"]
    with pytest.raises(AssertionError, match="a circle of imports: a -> b -> a"):
        longest_chain({"a": {"b"}, "b": {"a"}})


def test_no_module_is_too_long():
    lengths = {
        path.relative_to(ROOT).as_posix(): len(path.read_text(encoding="utf-8").splitlines())
        - docstring_lines(parsed(path))
        for path in sources()
    }
    assert {name: n for name, n in lengths.items() if n > LONGEST_MODULE} == {}


def test_no_function_is_too_long():
    lengths = {
        f"{path.relative_to(ROOT).as_posix()}:{node.name}": body_lines(node)
        for path in sources()
        for node in ast.walk(parsed(path))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    }
    assert {name: n for name, n in lengths.items() if n > LONGEST_BODY} == {}


def test_no_module_is_a_drawer_for_everything():
    drawers = re.compile(r"^(utils?|helpers?|misc|common)\.py$")
    assert [path for path in sources() if drawers.match(path.name)] == []


def test_packages_hold_no_logic_of_their_own():
    allowed = (ast.Expr, ast.Assign, ast.AnnAssign, ast.ImportFrom, ast.Import)
    faults = [
        f"{path.relative_to(ROOT).as_posix()}:{node.lineno}"
        for path in PACKAGE.rglob("__init__.py")
        for node in parsed(path).body
        if not isinstance(node, allowed)
        # Lazy public names keep `import pinscar` and `pinscar --help` fast.
        and not (
            path.parent == PACKAGE and getattr(node, "name", "") in ("__getattr__", "__dir__", "_import")
        )
    ]
    assert faults == []


def code_cells(path: Path) -> Iterator[dict]:
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return (cell for cell in cells if cell["cell_type"] == "code")


def test_there_are_templates():
    assert TEMPLATES


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_a_template_has_fixed_ids_and_no_outputs(path):
    notebook = json.loads(path.read_text(encoding="utf-8"))
    assert (notebook["nbformat"], notebook["nbformat_minor"] >= 5) == (4, True)
    ids = [cell.get("id", "") for cell in notebook["cells"]]
    assert len(set(ids)) == len(ids)
    # Tools give random ids of eight hexadecimal digits; a person gives words.
    assert [
        i for i in ids if not re.fullmatch(r"[a-z][a-z0-9-]*", i) or re.fullmatch(r"[0-9a-f]{8}", i)
    ] == []
    assert all(cell["outputs"] == [] and cell["execution_count"] is None for cell in code_cells(path))


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_a_template_declares_its_parameters_in_one_cell(path):
    tagged = [cell for cell in code_cells(path) if "parameters" in cell["metadata"].get("tags", [])]
    assert len(tagged) == 1
    body = ast.parse("".join(tagged[0]["source"])).body
    assert body
    assert all(isinstance(node, ast.Assign | ast.AnnAssign) for node in body)


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_a_template_holds_no_logic(path):
    faults = [
        f"{cell['id']}: {type(node).__name__} in {''.join(cell['source']).splitlines()[0]!r}"
        for cell in code_cells(path)
        for node in ast.walk(ast.parse("".join(cell["source"])))
        if isinstance(node, LOGIC)
    ]
    assert faults == []


def shipped_texts() -> Iterator[tuple[str, str]]:
    """Every text that the package or a report could read an address from; licence texts are not."""
    for top in ("toolkit", "templates", "notebooks", "data_demo"):
        for path in sorted((ROOT / top).rglob("*")):
            part = path.relative_to(ROOT)
            generated = {"__pycache__", "report", ".ipynb_checkpoints"} & set(part.parts[:-1]) - (
                {"report"} if part.parts[:3] == ("toolkit", "pinscar", "report") else set()
            )
            licence = re.search(r"licen[cs]e|OFL", path.name, re.IGNORECASE)
            if path.is_file() and not generated and not licence:
                try:
                    yield part.as_posix(), path.read_text(encoding="utf-8")
                except UnicodeDecodeError:
                    continue


def test_nothing_names_an_address_to_fetch():
    faults = [
        f"{name}:{number}"
        for name, text in shipped_texts()
        for number, line in enumerate(text.splitlines(), start=1)
        if re.search(r"https?://|[\"'(]//\w+\.", NAMESPACES.sub("", line))
    ]
    assert faults == []


def test_nothing_imports_a_web_client():
    faults = [
        f"{path.relative_to(ROOT).as_posix()}:{node.lineno}"
        for path in sources()
        for node in ast.walk(parsed(path))
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in (
            [node.module or ""] if isinstance(node, ast.ImportFrom) else [a.name for a in node.names]
        )
        if name in FETCHERS or name.split(".")[0] in FETCHERS
    ]
    assert faults == []


def test_the_top_folder_holds_what_the_layout_says():
    ignored = [
        line.rstrip("/")
        for line in (ROOT / ".gitignore").read_text(encoding="utf-8").splitlines()
        if line and "/" not in line.rstrip("/")
    ]
    names = {
        path.name
        for path in ROOT.iterdir()
        if not path.name.startswith(".")
        and not any(fnmatch.fnmatch(path.name, pattern) for pattern in ignored)
    }
    assert names == TOP_LEVEL
