"""`pinscar sheet`: the runs to be made, day by day, with the oils' names or with codes on the bottles."""

from __future__ import annotations

import csv
import io
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from markupsafe import Markup

from pinscar.campaign.campaign import read_settings
from pinscar.campaign.columns import RUNS
from pinscar.campaign.folder import runs_file
from pinscar.campaign.frames import read_frame
from pinscar.campaign.loads import add_loads
from pinscar.campaign.model import CampaignFile
from pinscar.campaign.tables import read_csv, read_xlsx
from pinscar.campaign.typed_table import settle_table
from pinscar.errors import InputError, Severity, UsageError
from pinscar.page.cautions import BENCH
from pinscar.page.fonts import FAMILY
from pinscar.press.files import cannot_write, put_file
from pinscar.study.plan.table import weights_for
from pinscar.units import to_unit
from pinscar.wording import load_text


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchRun:
    """One run to be made.

    Attributes
    ----------
    run_id : str
        Its name.
    place : str
        Its place within the day.
    lubricant : str
        The oil.
    load : str
        The load, with its unit.
    weights : str
        Weights to hang on [kg]; blank where the rig has no lever.
    duration : str
        Duration, with its unit; blank where the table has none.
    dose : str
        Dose [mL]; blank where it is not settled.
    pin_lot, operator : str
        As the table has them; blank where they are not settled.
    """

    run_id: str
    place: str
    lubricant: str
    load: str
    weights: str = ""
    duration: str = ""
    dose: str = ""
    pin_lot: str = ""
    operator: str = ""


@dataclass(frozen=True, slots=True)
class BenchDay:
    """The runs of one day.

    Attributes
    ----------
    name : str
        The day, such as ``"day 1"``.
    runs : tuple of BenchRun
        Its runs, in order.
    """

    name: str
    runs: tuple[BenchRun, ...]


def weights_text(file: CampaignFile, load: float) -> str:
    """Give the weights that a load takes on the campaign's rig."""
    if file.rig.lever_ratio == 1.0 and file.rig.hanger_mass == 0.0:
        return ""
    mass = weights_for(file.rig, load)
    return "not possible" if mass is None else f"{mass:.2f}"


def bench_days(folder: Path) -> tuple[CampaignFile, tuple[BenchDay, ...]]:
    """Read the runs of a campaign that have no scar yet."""
    file = read_settings(folder)
    name, problems = runs_file(folder)
    if name is None:
        raise InputError(problems)
    table, found = (read_xlsx if name.endswith(".xlsx") else read_csv)(folder / name, name)
    if table is None:
        raise InputError(found)
    read = read_frame(settle_table(table, RUNS, file.campaign.dates).table, RUNS)
    frame, wrong = add_loads(read, name, file.rig)
    grave = [one for one in [*read.problems, *wrong] if _stops(one.code) and one.severity is Severity.ERROR]
    if grave:
        raise InputError(grave)
    open_runs = frame[frame["scar_length"].isna() & (frame["excluded"] == "")]
    if open_runs.empty:
        raise UsageError(f"all runs of {folder} were made: there is nothing to put on a run sheet")
    return file, _by_day(file, open_runs.to_dict("records"))


def _stops(code: str) -> bool:
    """Tell whether an error keeps a run sheet from being made; what is measured may still be blank."""
    return code not in ("value-missing", "value-unusual")


def _by_day(file: CampaignFile, rows: Sequence[Mapping[Any, Any]]) -> tuple[BenchDay, ...]:
    days: dict[str, list[BenchRun]] = {}
    for row in rows:
        runs = days.setdefault(_day(row), [])
        runs.append(_run(file, row, len(runs) + 1))
    return tuple(BenchDay(name, tuple(runs)) for name, runs in days.items())


def _day(row: Mapping[Any, Any]) -> str:
    planned = str(row.get("planned_day") or "")
    moment = next((row[name] for name in ("run_day", "run_at") if not pd.isna(row[name])), None)
    return planned or ("" if moment is None else f"{moment:%Y-%m-%d}")


