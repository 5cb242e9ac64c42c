"""results.json: how a template hands its numbers over, how they are written, and as tables.xlsx."""

from __future__ import annotations

import copy
import json
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from pinscar.errors import RunError
from pinscar.page.workbook import FACE, LIGHT, book_bytes, put_text
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


NAME = "tables.xlsx"
FIRST = ("criteria", "summaries", "comparisons", "claims", "audit", "runs")
"""Sheets that come first, in this order; others follow as results.json has them."""
ABOUT = "about"
WIDEST = 48.0


def tables_of(results: Mapping[str, Any]) -> dict[str, list[Mapping[str, Any]]]:
    """Find the tables of results.json.

    Examples
    --------
    >>> list(tables_of({"runs": [{"run_id": "1"}], "criteria": [], "overall": "met"}))
    ['runs']
    """
    found = {
        name: [row for row in value if isinstance(row, dict)]
        for name, value in results.items()
        if isinstance(value, list) and value and all(isinstance(row, dict) for row in value)
    }
    names = [*(name for name in FIRST if name in found), *(name for name in found if name not in FIRST)]
    return {name: list(found[name]) for name in names}


def tables_bytes(results: Mapping[str, Any]) -> bytes | None:
    """Write the tables of results.json as a workbook."""
    import openpyxl

    tables = tables_of(results)
    if not tables:
        return None
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    _write_about(book.create_sheet(ABOUT), results)
    for name, rows in tables.items():
        _write(book.create_sheet(name[:31]), rows, str(results.get("data_mark", "")))
    return book_bytes(book)


def _write_about(sheet: Any, results: Mapping[str, Any]) -> None:
    from openpyxl.styles import Alignment, Font

    campaign = results.get("campaign")
    lines = [(str(key), value) for key, value in campaign.items()] if isinstance(campaign, dict) else []
    lines += [(key, value) for key, value in results.items() if not isinstance(value, dict | list)]
    lines.append(
        ("note", "Units stand in the names of columns or in the column unit. The report says what each "
                 "number means and how sure it is; these tables alone do not.")
    )  # fmt: skip
    for row, (key, value) in enumerate(lines, 1):
        put_text(sheet.cell(row, 1), key)
        _put(sheet.cell(row, 2), value)
        sheet.cell(row, 1).font = Font(FACE, size=10, bold=True)
        sheet.cell(row, 2).font = Font(FACE, size=10)
        sheet.cell(row, 2).alignment = Alignment(wrap_text=True, vertical="top", horizontal="left")
    sheet.column_dimensions["A"].width, sheet.column_dimensions["B"].width = 20.0, 80.0


def _write(sheet: Any, rows: Sequence[Mapping[str, Any]], mark: str) -> None:
    from openpyxl.styles import Alignment, Font, PatternFill
    from openpyxl.utils import get_column_letter

    names = list(dict.fromkeys(name for row in rows for name in row))
    face, plain = Font(FACE, size=10), Alignment(wrap_text=False, vertical="top")
    wrapped = Alignment(wrap_text=True, vertical="top")
    for place, name in enumerate(names, 1):
        cell = sheet.cell(1, place)
        put_text(cell, str(name))
        cell.font, cell.fill = Font(FACE, size=10, bold=True), PatternFill("solid", fgColor=LIGHT)
        cell.alignment = Alignment(wrap_text=True, vertical="bottom")
        longest = max(len(_text(row.get(name))) for row in rows)
        sheet.column_dimensions[get_column_letter(place)].width = min(max(longest + 2.0, 10.0), WIDEST)
    for line, row in enumerate(rows, 2):
        for place, name in enumerate(names, 1):
            cell = sheet.cell(line, place)
            _put(cell, row.get(name))
            cell.font = face
            cell.alignment = wrapped if len(_text(row.get(name))) > WIDEST else plain
    sheet.freeze_panes = "B2"
    sheet.auto_filter.ref = sheet.dimensions
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.print_title_rows = "1:1"
    sheet.oddHeader.left.text = mark


def _put(cell: Any, value: Any) -> None:
    """Put a value into a cell: numbers as numbers, all else as text that is no formula to a spreadsheet."""
    if value is None:
        return
    if isinstance(value, int | float) and not isinstance(value, bool):
        cell.value = value
    else:
        put_text(cell, _text(value), "General")


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list) and all(isinstance(one, str | int | float) for one in value):
        return ", ".join(map(str, value))
    return json.dumps(value, ensure_ascii=False) if isinstance(value, dict | list) else str(value)
