"""A report as one archive to mail; the same report gives the same bytes."""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path

from pinscar.page.workbook import EPOCH
from pinscar.press.files import cannot_write, put_file


def file_stem(campaign_id: str, template: str) -> str:
    """Make the name of a file from a campaign and a template.

    Examples
    --------
    >>> file_stem("conveyor-07", "campaign_report"), file_stem("Öl 7/8: trial", "plan")
    ('conveyor-07-campaign_report', 'Öl-7-8-trial-plan')
    """
    kept = re.sub(r"[^\w.-]+", "-", campaign_id).strip("-.") or "campaign"
    return f"{kept[:80]}-{template}"


def zip_report(report: Path, stem: str) -> Path:
    """Put the files of a report into an archive beside its folder."""
    stream = io.BytesIO()
    place = report.parent / f"{stem}.zip"
    try:
        with zipfile.ZipFile(stream, "w") as archive:
            for path in sorted(report.iterdir()):
                if not path.is_file():
                    continue
                entry = zipfile.ZipInfo(f"{stem}/{path.name}", EPOCH)
                entry.compress_type = zipfile.ZIP_DEFLATED
                entry.external_attr = 0o644 << 16
                archive.writestr(entry, path.read_bytes(), compresslevel=6)
        put_file(place, stream.getvalue())
    except OSError as error:
        raise cannot_write(report.parent, error) from error
    return place