def _run(file: CampaignFile, row: Mapping[Any, Any], place: int) -> BenchRun:
    load, time, dose = (float(row[name]) for name in ("load", "duration", "dose"))
    return BenchRun(
        run_id=str(row["run_id"]),
        place=str(row.get("planned_place") or place),
        lubricant=str(row["lubricant"]),
        load=load_text(load) if np.isfinite(load) else "",
        weights=weights_text(file, load) if np.isfinite(load) else "",
        duration=f"{time:g} s" if np.isfinite(time) else "",
        dose=f"{float(to_unit(dose, 'mL')):g}" if np.isfinite(dose) else "",
        pin_lot=str(row["pin_lot"]),
        operator=str(row["operator"]),
    )


ROOM_MM = 130.0
"""Height that the rows of a day share on a turned page [mm]."""
LOWEST_MM, HIGHEST_MM = 4.6, 10.0
STYLE = """\
.bench-day { break-after: page; break-inside: auto; }
.bench-day:last-child { break-after: auto; }
.bench-head { display: flex; flex-wrap: wrap; gap: 1mm 6mm; margin: 0 0 2mm; font-size: 8.5pt; }
.bench-head span { white-space: nowrap; }
.bench-head i { display: inline-block; width: 26mm; border-bottom: 0.2mm solid #5b646d; }
.bench { border-collapse: collapse; width: 100%; table-layout: fixed; font-size: 8pt; }
.bench th, .bench td { border: 0.2mm solid #8a929a; padding: 0 1mm; }
.bench th, .bench td { text-align: left; overflow-wrap: anywhere; }
.bench thead th { vertical-align: bottom; font-size: 7pt; padding: 1mm; background: #edf0f2; }
.bench caption { text-align: left; font-weight: 600; font-size: 11pt; padding: 0 0 1.5mm; }
.bench-note { font-size: 7.5pt; margin: 1.5mm 0 0; }
"""
HEADS = (
    ("Date", 26), ("Operator", 26), ("Room at start, °C", 16), ("Room at end, °C", 16), ("Humidity, %", 16),
    ("Ring", 20), ("Pin lot", 20), ("Checked by", 26),
)  # fmt: skip
"""What is written once a day: its label, and the length of its line [mm]."""


def day_page(day: BenchDay, title: str, codes: Mapping[str, str] | None = None) -> Markup:
    """Give the page of a day."""
    lever = any(run.weights for run in day.runs)
    columns = _columns(lever=lever, blind=codes is not None)
    height = min(max(ROOM_MM / len(day.runs), LOWEST_MM), HIGHEST_MM)
    total = sum(width for _, width in columns)
    group = Markup("").join(Markup('<col style="width:{:.2f}%">').format(100 * w / total) for _, w in columns)
    head = Markup("").join(Markup('<th scope="col">{}</th>').format(label) for label, _ in columns)
    rows = Markup("\n").join(_row(run, lever, codes, height) for run in day.runs)
    blanks = Markup("").join(
        Markup('<span>{} <i style="width:{}mm"></i></span>').format(label, width) for label, width in HEADS
    )
    named = f"{title}, {day.name}" if day.name else title
    return Markup(
        '<section class="bench-day"><div class="bench-head">{}</div>'
        '<table class="bench"><caption>Run sheet: {}</caption><colgroup>{}</colgroup>'
        "<thead><tr>{}</tr></thead><tbody>{}</tbody></table>"
        '<p class="bench-note">{}</p></section>'
    ).format(blanks, named, group, head, rows, note(day, blind=codes is not None))


