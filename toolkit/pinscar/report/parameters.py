"""What is passed to a template, checked against its declarations before anything runs."""

from __future__ import annotations

import ast
import json
import types
from collections.abc import Mapping, Sequence

from pinscar.errors import UsageError
from pinscar.report.shipped import nearest
from pinscar.report.template import Parameter

TYPES: Mapping[str, type] = types.MappingProxyType(
    {"str": str, "int": int, "float": float, "bool": bool, "list": list, "dict": dict}
)


def checked_parameters(
    declared: Mapping[str, Parameter], given: Mapping[str, object], name: str
) -> dict[str, object]:
    """Check values against a template's declarations.

    Parameters
    ----------
    declared : mapping
        Parameters of the template by name.
    given : mapping
        Values to pass, by name.
    name : str
        The template's name, for messages.

    Returns
    -------
    dict
        The given values, whole numbers turned to floats where a float is declared.

    Raises
    ------
    UsageError
        For a name that the template does not declare, or a value of another type.

    Examples
    --------
    >>> declared = {"confidence": Parameter("confidence", "float", 0.95)}
    >>> checked_parameters(declared, {"confidence": 1}, "t")
    {'confidence': 1.0}
    >>> checked_parameters(declared, {"confidense": 0.9}, "t")
    Traceback (most recent call last):
    ...
    pinscar.errors.UsageError: template t has no parameter 'confidense'; did you mean 'confidence'?...
    """
    checked = {}
    for key, value in given.items():
        if key not in declared:
            hint = nearest(key, list(declared))
            raise UsageError(f"template {name} has no parameter {key!r}{hint}")
        annotation = declared[key].annotation
        if not _fits(value, ast.parse(annotation, mode="eval").body):
            raise UsageError(f"parameter {key} of template {name} must be {annotation}, not {value!r}")
        wants_float = annotation == "float" and isinstance(value, int)
        checked[key] = float(str(value)) if wants_float else value
    return checked


def _fits(value: object, annotation: ast.expr) -> bool:
    if isinstance(annotation, ast.BinOp):
        return _fits(value, annotation.left) or _fits(value, annotation.right)
    if isinstance(annotation, ast.Subscript):
        kind = ast.unparse(annotation.value)
        items = _items(value, annotation.slice)
        return isinstance(value, TYPES.get(kind, object)) and all(_fits(*item) for item in items)
    word = ast.unparse(annotation)
    if word in ("None", "NoneType"):
        # A default of None without a type says nothing about what else may be passed.
        return value is None or word == "NoneType"
    if word == "float":
        return isinstance(value, (int, float)) and not isinstance(value, bool)
    if word == "int":
        return isinstance(value, int) and not isinstance(value, bool)
    return isinstance(value, TYPES.get(word, object))


def _items(value: object, inner: ast.expr) -> list[tuple[object, ast.expr]]:
    if isinstance(value, list):
        return [(item, inner) for item in value]
    if isinstance(value, dict) and isinstance(inner, ast.Tuple):
        return [pair for key, item in value.items() for pair in zip((key, item), inner.elts, strict=True)]
    return []


def parse_assignments(texts: Sequence[str], declared: Mapping[str, Parameter]) -> dict[str, object]:
    """Read ``name=value`` words from the command line.

    Parameters
    ----------
    texts : sequence of str
        The words as typed.
    declared : mapping
        Parameters of the template: where text is declared the value is taken as it stands, else it is read
        as a Python or JSON literal.

    Returns
    -------
    dict
        Values by name.

    Raises
    ------
    UsageError
        If a word has no equals sign.

    Examples
    --------
    >>> parse_assignments(["confidence=0.9", "responses=['scar_area']"], {})
    {'confidence': 0.9, 'responses': ['scar_area']}
    """
    values: dict[str, object] = {}
    for text in texts:
        name, equals, value = text.partition("=")
        if not equals:
            raise UsageError(f"write a parameter as name=value, not {text!r}")
        known = declared.get(name.strip())
        values[name.strip()] = value if known and known.annotation == "str" else _literal(value)
    return values


def _literal(text: str) -> object:
    for read in (ast.literal_eval, json.loads):
        try:
            value: object = read(text)
        except (ValueError, SyntaxError):
            continue
        return value
    return text


def assignments(values: Mapping[str, object]) -> str:
    """Write values as Python source, one assignment a line: the cell that stands in the executed notebook.

    Parameters
    ----------
    values : mapping
        Values by name.

    Returns
    -------
    str
        The source, without a last line feed.

    Examples
    --------
    >>> print(assignments({"folder": ".", "confidence": 0.9}))
    # Parameters
    folder = '.'
    confidence = 0.9
    """
    return "\n".join(["# Parameters", *(f"{name} = {value!r}" for name, value in values.items())])
