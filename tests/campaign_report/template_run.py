"""Run a template's cells in this process, where a test can look at what they show and hand over."""

from __future__ import annotations

import ast
import json
from pathlib import Path
from typing import Any

import pytest

from pinscar.press.results import RESULTS_MIME, rounded

ROOT = Path(__file__).resolve().parents[2]


def run_template(
    name: str, folder: Path, monkeypatch: pytest.MonkeyPatch, **given: object
) -> tuple[str, dict[str, Any]]:
    """Run the cells of a template here, as its kernel would in the campaign folder."""
    handed: list[dict[str, Any]] = []
    monkeypatch.setattr("IPython.display.publish_display_data", handed.append)
    monkeypatch.chdir(folder)
    shown: list[str] = []
    names: dict[str, Any] = {}
    for cell in json.loads((ROOT / "templates" / f"{name}.ipynb").read_text(encoding="utf-8"))["cells"]:
        if cell["cell_type"] != "code":
            continue
        body = ast.parse("".join(cell["source"])).body
        last = body.pop() if isinstance(body[-1], ast.Expr) else None
        exec(compile(ast.Module(body, []), name, "exec"), names)
        if "parameters" in cell["metadata"].get("tags", []):
            names |= given
        value = None if last is None else eval(compile(ast.Expression(last.value), name, "eval"), names)
        shown += [value.data] if hasattr(value, "data") else []
    (results,) = (one[RESULTS_MIME] for one in handed if RESULTS_MIME in one)
    return "\n".join(shown), rounded(results)
