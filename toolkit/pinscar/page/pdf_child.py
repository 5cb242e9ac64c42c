"""The process that writes one PDF and ends: JSON request on standard input, file on standard output.

Its last step mends the tags that the PDF writer leaves, as ISO 14289-1 asks (scopes of heads, one annotation
per link, artifacts in margins), and lists attachments by name with their media types. It follows the tags
alone and knows nothing of the page.
"""

from __future__ import annotations

import base64
import gc
import importlib
import json
import logging
import os
import re
import sys
import tempfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import PurePath
from types import MappingProxyType
from typing import Any

from pinscar.page.drawing import Drawing, drawing_of
from pinscar.page.line_memory import remember_lines

_SCOPES = {"/THead": "/Column", "/TBody": "/Row", "/TFoot": "/Row"}


def mend_tags(pdf: Any) -> None:
    """Mend the tag tree of a PDF before it is written.

    A head cell gets its scope. A link inside a link, which the writer makes of every styled part of one, goes
    with its annotation. What no tag leads to, the running texts in the margins, becomes an artifact.
    """
    if "StructTreeRoot" not in pdf.catalog:
        return
    root = _object(pdf, pdf.catalog["StructTreeRoot"])
    parents = _object(pdf, root["ParentTree"])["Nums"]
    reached = list(_tree(pdf, root["K"]))
    for element, above in reached:
        if element["S"] == "/TH":
            element["A"]["Scope"] = _scope(above)
    dropped = [
        annotation
        for element, above in reached
        if any(higher["S"] == "/Link" for higher in above)
        for annotation in _drop_annotations(pdf, element)
    ]
    _forget_annotations(pdf, parents, dropped)
    known = {element.reference for element, _ in reached}
    _margins_to_artifacts(pdf, parents, known)


def _object(pdf: Any, reference: bytes) -> Any:
    return pdf.objects[int(reference.split()[0])]


def _tree(pdf: Any, kids: list[Any], above: tuple[Any, ...] = ()) -> Iterator[tuple[Any, tuple[Any, ...]]]:
    """Give every element that the root leads to, with the elements above it, the nearest last."""
    for kid in kids:
        if isinstance(kid, bytes) and "S" in (element := _object(pdf, kid)):
            yield element, above
            yield from _tree(pdf, element["K"], (*above, element))


def _scope(above: tuple[Any, ...]) -> str:
    """Say what a head cell is the head of: heads of columns stand in the table's head."""
    return next((_SCOPES[higher["S"]] for higher in reversed(above) if higher["S"] in _SCOPES), "/Column")


def _drop_annotations(pdf: Any, element: Any) -> list[bytes]:
    """Take the annotations out of an element, and if it was a link make it a plain part of the one above."""
    objects = {kid: _object(pdf, kid) for kid in element["K"] if isinstance(kid, bytes)}
    own = {kid for kid, found in objects.items() if found.get("Type") == "/OBJR"}
    element["K"][:] = [kid for kid in element["K"] if kid not in own]
    if element["S"] == "/Link":
        element["S"] = "/Span"
    return [objects[kid]["Obj"] for kid in sorted(own)]


def _forget_annotations(pdf: Any, parents: list[Any], dropped: list[bytes]) -> None:
    numbers = {_object(pdf, annotation)["StructParent"] for annotation in dropped}
    parents[:] = [
        entry
        for number, element in zip(parents[::2], parents[1::2], strict=True)
        if number not in numbers
        for entry in (number, element)
    ]
    for reference in pdf.page_references:
        page = _object(pdf, reference)
        if "Annots" in page:
            page["Annots"][:] = [kept for kept in page["Annots"] if kept not in dropped]
    for annotation in dropped:
        _object(pdf, annotation).clear()


def _margins_to_artifacts(pdf: Any, parents: list[Any], known: set[bytes]) -> None:
    """Mark as artifact what belongs to an element that the root does not lead to."""
    elements = dict(zip(parents[::2], parents[1::2], strict=True))
    for reference in pdf.page_references:
        page = _object(pdf, reference)
        owners = elements[page["StructParents"]]
        outside = {number for number, owner in enumerate(owners) if owner not in known}
        operators = _object(pdf, page["Contents"]).stream
        for place, operand in enumerate(operators):
            if isinstance(operand, dict) and operand.get("MCID") in outside:
                operators[place - 1] = "/Artifact"
                operators[place] = type(operand)({"Type": "/Pagination"})
        for number in outside:
            _object(pdf, owners[number]).clear()
            owners[number] = "null"


# Registered media types that Python's own table does not know in every version.
_MEDIA_TYPES = MappingProxyType({".toml": "/application#2ftoml", ".csv": "/text#2fcsv"})


def mend_attachments(pdf: Any) -> None:
    """Sort the list of attachments and name the media types of their formats."""
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


def pack_streams(pdf: Any) -> None:
    """Compress each stream of the file now: the writer asks for them twice, once for the file's digest."""
    for stream in pdf.objects:
        if not getattr(stream, "compress", False):
            continue
        stream.compress = False
        _, opened, content = stream.data.partition(b"\nstream\n")
        if not opened:
            raise ValueError("a stream of the PDF has no content")
        stream.stream = [zlib.compress(content.removesuffix(b"\nendstream"), 9)]
        stream.extra["Filter"] = "/FlateDecode"


