"""Lines that the PDF writer remembers are the lines that it measures."""

from __future__ import annotations

import importlib
import subprocess
import sys

import pytest
from PIL import ImageFile

from pinscar.page import line_memory

PAGE = """<html lang="en"><style>@page { size: 90mm 120mm } td, p { hyphens: auto }
em { letter-spacing: 1px } pre { white-space: pre-wrap }
.tight { width: 18mm; overflow-wrap: anywhere }</style>
<table><tr><td>Film pressure, <em>pooled</em></td><td>1.0</td></tr>
<tr><td>of each oil</td><td>2.0, low</td></tr></table>
<p class="tight">incomprehensibilities soft&shy;hyphen <b>bold, </b>and <i>more</i></p>
<pre>a	tab
two lines, and  two spaces</pre>
<p style="columns: 2; text-align: justify">The reference was run on the same days as the
candidates, on the same rings, by one operator,
and the limits were written down before the first run was made.</p></html>"""


@pytest.fixture
def users(monkeypatch):
    """The writer's modules; on import it has Pillow read pictures that were cut off, which others forbid."""
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", False)
    return [importlib.import_module(name) for name in line_memory.USERS]


def test_every_answer_from_memory_is_what_the_writer_measures(users, monkeypatch):
    split = getattr(users[0], line_memory.SPLIT)
    measured: list[str] = []

    def counted(text, *rest, **more):
        measured.append(text)
        return split(text, *rest, **more)

    quick, asked = line_memory.remembering(counted), []

    def both(*rest, **more):
        told, other = quick(*rest, **more), split(*rest, **more)
        assert told[1:] == other[1:], rest[0]
        assert vars(told[0]) == vars(other[0]), rest[0]
        asked.append(rest[0])
        return told

    for module in users:
        monkeypatch.setattr(module, line_memory.SPLIT, both)
    importlib.import_module("weasyprint").HTML(string=PAGE).render()
    assert len(measured) < 0.8 * len(asked)


def test_the_writer_has_its_lines_split_by_what_is_replaced(users):
    assert all(callable(getattr(module, line_memory.SPLIT)) for module in users)


def test_the_file_is_the_same_with_the_memory_and_without():
    write = (
        "import sys, hashlib, weasyprint; from pinscar.page.line_memory import remember_lines; "
        "sys.argv[2] == 'with' and remember_lines(); "
        "print(hashlib.sha256(weasyprint.HTML(string=sys.argv[1]).write_pdf(pdf_identifier=b'1')).hexdigest())"
    )
    one, other = (
        subprocess.run([sys.executable, "-c", write, PAGE, way], capture_output=True, text=True, check=True)
        for way in ("with", "without")
    )
    assert one.stdout == other.stdout
