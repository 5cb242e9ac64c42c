"""Mend how the PDF writer lists attachments: in order of their names, each with its media type."""

from __future__ import annotations

from pathlib import PurePath
from types import MappingProxyType
from typing import Any

# Registered media types that Python's own table does not know in every version.
_MEDIA_TYPES = MappingProxyType({".toml": "/application#2ftoml", ".csv": "/text#2fcsv"})


def mend_attachments(pdf: Any) -> None:
    """Sort the list of attachments and name the media types of their formats.

    Parameters
    ----------
    pdf : pydyf.PDF
        All objects of the file, changed in place; nothing happens where nothing is attached.

    References
    ----------
    ISO 32000-1: 7.9.6 (the keys of a name tree are sorted); ISO 19005-3: 6.8 (media type of an embedded
    file). Clause numbers from memory. IANA, "Media Types": application/toml, text/csv.
    """
    if "EmbeddedFiles" not in pdf.catalog.get("Names", {}):
        return
    names = _object(pdf, pdf.catalog["Names"]["EmbeddedFiles"])["Names"]
    pairs = sorted(zip(names[::2], names[1::2], strict=True), key=lambda pair: pair[0].data)
    names[:] = [part for pair in pairs for part in pair]
    for _, reference in pairs:
        file = _object(pdf, reference)
        stream = _object(pdf, file["EF"]["F"])
        ending = PurePath(file["UF"].string).suffix
        stream.extra["Subtype"] = _MEDIA_TYPES.get(ending, stream.extra["Subtype"])


def _object(pdf: Any, reference: bytes) -> Any:
    return pdf.objects[int(reference.split()[0])]
