"""A workbook without a clock in it: the same content gives the same bytes.

The look of a run sheet's cells, and text that a spreadsheet leaves as it is.
"""

from __future__ import annotations

import io
import re
import zipfile
from typing import Any

EPOCH = (1980, 1, 1, 0, 0, 0)
"""The earliest time that a zip archive can state."""
TIMES = re.compile(rb"<dcterms:(created|modified)[^>]*>[^<]*</dcterms:\1>")
WRITER = re.compile(rb"<(Application|AppVersion)>[^<]*</\1>")


def settled(workbook: bytes) -> bytes:
    """Take the times and the writing program's name out of a workbook."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(workbook)) as old, zipfile.ZipFile(out, "w") as new:
        for part in old.infolist():
            data = old.read(part)
            if part.filename == "docProps/core.xml":
                data = TIMES.sub(b"", data).replace(b"openpyxl", b"pinscar")
            if part.filename == "docProps/app.xml":
                data = WRITER.sub(b"", data)
            entry = zipfile.ZipInfo(part.filename, EPOCH)
            entry.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(entry, data, compresslevel=6)
    return out.getvalue()


FACE = "Arial"
DARK, LIGHT, PREPARED, LINE = "33414E", "DDE3E8", "F1F3F5", "B8C0C8"
"""Grounds of the heads that must be filled, of other heads and of prepared cells; lines between cells."""


def put_text(cell: Any, text: str, number_format: str = "@") -> None:
    """Put text into a cell; an oil called =7 is no formula there."""
    cell.value, cell.data_type, cell.number_format = text, "s", number_format
