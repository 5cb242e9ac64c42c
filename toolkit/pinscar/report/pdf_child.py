"""The process that writes one PDF and ends: JSON request on standard input, file on standard output."""

from __future__ import annotations

import base64
import json
import logging
import sys
from datetime import datetime
from typing import Any

from pinscar.report.pdf_embedded import mend_attachments
from pinscar.report.pdf_tags import mend_tags


class _Collector(logging.Handler):
    """Keeps what the writer says, apart by weight."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.said: dict[str, list[str]] = {"errors": [], "warnings": []}

    def emit(self, record: logging.LogRecord) -> None:
        kind = "errors" if record.levelno >= logging.ERROR else "warnings"
        self.said[kind].append(record.getMessage())


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
    document = weasyprint.HTML(string=request["html"], url_fetcher=fetcher, media_type="print")
    data = document.write_pdf(
        stylesheets=[weasyprint.CSS(string=request["stylesheet"], url_fetcher=fetcher)],
        pdf_variant="pdf/a-3a",
        finisher=_mend,
        attachments=[_attachment(weasyprint, entry) for entry in request["attachments"]],
    )
    return bytes(data)


def _mend(document: Any, pdf: Any) -> None:  # noqa: ARG001 - the writer hands over both
    mend_tags(pdf)
    mend_attachments(pdf)


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
    data = _write(json.load(sys.stdin))
    sys.stdout.buffer.write(json.dumps(collector.said).encode("utf-8") + b"\n" + data)
