"""The run sheet for the bench: one page a day, what is settled printed, room to write the rest."""

from __future__ import annotations

from collections.abc import Mapping

from pinscar.bench.runs import BenchDay, BenchRun
from pinscar.page.markup import Markup

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
