"""Take out of an executed notebook what differs from run to run and from machine to machine."""

from __future__ import annotations

import copy
import re
from collections.abc import Iterator, Mapping

import nbformat
from nbformat import NotebookNode

from pinscar.report.parameters import assignments

ADDRESS = re.compile(r"\bat 0x[0-9a-fA-F]+")
INJECTED = "injected-parameters"
KERNEL = {"display_name": "Python 3", "language": "python", "name": "python3"}


def clean_notebook(executed: NotebookNode, parameters: Mapping[str, object]) -> NotebookNode:
    """Return the notebook that the report is made from and that lies beside it.

    Parameters
    ----------
    executed : NotebookNode
        As papermill leaves it.
    parameters : mapping
        What was passed, written into the injected cell in our own form.

    Returns
    -------
    NotebookNode
        A copy without papermill's times, paths and states, without the kernel's, with memory addresses
        masked, with a fixed id for the injected cell. What cells wrote to standard error is left out as
        well: warnings name files of the machine.

    References
    ----------
    The notebook file format 4.5, nbformat documentation.

    Examples
    --------
    >>> executed = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell("1", id="one")])
    >>> executed.metadata["papermill"] = {"duration": 1.5}
    >>> "papermill" in clean_notebook(executed, {}).metadata
    False
    """
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

    Parameters
    ----------
    executed : NotebookNode
        As far as it ran.
    parameters : mapping
        What was passed.
    reason : str
        The error as the command reported it.

    Returns
    -------
    NotebookNode
        A copy with the reason in its first cell, the error output where it arose, and cells that did not run
        without a count: papermill calls them completed.

    References
    ----------
    See `clean_notebook`.

    Examples
    --------
    >>> executed = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell("1/0")])
    >>> mark_failed(executed, {}, "ZeroDivisionError").cells[0].source
    'This run failed: ZeroDivisionError'
    """
    notebook = clean_notebook(executed, parameters)
    note = nbformat.v4.new_markdown_cell(f"This run failed: {reason}", id="run-failed")
    notebook.cells.insert(0, note)
    return notebook


def notebook_bytes(notebook: NotebookNode) -> bytes:
    r"""Write a notebook.

    Parameters
    ----------
    notebook : NotebookNode
        As from `clean_notebook`.

    Returns
    -------
    bytes
        JSON in UTF-8, keys sorted, a line feed at the end.

    References
    ----------
    The notebook file format 4.5, nbformat documentation.

    Examples
    --------
    >>> notebook_bytes(nbformat.v4.new_notebook())[-2:]
    b'}\n'
    """
    nbformat.validate(notebook)
    text: str = nbformat.v4.writes(notebook, sort_keys=True)
    return text.rstrip("\n").encode() + b"\n"