class _Collector(logging.Handler):
    """Keeps what the writer says, apart by weight."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.said: dict[str, list[str]] = {"errors": [], "warnings": []}

    def emit(self, record: logging.LogRecord) -> None:
        kind = "errors" if record.levelno >= logging.ERROR else "warnings"
        self.said[kind].append(record.getMessage())


@dataclass(frozen=True, slots=True)
class _Picture:
    """A drawing as the PDF writer asks for it, with the methods that its own images have."""

    drawing: Drawing

    def get_intrinsic_size(
        self,
        resolution: Any,  # noqa: ARG002 - the writer hands it to every kind of image
        font_size: Any,  # noqa: ARG002
    ) -> tuple[float | None, float | None, float | None]:
        """Give width, height and their ratio, each None where the drawing leaves it open."""
        width, height, (*_, across, down) = self.drawing.width, self.drawing.height, self.drawing.box
        if width is not None and height is not None:
            return width, height, width / height
        ratio = across / down
        if width is not None:
            return width, width / ratio, ratio
        return height and height * ratio, height, ratio

    def draw(self, stream: Any, width: float, height: float, style: Any) -> None:  # noqa: ARG002
        """Put the drawing into the middle of a box, as large as it fits."""
        left, top, across, down = self.drawing.box
        scale = min(width / across, height / down)
        aside, below = (width - across * scale) / 2, (height - down * scale) / 2
        stream.transform(a=scale, d=scale, e=aside - left * scale, f=below - top * scale)
        stream.stream.append(self.drawing.operators)


_DRAWN = re.compile(r'(?<= src=")data:image/svg\+xml;base64,(?P<data>[A-Za-z0-9+/=]+)(?=")')


def taken_drawings(html: str) -> tuple[str, dict[str, _Picture]]:
    """Take the drawings out of a page that can be translated, and give each a name in their place.

    Examples
    --------
    >>> page, drawings = taken_drawings('<img src="data:image/svg+xml;base64,PHN2Zy8+">')
    >>> page, drawings  # an SVG without a box is left to the writer
    ('<img src="data:image/svg+xml;base64,PHN2Zy8+">', {})
    """
    names: dict[str, str] = {}
    pictures: dict[str, _Picture] = {}

    def named(match: re.Match[str]) -> str:
        if match["data"] not in names:
            drawing = drawing_of(base64.b64decode(match["data"]))
            name = match[0] if drawing is None else f"drawing:{len(pictures)}"
            names[match["data"]] = name
            if drawing is not None:
                pictures[name] = _Picture(drawing)
        return names[match["data"]]

    return _DRAWN.sub(named, html), pictures


def _write(request: dict[str, Any]) -> bytes:
    import weasyprint
    from weasyprint.urls import URLFetcher

    class LocalFetcher(URLFetcher):  # type: ignore[misc]
        """Reads what the page carries in itself and the font files, and nothing else."""

        def fetch(self, url: str, headers: Any = None) -> Any:
            if not url.startswith(("data:", request["files"] + "/")):
                raise ValueError(f"the page may not fetch {url}")
            return super().fetch(url, headers)

    fetcher = LocalFetcher()
    html, pictures = taken_drawings(request["html"])
    document = weasyprint.HTML(string=html, url_fetcher=fetcher, media_type="print")
    data = document.write_pdf(
        stylesheets=[weasyprint.CSS(string=request["stylesheet"], url_fetcher=fetcher)],
        pdf_variant="pdf/a-3a",
        finisher=_mend,
        cache=dict(pictures),  # what the writer finds here under an address, it does not fetch
        attachments=[_attachment(weasyprint, entry) for entry in request["attachments"]],
    )
    return bytes(data)


def _mend(document: Any, pdf: Any) -> None:  # noqa: ARG001 - the writer hands over both
    mend_tags(pdf)
    mend_attachments(pdf)
    pack_streams(pdf)


def _attachment(weasyprint: Any, entry: dict[str, str]) -> Any:
    dated = datetime.fromisoformat(entry["dated"])
    return weasyprint.Attachment(
        string=base64.b64decode(entry["data"]),
        name=entry["name"],
        description=entry["description"],
        relationship=entry["relationship"],
        created=dated,
        modified=dated,
    )


def main(arguments: list[str]) -> None:  # noqa: ARG001 - a helper's main takes its arguments
    """Read the request, write what was said and the file."""
    collector = _Collector()
    logging.getLogger("weasyprint").addHandler(collector)
    importlib.import_module("weasyprint")  # before the request is there: it takes its time
    remember_lines()
    # It writes one file and ends: looking for cycles among all that stays took a tenth of its time.
    gc.disable()
    with tempfile.TemporaryDirectory() as folder:
        tempfile.tempdir = folder  # fonts stay there until their objects are taken apart
        data = _write(json.load(sys.stdin))
    sys.stdout.buffer.write(json.dumps(collector.said).encode("utf-8") + b"\n" + data)
    sys.stdout.flush()
    os._exit(0)  # taking all objects apart takes a twentieth of the time
