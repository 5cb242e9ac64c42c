"""`pinscar sheet`: the run sheet of a campaign as a page and a PDF, with or without the oils' names."""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from pathlib import Path

from pinscar.bench.bench_sheet import STYLE, day_page
from pinscar.bench.blind_bottles import KEY, codes_of
from pinscar.bench.runs import bench_days
from pinscar.page.cautions import BENCH
from pinscar.page.fonts import FAMILY
from pinscar.page.markup import Markup
from pinscar.press.files import cannot_write, put_file

PAGE = Markup("""\
<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>{}</title><style>
@page {{ size: A4 landscape; margin: 14mm 12mm 12mm 16mm; }}
body {{ font-family: "{}", Arial, sans-serif; margin: 0; color: #1d242b; }}
.bench-caution {{ font-size: 7.5pt; border: 0.3mm solid #9c241c; padding: 1mm 2mm; margin: 0 0 2.5mm; }}
@media screen {{
  body {{ margin: 1.5em; }}
  .bench-day {{ margin-bottom: 3em; overflow-x: auto; }}
  .bench {{ min-width: 62em; }}
}}
{}</style></head><body><main>{}</main></body></html>
""")


@dataclass(frozen=True, slots=True)
class Made:
    """What was made.

    Attributes
    ----------
    files : tuple of str
        Names of the files.
    runs, days : int
        Runs on the sheet, and days.
    """

    files: tuple[str, ...]
    runs: int
    days: int


def make_sheet(folder: Path, *, blind: bool, pdf: bool, seed: int | None = None) -> Made:
    """Write the run sheet of a campaign."""
    file, days = bench_days(folder)
    named = file.campaign.title or file.campaign.id
    oils = [file.campaign.reference, *(run.lubricant for day in days for run in day.runs)]
    drawn = zlib.crc32(file.campaign.id.encode()) if seed is None else seed
    codes = codes_of(folder, oils, drawn) if blind else None
    caution = Markup('<p class="bench-caution"><strong>Safety first.</strong> {}</p>').format(BENCH)
    pages = Markup("\n").join(_with_caution(day_page(day, named, codes), caution) for day in days)
    html = PAGE.format(f"Run sheet: {named}", FAMILY, Markup(STYLE), pages)
    files = {"run_sheet.html": str(html).encode()}
    if pdf:
        from pinscar.page.pdf import html_to_pdf

        files["run_sheet.pdf"] = html_to_pdf(
            str(html), title=f"Run sheet: {named}", campaign_id=file.campaign.id
        )
    try:
        for name, data in files.items():
            put_file(folder / name, data)
    except OSError as error:
        raise cannot_write(folder, error) from error
    names = (*files, *([KEY] if blind else []))
    return Made(names, sum(len(day.runs) for day in days), len(days))


def _with_caution(page: Markup, caution: Markup) -> Markup:
    """Put the cautions at the head of a day's page."""
    head, opening, rest = str(page).partition('<div class="bench-head">')
    return Markup(f"{head}{caution}{opening}{rest}")  # both parts are markup already
