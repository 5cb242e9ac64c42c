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


class _AnyClock(zipfile.ZipFile):
    """An archive that can be written whatever the clock says: zip knows no time before 1980."""

    def writestr(
        self,
        zinfo_or_arcname: str | zipfile.ZipInfo,
        data: Any,
        compress_type: int | None = None,
        compresslevel: int | None = None,
    ) -> None:
        """Write a part, dated 1980 where it has no date of its own."""
        place = zinfo_or_arcname
        entry = place if isinstance(place, zipfile.ZipInfo) else zipfile.ZipInfo(place, EPOCH)
        super().writestr(entry, data, compress_type, compresslevel)


def book_bytes(book: Any) -> bytes:
    """Save a workbook of openpyxl; the same content gives the same bytes."""
    from openpyxl.writer.excel import ExcelWriter

    stream = io.BytesIO()
    ExcelWriter(book, _AnyClock(stream, "w", zipfile.ZIP_DEFLATED, strict_timestamps=False)).save()
    return settled(stream.getvalue())


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
