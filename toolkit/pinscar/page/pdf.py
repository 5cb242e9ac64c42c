"""Make the PDF of a page: PDF/A-3 with tags and attachments, by WeasyPrint in a process that exits."""

from __future__ import annotations

import base64
import ctypes
import json
import re
import subprocess
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, nullcontext, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from pinscar.child import clean_environment, python_command
from pinscar.errors import RunError
from pinscar.page import fonts

# An attachment must carry dates (ISO 19005-3); this one says "not recorded" and never changes.
UNDATED = datetime(2000, 1, 1, tzinfo=UTC)

_LIBRARIES = {
    "Pango": ("libpango-1.0.so.0", "libpango-1.0.dylib", "libpango-1.0-0.dll", "libpango-1.0-0"),
    "PangoFT2": (
        "libpangoft2-1.0.so.0",
        "libpangoft2-1.0.dylib",
        "libpangoft2-1.0-0.dll",
        "libpangoft2-1.0-0",
    ),
    "HarfBuzz": ("libharfbuzz.so.0", "libharfbuzz.0.dylib", "libharfbuzz-0.dll", "libharfbuzz-0"),
    "Fontconfig": ("libfontconfig.so.1", "libfontconfig.1.dylib", "libfontconfig-1.dll", "libfontconfig-1"),
}


