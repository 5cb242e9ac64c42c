"""A campaign of 36 runs as a person types it into a spreadsheet set to German, twice: as xlsx and as csv.

It shares no code with pinscar: the truth is drawn here, and written the local way.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import random
from dataclasses import dataclass
from pathlib import Path

import openpyxl


@dataclass(frozen=True)
class Typed:
    """A run as it was: SI-like numbers in the units that the bench reads off."""

    run_id: str
    lubricant: str
    load_n: float
    length_mm: float
    width_mm: float
    quiet_s: float | None
    stopped: bool | None
    hottest_c: float
    room_c: float
    at: dt.datetime
    drips: int
    smoke: str


def typed_runs(table: Path, seed: int = 26) -> list[Typed]:
    """Make the runs that the prepared table asks for, in its order."""
    draw = random.Random(seed)
    rows = list(csv.DictReader(io.StringIO(table.read_text(encoding="utf-8"))))
    size = {"R-10": 1.0, "H 1": 0.88, "H 2": 0.97}
    day_rise = {1: 1.01, 2: 0.99}
    found = []
    for row in rows:
        load, day = float(row["load [N]"]), int(row["planned_day"].split()[1])
        place = int(row["planned_place"].split()[0])
        length = 3.3 * (load / 450.0) ** 0.5 * size[row["lubricant"]] * day_rise[day] * draw.gauss(1.0, 0.012)
        running = draw.random() < 0.1
        found.append(
            Typed(
                run_id=row["run_id"],
                lubricant=row["lubricant"],
                load_n=load,
                length_mm=round(length, 2),
                width_mm=round(length * 0.55, 2),
                quiet_s=None if running else round(draw.uniform(25, 48), 1),
                stopped=not running,
                hottest_c=round(draw.uniform(44, 52), 1),
                room_c=round(draw.uniform(20.5, 22.5), 1),
                at=dt.datetime(2026, 3, 1 + day, 8) + dt.timedelta(minutes=11 * place),
                drips=draw.randrange(4),
                smoke=draw.choice(["none", "none", "light"]),
            )
        )
    return found


def _comma(number: float | None) -> str:
    return "" if number is None else str(number).replace(".", ",")


JA_NEIN = {True: "ja", False: "nein", None: ""}
SMOKE = {"none": "keine", "light": "leicht", "heavy": "stark"}
HEADER = (
    "run_id", "lubricant", "load [N]", "duration [min]", "scar_length [mm]", "scar_width [mm]",
    "ring_speed [1/min]", "wear_stopped", "quiet_time [s]", "peak_temperature [°C]",
    "ambient_temperature [°C]", "drips", "smoke", "run_at", "operator", "pin_state", "excluded", "note",
)  # fmt: skip


def write_csv(runs: list[Typed], path: Path) -> None:
    """As a spreadsheet set to German saves CSV: semicolons, decimal commas, Windows-1252."""
    text = io.StringIO()
    writer = csv.writer(text, delimiter=";", lineterminator="\r\n")
    writer.writerow(HEADER)
    for run in runs:
        writer.writerow(
            [
                run.run_id,
                run.lubricant,
                f"{run.load_n:g}",
                "1,0",
                _comma(run.length_mm),
                _comma(run.width_mm),
                "700",
                JA_NEIN[run.stopped],
                _comma(run.quiet_s),
                _comma(run.hottest_c),
                f"{_comma(run.room_c)} °C",
                run.drips,
                SMOKE[run.smoke],
                f"{run.at:%d.%m.%Y %H:%M}",
                "Käte",
                "neu",
                "nein",
                "Gerät quietscht, 2 µm Riefe" if run.drips == 3 else "",
            ]
        )
    path.write_bytes(text.getvalue().encode("cp1252"))


def write_xlsx(runs: list[Typed], path: Path) -> None:
    """As a person types into cells: some hold numbers, some text with commas, settings merged over a day."""
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.title = "Tabelle1"
    sheet.append(list(HEADER))
    for number, run in enumerate(runs):
        as_text = number % 3 == 0
        sheet.append(
            [
                run.run_id,
                run.lubricant,
                f"{run.load_n:g} N" if as_text else run.load_n,
                "1 min" if as_text else 1,
                _comma(run.length_mm) if as_text else run.length_mm,
                _comma(run.width_mm) if as_text else run.width_mm,
                "700/min" if as_text else 700,
                run.stopped if number % 2 else ("x" if run.stopped else "nein"),
                _comma(run.quiet_s) if as_text else run.quiet_s,
                run.hottest_c,
                run.room_c,
                run.drips,
                SMOKE[run.smoke],
                f"{run.at.day}.{run.at.month}.{run.at.year} {run.at:%H:%M}" if as_text else run.at,
                "Käte" if number in (0, 18) else None,
                "neu",
                None,
                None,
            ]
        )
    operator = HEADER.index("operator") + 1
    for first, last in ((2, 19), (20, 37)):
        sheet.merge_cells(start_row=first, end_row=last, start_column=operator, end_column=operator)
    book.save(path)
