"""What a person finds by Tab and by help: the names to use, examples that run, and no inner rooms."""

from __future__ import annotations

import importlib
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

import pinscar

ROOT = Path(__file__).resolve().parents[1]
PRIVATE = re.compile(
    r"(?:from|import) pinscar\.(?:report|decision|campaign|desk\w*|cli\w*|problems|errors)\b"
)
"""The inner rooms. Mechanics, statistics and evidence are public, function by function."""


def test_only_the_names_to_use_are_shown() -> None:
    assert set(dir(pinscar)) == {*pinscar.__all__, "__version__"}
    importlib.import_module("pinscar.page.markup")  # what was imported inside does not show
    assert "report" not in dir(pinscar)


@pytest.mark.parametrize("name", pinscar.__all__)
def test_each_name_is_there_and_explained(name: str) -> None:
    assert (getattr(pinscar, name).__doc__ or "").strip()


def test_help_shows_four_examples() -> None:
    text = pinscar.__doc__ or ""
    assert len(re.findall(r":\n\n>>> ", text)) == 4
    assert len(re.findall(r"^>>> ", text, re.MULTILINE)) >= 6


@pytest.mark.parametrize("path", sorted((ROOT / "notebooks").glob("*.ipynb")), ids=lambda path: path.stem)
def test_notebooks_import_nothing_private(path: Path) -> None:
    if path.stem == "handbook":
        pytest.skip("the handbook opens the inner rooms on purpose, to set their numbers beside its own")
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    code = "".join("".join(cell["source"]) + "\n" for cell in cells if cell["cell_type"] == "code")
    assert PRIVATE.findall(code) == []


@pytest.mark.parametrize(
    ("words", "offered"),
    [
        ("pinscar report demo -t ", "release_record"),
        ("pinscar new x --demo ", "conveyor_07"),
        ("pinscar report demo -p ", "confidence="),
        ("pinscar report demo -t release_record -p ", "approver="),
        ("pinscar ", "sheet"),
    ],
)
def test_the_shell_completes_templates_demos_and_parameters(words: str, offered: str) -> None:
    environment = {
        **os.environ,
        "_PINSCAR_COMPLETE": "complete_bash",
        "COMP_WORDS": words,
        "COMP_CWORD": str(len(words.split())),
    }
    done = subprocess.run(
        [sys.executable, "-c", "from pinscar.cli.main import run; run([])"],
        capture_output=True,
        text=True,
        env=environment,
        check=False,
    )
    assert offered in done.stdout.split(), (done.stdout, done.stderr)