# Pictures for a phone, and the script with its data: paper has no use for them, and they are half of a page.
_SCREEN_ONLY = re.compile(r"<source [^<>]*>|<script\b.*?</script>", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file that travels inside the PDF.

    Attributes
    ----------
    name : str
        File name; its ending tells the media type.
    data : bytes
        Content.
    description : str
        What it is, in a few words.
    relationship : str
        What it is to the page, as ISO 32000-2 section 7.11.3 names it: ``"Source"``, ``"Data"`` or
        ``"Supplement"``.
    dated : datetime
        Date of creation and of last change, taken from the data or left `UNDATED`; never from a clock.
    """

    name: str
    data: bytes
    description: str
    relationship: str = "Data"
    dated: datetime = UNDATED


@dataclass(frozen=True, slots=True)
class PdfResult:
    """The PDF, and what its writer had to say.

    Attributes
    ----------
    data : bytes
        The file.
    warnings : tuple of str
        Remarks on style and markup that the writer could not follow; empty for the shipped page.
    """

    data: bytes
    warnings: tuple[str, ...]


def require_pango() -> None:
    """Check, before any work is done, that the libraries are there without which no PDF can be made.

    Examples
    --------
    >>> require_pango()
    """
    missing = [name for name, files in _LIBRARIES.items() if not any(map(_loads, files))]
    if missing:
        raise RunError(
            f"the PDF needs {' and '.join(missing)}, which this machine lacks; install Pango (Debian: "
            "libpango-1.0-0, libpangoft2-1.0-0) or leave the PDF out with --no-pdf"
        )


def _loads(file: str) -> bool:
    with suppress(OSError):
        ctypes.CDLL(file)
        return True
    return False


def html_to_pdf(
    html: str,
    *,
    title: str,
    campaign_id: str,
    attachments: Sequence[Attachment] = (),
    digest: str | None = None,
    campaign_word: str = "Campaign",
    writer: Writer | None = None,
) -> bytes:
    """Return the page as PDF; the same page and attachments give the same bytes with the same versions.

    Examples
    --------
    >>> html = "<html lang='en'><title>Oils</title><p>Met.</p>"
    >>> html_to_pdf(html, title="Oils", campaign_id="c-1")[:5]
    b'%PDF-'
    """
    return render_pdf(
        html,
        title=title,
        campaign_id=campaign_id,
        attachments=attachments,
        digest=digest,
        campaign_word=campaign_word,
        writer=writer,
    ).data


def render_pdf(
    html: str,
    *,
    title: str,
    campaign_id: str,
    attachments: Sequence[Attachment] = (),
    digest: str | None = None,
    campaign_word: str = "Campaign",
    writer: Writer | None = None,
) -> PdfResult:
    """Return the page as PDF together with the writer's warnings.

    Examples
    --------
    >>> html = "<html lang='en'><title>Oils</title><style>p { colour: red }</style><p>Met.</p>"
    >>> len(render_pdf(html, title="Oils", campaign_id="c-1").warnings)
    1
    """
    printed = html.replace(fonts.font_face_css(embedded=True), fonts.font_face_css(embedded=False))
    request = {
        "html": _SCREEN_ONLY.sub("", printed),
        "stylesheet": running_texts(
            title=title, campaign_id=campaign_id, digest=digest, campaign_word=campaign_word
        ),
        "files": fonts.FOLDER.as_uri(),
        "attachments": [_as_json(attachment) for attachment in attachments],
    }
    answer = _ask_child(json.dumps(request).encode("utf-8"), writer)
    head, _, data = answer.partition(b"\n")
    said = json.loads(head)
    if said["errors"]:
        raise RunError(f"the PDF could not be made: {'; '.join(said['errors'])}")
    return PdfResult(data, tuple(said["warnings"]))


def _as_json(attachment: Attachment) -> dict[str, Any]:
    return {
        "name": attachment.name,
        "data": base64.b64encode(attachment.data).decode("ascii"),
        "description": attachment.description,
        "relationship": attachment.relationship,
        "dated": attachment.dated.astimezone(UTC).isoformat(),
    }


Writer = subprocess.Popen[bytes]
"""The process that writes one PDF: what it allocates goes back when it ends."""


@contextmanager
def started_writer(*, wanted: bool = True) -> Iterator[Writer | None]:
    """Start the writer before there is a page, so that it imports its libraries meanwhile.

    Examples
    --------
    >>> with started_writer() as writer:
    ...     html_to_pdf("<html lang='en'><title>Oils</title><p>Met.</p>", title="Oils", campaign_id="c-1",
    ...                 writer=writer)[:5]
    b'%PDF-'
    """
    writer = None
    with suppress(OSError):  # no room for it now: it is started when it is needed, or fails then
        writer = _start() if wanted else None
    try:
        yield writer
    finally:
        if writer is not None:
            writer.kill()
            with writer:  # closes its pipes and waits for its end
                pass


def _start() -> Writer:
    return subprocess.Popen(
        python_command("pinscar.page.pdf_child"),
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**clean_environment(), "SOURCE_DATE_EPOCH": "0"},
    )


def _ask_child(request: bytes, writer: Writer | None) -> bytes:
    """Have the writer write, one that is started already or another."""
    with nullcontext(writer) if writer is not None else _start() as asked:
        answer, said = asked.communicate(request)
    if asked.returncode != 0:
        last = said.decode("utf-8", "replace").strip().splitlines()[-1:] or ["no message"]
        raise RunError(f"the PDF could not be made: the writer ended with {asked.returncode}: {last[0]}")
    return answer


def running_texts(
    *, title: str, campaign_id: str, digest: str | None, campaign_word: str = "Campaign"
) -> str:
    """Return the style rules that print campaign and title at the head and the digest at the foot.

    Examples
    --------
    >>> print(running_texts(title="Oils", campaign_id="c-1", digest=None).splitlines()[-1])
    @page :first { @top-left { content: none } @top-right { content: none } }
    """
    font = f"font: 8pt '{fonts.FAMILY}', sans-serif; color: #5b646d"
    foot = "" if digest is None else f"@bottom-left {{ content: {css_string(digest)}; {font} }}"
    return (
        f"@page {{ @top-left {{ content: {css_string(f'{campaign_word} {campaign_id}')}; {font} }} "
        f"@top-right {{ content: {css_string(title)}; {font} }} {foot} }}\n"
        "@page :first { @top-left { content: none } @top-right { content: none } }"
    )


def css_string(text: str) -> str:
    r"""Return a text as a quoted CSS string.

    Examples
    --------
    >>> print(css_string('12" pin'))
    "12\000022 pin"
    """
    escaped = "".join(f"\\{ord(c):06x}" if c in '"\\<>' or ord(c) < 32 else c for c in text)
    return f'"{escaped}"'