def note(day: BenchDay, *, blind: bool) -> str:
    """Say how the sheet is used."""
    times = {run.duration for run in day.runs if run.duration}
    time = f" Each run lasts {times.pop()}." if len(times) == 1 else ""
    said = (
        f"Keep to this order.{time} A new pin and the same dose each time. Stopped: had the rubbing noise "
        "and the wear stopped at the end? Leave it open where nobody judged. A run that went wrong is "
        "written down too, with the reason."
    )
    if blind:
        said += (
            " The bottles carry codes. Whoever keeps the key stays away from the bench until all scars are "
            "read."
        )
    return said


def _columns(*, lever: bool, blind: bool) -> list[tuple[str, int]]:
    return [
        ("Run", 14),
        ("Place", 13),
        ("Bottle" if blind else "Oil", 18),
        ("Load", 14),
        *([("Weights, kg", 14)] if lever else []),
        ("Dose, mL", 11),
        ("Pin lot", 14),
        ("Operator", 14),
        ("Time", 13),
        ("Room, °C", 12),
        ("Hottest, °C", 13),
        ("Quiet at, s", 13),
        ("Stopped, y/n", 14),
        ("Scar length, mm", 16),
        ("Scar width, mm", 16),
        ("Smoke, drips, remarks", 40),
    ]


def _row(run: BenchRun, lever: bool, codes: Mapping[str, str] | None, height: float) -> Markup:
    oil = run.lubricant if codes is None else codes[run.lubricant]
    settled = [
        run.place,
        oil,
        run.load,
        *([run.weights] if lever else []),
        run.dose,
        run.pin_lot,
        run.operator,
    ]
    cells = Markup("").join(Markup("<td>{}</td>").format(text) for text in [*settled, *[""] * 8])
    return Markup('<tr style="height:{:.1f}mm"><th scope="row">{}</th>{}</tr>').format(
        height, run.run_id, cells
    )


KEY = "blind_key.csv"
HEADER = ("bottle", "lubricant")
LETTERS = "ACEFHJKLMNPRTUVWXY"
"""Letters that are not taken for a digit or for each other when written by hand."""
DIGITS = "234679"


def bottle_codes(oils: Sequence[str], seed: int, known: dict[str, str] | None = None) -> dict[str, str]:
    """Draw a code for each oil.

    Examples
    --------
    >>> codes = bottle_codes(["R-10", "C-21"], 7)
    >>> sorted(codes), len(set(codes.values()))
    (['C-21', 'R-10'], 2)
    """
    found = dict(known or {})
    draw = np.random.default_rng(seed)
    for oil in dict.fromkeys(oils):
        while oil not in found:
            code = "".join(draw.choice(list(signs)) for signs in (LETTERS, DIGITS, DIGITS))
            if code not in found.values():
                found[oil] = code
    return found


def codes_of(folder: Path, oils: Sequence[str], seed: int) -> dict[str, str]:
    """Give the codes of a campaign's oils: those of its key, and new ones for oils that it lacks."""
    known = _read(folder / KEY)
    codes = bottle_codes(oils, seed, known)
    if codes != known:
        text = io.StringIO()
        writer = csv.writer(text, lineterminator="\n")
        writer.writerows([HEADER, *sorted((code, oil) for oil, code in codes.items())])
        try:
            put_file(folder / KEY, text.getvalue().encode())
        except OSError as error:
            raise cannot_write(folder, error) from error
    return codes


def _read(path: Path) -> dict[str, str]:
    from pinscar.campaign.folder import reach_problems
    from pinscar.campaign.tables import read_csv

    strange = list(reach_problems(path.parent, (path.name,), ()))
    if strange:
        raise InputError(strange)
    if not path.exists():
        return {}
    table, problems = read_csv(path, path.name)
    if table is None or problems or table.header != HEADER:
        raise UsageError(f"{path} cannot be read as the key of the bottles; move it away, or mend it")
    found = {oil: code for _, (code, oil) in table.rows if code and oil}
    if len(set(found.values())) != len(table.rows):
        raise UsageError(f"{path} has a bottle or an oil twice; mend it")
    return found


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
