"""The files that travel inside a report's PDF, against the inputs and results that its manifest names.

A PDF that was changed together with its digest in the manifest is found out by what it carries, as a page is
by its numbers.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from pinscar.press.inputs import sources_of
from pinscar.press.manifest import sha256

RESULTS = "results.json"

LONGEST = 128 * 1024 * 1024
"""Largest PDF that is opened [bytes]; one of a campaign with hundreds of pictures has a tenth of it."""

LONGEST_FILES = 256 * 1024 * 1024
"""Most that the files in a PDF may hold together when unpacked [bytes]."""

MOST = 1_000
"""Most files that are looked for in a PDF."""

MOST_PAGES = 20_000
"""Most pages that are looked through for files."""


class UnreadablePdfError(ValueError):
    """A file that cannot be opened as a PDF, or carries more than any report does."""


def expected_attachments(manifest: Mapping[str, Any]) -> dict[str, str]:
    """Return the digest of each file that a PDF of a report carries, by its name there."""
    inputs: Mapping[str, str] = manifest["inputs"]
    found = {name: inputs[path] for name, (path, _) in sources_of(inputs).items()}
    results = manifest["outputs"].get(RESULTS)
    return found if results is None else found | {RESULTS: results}


def attachment_digests(pdf: Path) -> dict[str, str]:
    """Return the digest of each file that a PDF carries; a second one under the same name is told apart."""
    if pdf.stat().st_size > LONGEST:
        raise UnreadablePdfError("it is larger than any report")
    found: dict[str, str] = {}
    whole = 0
    try:
        for name, data in _files(pdf):
            whole += len(data)
            if len(found) >= MOST or whole > LONGEST_FILES:
                raise UnreadablePdfError("it carries more than any report does")
            digest = sha256(data)
            if found.get(name, digest) != digest:
                name = f"{name} (once more)"
            found[name] = digest
    except UnreadablePdfError:
        raise
    # The library raises many kinds of error on a damaged or hostile file; none is more than "not readable".
    except Exception as error:
        raise UnreadablePdfError("it is damaged") from error
    return found


def _files(pdf: Path) -> Iterator[tuple[str, bytes]]:
    """Give the files of a PDF wherever a viewer shows them: in its list, beside its pages, and on them."""
    import pypdf
    from pypdf.generic import EmbeddedFile

    logging.getLogger("pypdf").setLevel(logging.CRITICAL)  # what is wrong is told in one line by the caller
    reader = pypdf.PdfReader(pdf, strict=False)
    for one in reader.attachment_list:
        yield str(one.name), bytes(one.content)
    if len(reader.pages) > MOST_PAGES:
        raise UnreadablePdfError("it is larger than any report")
    annotations = (note.get_object() for page in reader.pages for note in page.get("/Annots") or [])
    pinned = [note["/FS"] for note in annotations if note.get("/Subtype") == "/FileAttachment"]
    for given in [*(reader.root_object.get("/AF") or []), *pinned]:
        specification = given.get_object()
        name = str(specification.get("/UF") or specification.get("/F") or "a file without a name")
        yield name, bytes(EmbeddedFile(name, specification).content)
