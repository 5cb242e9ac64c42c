"""results.json: how a template hands its numbers over, and how they are written.

The executed notebook loses what differs from run to run and from machine to machine.
"""

from __future__ import annotations

import copy
import json
import math
import re
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from pinscar.errors import RunError
from pinscar.press.request import assignments

if TYPE_CHECKING:
    from nbformat import NotebookNode

RESULTS_MIME = "application/vnd.pinscar.results+json"
SCHEMA = "pinscar.results/1"
DIGITS = 12
"""Significant digits kept: beyond them lies the rounding of the last operation, which differs by machine."""


def publish_results(results: Mapping[str, Any]) -> None:
    """Hand the results of a template over; its last act.

    Examples
    --------
    >>> publish_results({"schema": SCHEMA, "runs": [{"scar_area_mm2": float("nan")}]})
    Traceback (most recent call last):
    ...
    pinscar.errors.RunError: results.json may not hold nan at runs[0].scar_area_mm2; use null and say why
    """
    from IPython.display import publish_display_data

    publish_display_data({RESULTS_MIME: rounded(results)})


def rounded(value: Any, place: str = "") -> Any:
    """Round every number to 12 significant digits and refuse those that are not finite.

    Examples
    --------
    >>> rounded({"a": 0.1 + 0.2, "n": 3, "none": None})
    {'a': 0.3, 'n': 3, 'none': None}
    """
    if isinstance(value, Mapping):
        return {str(key): rounded(item, f"{place}.{key}".lstrip(".")) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [rounded(item, f"{place}[{index}]") for index, item in enumerate(value)]
    if hasattr(value, "item") and hasattr(value, "dtype"):
        value = value.item()
    if value is None or isinstance(value, (str, bool, int)):
        return value
    if not isinstance(value, float):
        raise RunError(f"results.json may not hold a {type(value).__name__} at {place}")
    if not math.isfinite(value):
        raise RunError(f"results.json may not hold {value} at {place}; use null and say why")
    return float(f"{value:.{DIGITS}g}")


def results_bytes(results: Mapping[str, Any]) -> bytes:
    r"""Write results.json.

    Examples
    --------
    >>> results_bytes({"overall": None})
    b'{\n  "overall": null\n}\n'
    """
    text = json.dumps(rounded(results), indent=2, ensure_ascii=False, allow_nan=False)
    return (text + "\n").encode()


def results_of(notebook: Mapping[str, Any]) -> dict[str, Any]:
    """Take the results out of an executed notebook.

    Examples
    --------
    >>> results_of({"cells": []})
    Traceback (most recent call last):
    ...
    pinscar.errors.RunError: its results were handed over 0 times; once is right
    """
    found = list(_results(notebook))
    if len(found) != 1:
        raise RunError(f"its results were handed over {len(found)} times; once is right")
    if found[0].get("schema") != SCHEMA:
        raise RunError(f"its results lack the schema {SCHEMA!r}")
    return found[0]


def _results(notebook: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    for cell in notebook["cells"]:
        for output in cell.get("outputs", []):
            if RESULTS_MIME in output.get("data", {}):
                yield output["data"][RESULTS_MIME]


ADDRESS = re.compile(r"\bat 0x[0-9a-fA-F]+")
INJECTED = "injected-parameters"
KERNEL = {"display_name": "Python 3", "language": "python", "name": "python3"}


def clean_notebook(executed: NotebookNode, parameters: Mapping[str, object]) -> NotebookNode:
    """Return the notebook that the report is made from and that lies beside it.

    Examples
    --------
    >>> import nbformat
    >>> executed = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell("1", id="one")])
    >>> executed.metadata["papermill"] = {"duration": 1.5}
    >>> "papermill" in clean_notebook(executed, {}).metadata
    False
    """
    import nbformat

    notebook: NotebookNode = copy.deepcopy(executed)
    language = notebook.metadata.get("language_info", {"name": "python"})
    notebook.metadata = nbformat.from_dict({"kernelspec": KERNEL, "language_info": language})
    notebook.nbformat_minor = 5
    for cell in notebook.cells:
        if INJECTED in cell.metadata.get("tags", []):
            cell.source = assignments(parameters)
            cell.id = INJECTED
        cell.metadata = nbformat.from_dict({k: v for k, v in cell.metadata.items() if k in ("tags", "title")})
        if cell.cell_type == "code":
            cell.outputs = list(_clean_outputs(cell.outputs))
    return notebook


def _clean_outputs(outputs: list[NotebookNode]) -> Iterator[NotebookNode]:
    for output in outputs:
        if output.output_type == "stream" and output.name == "stderr":
            continue
        if output.output_type == "stream":
            output.text = ADDRESS.sub("at 0x0", output.text)
        elif "text/plain" in output.get("data", {}):
            output.data["text/plain"] = ADDRESS.sub("at 0x0", output.data["text/plain"])
        yield output


def mark_failed(executed: NotebookNode, parameters: Mapping[str, object], reason: str) -> NotebookNode:
    """Return the notebook of a run that failed, to be looked at.

    Examples
    --------
    >>> import nbformat
    >>> executed = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell("1/0")])
    >>> mark_failed(executed, {}, "ZeroDivisionError").cells[0].source
    'This run failed: ZeroDivisionError'
    """
    import nbformat

    notebook = clean_notebook(executed, parameters)
    note = nbformat.v4.new_markdown_cell(f"This run failed: {reason}", id="run-failed")
    notebook.cells.insert(0, note)
    return notebook


def notebook_bytes(notebook: NotebookNode) -> bytes:
    r"""Write a notebook.

    Examples
    --------
    >>> import nbformat
    >>> notebook_bytes(nbformat.v4.new_notebook())[-2:]
    b'}\n'
    """
    import nbformat

    nbformat.validate(notebook)
    text: str = nbformat.v4.writes(notebook, sort_keys=True)
    return text.rstrip("\n").encode() + b"\n"
