"""What differs from run to run or from machine to machine leaves an executed notebook; nothing else does."""

from __future__ import annotations

import json

import nbformat
import pytest
from nbformat import v4

from pinscar.press.results import clean_notebook, mark_failed, notebook_bytes


def executed(seed: int) -> nbformat.NotebookNode:
    """A notebook as two runs of one template would leave it, different in all that a run may differ in."""
    when = f"2026-03-0{seed}T09:00:00+00:00"
    injected = v4.new_code_cell(
        f'folder = "/home/person{seed}/c"', metadata={"tags": ["injected-parameters"]}
    )
    stream = v4.new_output("stream", name="stdout", text=f"<object object at 0x7f{seed}00a>\n")
    warning = v4.new_output("stream", name="stderr", text=f"/home/person{seed}/x.py:1: UserWarning")
    shown = v4.new_output(
        "display_data",
        data={"text/html": "<p>0.5</p>", "text/plain": f"<Thing at 0x7f{seed}>"},
        metadata={"kept": 1},
    )
    work = v4.new_code_cell("work()", id="work", outputs=[warning, stream, shown], execution_count=3)
    cells = [
        v4.new_code_cell("folder = '.'", id="parameters"),
        injected,
        work,
        v4.new_markdown_cell("## End", id="end"),
    ]
    for cell in cells:
        cell.metadata["papermill"] = {"start_time": when, "status": "completed", "duration": seed}
        cell.metadata["execution"] = {"iopub.status.busy": when}
    metadata = {
        "papermill": {"input_path": f"/home/person{seed}", "end_time": when},
        "kernelspec": {"name": f"kernel{seed}", "display_name": "x", "language": "python"},
        "language_info": {"name": "python", "version": "3.11.7"},
        "widgets": {"state": seed},
    }
    return v4.new_notebook(cells=cells, metadata=metadata)


def test_two_runs_become_the_same_bytes():
    first, second = (notebook_bytes(clean_notebook(executed(seed), {"folder": "."})) for seed in (1, 2))
    assert first == second
    text = first.decode()
    assert not any(word in text for word in ("papermill", "2026-03", "person", "0x7f", "iopub", "widgets"))


def test_results_titles_and_tags_stay():
    found = json.loads(notebook_bytes(clean_notebook(executed(1), {"folder": ".", "n": 3})))
    assert [cell["id"] for cell in found["cells"]] == ["parameters", "injected-parameters", "work", "end"]
    injected, work = found["cells"][1:3]
    assert injected["metadata"] == {"tags": ["injected-parameters"]}
    assert "".join(injected["source"]) == "# Parameters\nfolder = '.'\nn = 3"
    assert (work["execution_count"], work["outputs"][1]["metadata"]) == (3, {"kept": 1})
    assert [output["output_type"] for output in work["outputs"]] == ["stream", "display_data"]
    assert found["metadata"]["language_info"]["version"] == "3.11.7"


def test_the_executed_notebook_itself_is_not_touched():
    notebook = executed(1)
    before = json.dumps(notebook)
    clean_notebook(notebook, {})
    assert json.dumps(notebook) == before


def test_a_failed_notebook_begins_with_the_reason():
    found = mark_failed(executed(1), {}, "the kernel was killed by SIGKILL")
    assert found.cells[0].source == "This run failed: the kernel was killed by SIGKILL"
    nbformat.validate(found)


def test_what_is_no_notebook_is_not_written():
    broken = v4.new_notebook(cells=[v4.new_code_cell("1")])
    broken.cells[0].cell_type = "no such type"
    with pytest.raises(nbformat.ValidationError):
        notebook_bytes(broken)
