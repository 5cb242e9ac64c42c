"""What pinscar is built on: every dependency has a use, a version on record and a licence in the list."""

from __future__ import annotations

import ast
import re
import tomllib
from importlib import metadata
from pathlib import Path

from packaging.requirements import Requirement
from packaging.version import Version

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
NEEDED = {Requirement(text).name: Requirement(text) for text in PROJECT["dependencies"]}

IMPORTED_AS = {
    "scikit-image": "skimage",
    "pillow": "PIL",
    "ipython": "IPython",
    "jupyter-client": "jupyter_client",
}

NOT_IMPORTED = {
    "jupyter": "the notebooks are opened with it",
    "jinja2": "the page template is written in it, and nbconvert runs it; its version is in the manifest",
    "ipympl": "desk_reading_canvas imports it by its name, where a notebook has it",
}
"""Dependencies that no module imports, each with its use."""


def imports(folder: Path) -> set[str]:
    """List the top-level modules that the code of a folder imports."""
    found = set()
    for path in folder.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {one.name.split(".")[0] for one in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                found.add(node.module.split(".")[0])
    return found


def test_every_dependency_is_imported_somewhere():
    found = imports(ROOT / "toolkit")
    unused = {name for name in NEEDED if IMPORTED_AS.get(name, name.replace("-", "_")) not in found}
    assert unused == set(NOT_IMPORTED)
    code = "".join(path.read_text(encoding="utf-8") for path in (ROOT / "toolkit").rglob("*.py"))
    assert '"ipympl.' in code


def pinned():
    lines = (ROOT / ".ci" / "constraints.txt").read_text().splitlines()
    return dict(line.split("==") for line in lines if line and not line.startswith("#"))


def test_ci_s_versions_are_on_record_and_within_the_bounds():
    versions = pinned()
    tested = [Requirement(text) for text in PROJECT["optional-dependencies"]["test"]]
    for one in [*NEEDED.values(), *tested]:
        name = re.sub(r"[-_.]+", "-", one.name).lower()
        assert name in versions, name
        assert one.specifier.contains(versions[name], prereleases=True), name


def test_every_lower_bound_is_stated_and_is_below_what_is_installed():
    for one in NEEDED.values():
        lower = [part for part in one.specifier if part.operator == ">="]
        assert len(lower) == 1, one.name
        assert Version(lower[0].version) <= Version(metadata.version(one.name)), one.name


def test_every_dependency_has_its_licence_in_the_list():
    text = (ROOT / ".ci" / "LICENCES.md").read_text(encoding="utf-8")
    listed = dict(re.findall(r"^\| ([\w.-]+) \| (.+) \|$", text, re.MULTILINE))
    for name in NEEDED:
        assert name.lower() in listed
    assert not [name for name, licence in listed.items() if licence.startswith("not stated")]
