"""A template's parameters are known by name and type before it runs."""

from __future__ import annotations

import json

import pytest

from pinscar.errors import UsageError
from pinscar.press.request import assignments, checked_parameters, parse_assignments
from pinscar.press.template import Parameter, declared_parameters, read_notebook, read_template


def declared(source):
    cell = {"cell_type": "code", "metadata": {"tags": ["parameters"]}, "source": source}
    return declared_parameters({"cells": [cell]}, "t")


@pytest.mark.parametrize(
    ("annotation", "good", "bad"),
    [
        ("str", ["a", ""], [1, None, ["a"]]),
        ("int", [0, -3], [1.0, True, "1"]),
        ("float", [0.5, 2], [True, "0.5", None]),
        ("bool", [True], [1, "yes"]),
        ("list[str]", [[], ["a", "b"]], [["a", 1], "a", None]),
        ("list[float]", [[1, 2.5]], [["x"]]),
        ("dict[str, float]", [{"a": 1.0}, {}], [{"a": "b"}, {1: 1.0}, []]),
        ("float | None", [None, 0.9], ["high"]),
        ("list[str] | None", [None, ["a"]], [[None]]),
    ],
)
def test_types(annotation, good, bad):
    """A value of the declared type is taken, any other is refused by name."""
    known = {"x": Parameter("x", annotation, None)}
    for value in good:
        assert checked_parameters(known, {"x": value}, "t") == {"x": value}
    for value in bad:
        with pytest.raises(UsageError, match="parameter x of template t must be"):
            checked_parameters(known, {"x": value}, "t")


def test_the_type_of_a_default_stands_where_none_is_written():
    found = declared('"""What can be set."""\nfolder = "."\nlimit = 0.5\nn: int = 3\nanything = None')
    assert [(p.name, p.annotation) for p in found.values()] == [
        ("folder", "str"), ("limit", "float"), ("n", "int"), ("anything", "NoneType"),
    ]  # fmt: skip
    assert checked_parameters(found, {"anything": [1], "limit": 1}, "t") == {"anything": [1], "limit": 1.0}


@pytest.mark.parametrize(
    "source", ["import os", "x = os.getcwd()", "x = 1 +", "x: int", "a, b = 1, 2", "x += 1"]
)
def test_anything_but_literals_is_refused(source):
    with pytest.raises(UsageError, match="may hold only lines like name = literal"):
        declared(source)


@pytest.mark.parametrize("tags", [[], ["parameters", "parameters"]])
def test_one_cell_is_tagged(tags):
    cells = [{"metadata": {"tags": [tag]}, "source": "x = 1"} for tag in tags]
    with pytest.raises(UsageError, match=f"has {len(tags)} cells tagged 'parameters'"):
        declared_parameters({"cells": cells}, "t")


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"nbformat": 4}', '{"nbformat": 3, "cells": []}', "\x00"])
def test_what_is_no_notebook_is_refused(tmp_path, text):
    (tmp_path / "t.ipynb").write_text(text)
    with pytest.raises(UsageError, match=r"^t\.ipynb is "):
        read_template(tmp_path / "t.ipynb")


def test_every_cell_gets_an_id_that_stays(tmp_path):
    cells = [
        {"cell_type": "markdown", "metadata": {}, "source": ["a\n", "b"], **i}
        for i in ({"id": "a"}, {}, {"id": "a"})
    ]
    (tmp_path / "t.ipynb").write_text(
        json.dumps({"nbformat": 4, "nbformat_minor": 4, "metadata": {}, "cells": cells})
    )
    found = read_notebook(tmp_path / "t.ipynb")
    assert [cell["id"] for cell in found["cells"]] == ["a", "cell-1", "cell-2"]
    assert [cell["source"] for cell in found["cells"]] == ["a\nb"] * 3
    assert found["nbformat_minor"] == 5, "papermill gives a notebook of 4.4 random ids"


@pytest.mark.parametrize(
    ("word", "value"),
    [
        ("a=1", 1), ("a=0.9", 0.9), ("a=None", None), ("a=null", None), ("a=true", True), ("a=True", True),
        ("a=['x', 'y']", ["x", "y"]), ('a=["x"]', ["x"]), ("a=plain words", "plain words"), ("a=x=y", "x=y"),
        ("a=", ""),
    ],
)  # fmt: skip
def test_words(word, value):
    """A word of the command line becomes the value that it looks like."""
    assert parse_assignments([word], {}) == {"a": value}


def test_a_text_parameter_takes_its_word_as_it_stands():
    assert parse_assignments(["a=1.0"], {"a": Parameter("a", "str", "")}) == {"a": "1.0"}


def test_written_parameters_read_back():
    values = {"folder": ".", "responses": ["a\n'b'"], "confidence": 0.95, "none": None, "flags": {"ü": True}}
    namespace: dict[str, object] = {}
    exec(assignments(values), namespace)
    assert {name: namespace[name] for name in values} == values
    assert json.dumps(values)
