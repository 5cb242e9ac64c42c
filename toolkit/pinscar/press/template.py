"""A template as it lies on disk: its cells, the parameters it declares, the modules it imports."""

from __future__ import annotations

import ast
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pinscar.errors import UsageError
from pinscar.import_path import PYARROW
from pinscar.press.json_file import read_json


@dataclass(frozen=True, slots=True)
class Parameter:
    """One parameter of a template.

    Attributes
    ----------
    name : str
        The variable's name.
    annotation : str
        The type as written, such as ``list[str]``; the default's type where none is written.
    default : object
        The value that the template runs with if nothing is passed.
    """

    name: str
    annotation: str
    default: object


@dataclass(frozen=True, slots=True)
class Template:
    """A template that can be run.

    Attributes
    ----------
    path : pathlib.Path
        The notebook's file.
    declared : mapping
        The parameters it declares, by name.
    modules : tuple of str
        The modules it imports.
    """

    path: Path
    declared: Mapping[str, Parameter]
    modules: tuple[str, ...]

    @property
    def name(self) -> str:
        """Its name, as messages have it."""
        return self.path.stem

    @property
    def defaults(self) -> dict[str, object]:
        """Its own values of the parameters."""
        return {name: parameter.default for name, parameter in self.declared.items()}


def read_template(path: Path) -> Template:
    """Read a template."""
    notebook = read_notebook(path)
    declared = declared_parameters(notebook, path.stem)
    return Template(path, declared, tuple(imported_modules(notebook)))


def read_notebook(path: Path) -> dict[str, Any]:
    """Read a notebook as plain JSON, without the notebook libraries: those are slow to import.

    Examples
    --------
    >>> read_notebook(Path(__file__))
    Traceback (most recent call last):
    ...
    pinscar.errors.UsageError: template.py is not a notebook
    """
    try:
        notebook = read_json(path)
        if notebook["nbformat"] != 4:
            raise UsageError(f"{path.name} is a notebook of format {str(notebook['nbformat'])[:20]}, not 4")
        cells = [_cell(cell) for cell in notebook["cells"]]
        if not isinstance(notebook.setdefault("metadata", {}), dict):
            raise TypeError("metadata is a table")
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise UsageError(f"{path.name} is not a notebook") from error
    return {**notebook, "nbformat_minor": 5, "cells": _with_ids(cells)}


def _cell(cell: Mapping[str, Any]) -> dict[str, Any]:
    source, metadata, kind, own = cell["source"], cell["metadata"], cell["cell_type"], cell.get("id", "")
    if not (isinstance(metadata, dict) and isinstance(metadata.get("tags", []), list)):
        raise TypeError("the metadata of a cell is a table, and its tags a list")
    if not (isinstance(kind, str) and isinstance(own, str) and isinstance(source, (str, list))):
        raise TypeError("kind, id and source of a cell are text")
    return {**cell, "source": "".join(source)}


def _with_ids(cells: list[dict[str, Any]]) -> list[dict[str, Any]]:
    taken: set[str] = set()
    found = []
    for position, cell in enumerate(cells):
        own = cell.get("id", "")
        unique = own if own and own not in taken else f"cell-{position}"
        taken.add(unique)
        found.append({**cell, "id": unique})
    return found


def declared_parameters(notebook: Mapping[str, Any], name: str) -> dict[str, Parameter]:
    r"""Read the parameters that a template declares.

    Examples
    --------
    >>> cell = {"cell_type": "code", "metadata": {"tags": ["parameters"]},
    ...         "source": "folder: str = '.'\nconfidence: float | None = None"}
    >>> [p.annotation for p in declared_parameters({"cells": [cell]}, "t").values()]
    ['str', 'float | None']
    """
    tagged = [cell for cell in notebook["cells"] if "parameters" in cell["metadata"].get("tags", [])]
    if len(tagged) != 1:
        raise UsageError(f"template {name} has {len(tagged)} cells tagged 'parameters'; it needs one")
    try:
        statements = ast.parse(tagged[0]["source"]).body
        found = [_parameter(statement) for statement in statements if not _is_text(statement)]
    except (SyntaxError, ValueError) as error:
        raise UsageError(
            f"template {name}: its parameters cell may hold only lines like name = literal"
        ) from error
    return {parameter.name: parameter for parameter in found}


def _is_text(statement: ast.stmt) -> bool:
    return isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Constant)


def _parameter(statement: ast.stmt) -> Parameter:
    if isinstance(statement, ast.AnnAssign) and isinstance(statement.target, ast.Name) and statement.value:
        default = ast.literal_eval(statement.value)
        return Parameter(statement.target.id, ast.unparse(statement.annotation), default)
    if isinstance(statement, ast.Assign) and isinstance(statement.targets[0], ast.Name):
        default = ast.literal_eval(statement.value)
        return Parameter(statement.targets[0].id, type(default).__name__, default)
    raise ValueError("not an assignment of a literal")


def imported_modules(notebook: Mapping[str, Any]) -> list[str]:
    r"""List the modules that a template's cells import, so that they can be loaded before it starts.

    A cell that speaks of parquet or arrow may use them through pandas, so that pyarrow counts as imported.

    Examples
    --------
    >>> imported_modules({"cells": [{"cell_type": "code", "source": "import json\nfrom os import path"}]})
    ['json', 'os', 'os.path']
    """
    found: set[str] = set()
    for cell in notebook["cells"]:
        if cell["cell_type"] != "code":
            continue
        if re.search("parquet|arrow", cell["source"]):
            found.add(PYARROW)
        try:
            tree = ast.parse(cell["source"])
        except SyntaxError:
            continue
        for node in ast.walk(tree):
            if isinstance(node, ast.Import):
                found.update(alias.name for alias in node.names)
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                found.add(node.module)
                found.update(f"{node.module}.{alias.name}" for alias in node.names)
    return sorted(found)
