"""The notebooks teach by running: each runs top to bottom on demo data, from wherever it lies."""

from __future__ import annotations

import json
import os
import re
import shutil
from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

import pinscar

ROOT = Path(__file__).resolve().parents[2]
TOOLKIT = Path(pinscar.__file__).resolve().parents[1]
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
EXPECTED = {
    "start_here",
    "explore_runs",
    "read_scars",
    "wear_arrest",
    "bench_to_chain",
    "plan_a_campaign",
    "handbook",
    "formulate",
}


def names(path):
    return path.stem


def test_all_notebooks_are_there():
    assert {path.stem for path in NOTEBOOKS} >= EXPECTED


@pytest.mark.parametrize("path", NOTEBOOKS, ids=names)
def test_a_notebook_is_stripped_and_its_ids_are_words(path):
    notebook = json.loads(path.read_text(encoding="utf-8"))
    ids = [cell["id"] for cell in notebook["cells"]]
    assert len(set(ids)) == len(ids)
    assert all(re.fullmatch(r"[a-z][a-z0-9-]*", i) and not re.fullmatch(r"[0-9a-f]{8}", i) for i in ids)
    code = [cell for cell in notebook["cells"] if cell["cell_type"] == "code"]
    assert all(cell["outputs"] == [] and cell["execution_count"] is None for cell in code)
    assert "widgets" not in notebook["metadata"]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=names)
def test_a_notebook_teaches_with_equations(path):
    notebook = nbformat.read(path, 4)
    prose = "\n".join(cell.source for cell in notebook.cells if cell.cell_type == "markdown")
    assert len(re.findall(r"\$[^$]+\$", prose)) >= 3
    assert sum(len(cell.source) for cell in notebook.cells if cell.cell_type == "markdown") > 1000


@pytest.mark.parametrize("path", NOTEBOOKS, ids=names)
def test_a_notebook_runs_top_to_bottom(path, tmp_path, monkeypatch):
    # In a folder of its own, so that it can't lean on the checkout.
    shutil.copy(path, tmp_path)
    paths = os.pathsep.join(filter(None, [str(TOOLKIT), os.environ.get("PYTHONPATH")]))
    monkeypatch.setenv("PYTHONPATH", paths)
    monkeypatch.setenv("IPYTHONDIR", str(tmp_path / "ipython"))
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    notebook = nbformat.read(tmp_path / path.name, 4)
    NotebookClient(
        notebook, timeout=600, kernel_name="python3", resources={"metadata": {"path": str(tmp_path)}}
    ).execute()
    outputs = [output for cell in notebook.cells for output in cell.get("outputs", [])]
    assert outputs
    complaints = [o.text for o in outputs if o.output_type == "stream" and o.name == "stderr"]
    assert complaints == []
    for cell in notebook.cells:
        drawn = (
            re.search(r"\b(campaign|study)\.plot\.", cell.source) is not None
            or "plt.subplots(" in cell.source
        )
        if cell.cell_type == "code":
            assert any("image/png" in o.get("data", {}) for o in cell.outputs) == drawn, cell.id
