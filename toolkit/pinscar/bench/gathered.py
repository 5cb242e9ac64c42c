"""What `pinscar gather` writes beside the table: readings beside what was typed, pictures to look over."""

from __future__ import annotations

import base64
import hashlib
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
import pandas as pd
from markupsafe import Markup
from numpy.typing import NDArray
from PIL import Image

from pinscar.campaign.campaign import read_settings
from pinscar.campaign.folder import evidence_by_run
from pinscar.campaign.table_text import Filling, Found
from pinscar.decision.evidence import NO_BOUND, RunSeen, largest_scar, see_card, see_scar
from pinscar.decision.media import read_picture
from pinscar.errors import InputError
from pinscar.evidence.grey import grey
from pinscar.press.files import cannot_write, put_file
from pinscar.seen.cards import fling_overlay
from pinscar.seen.pictures import overlay
from pinscar.shown import to_shown

UNITS = MappingProxyType(
    {
        "quiet_time": "s",
        "quiet_after": "s",
        "quiet_before": "s",
        "peak_temperature": "degC",
        "ambient_temperature": "degC",
        "scar_length": "mm",
        "scar_width": "mm",
        "micrograph_scale": "um/px",
        "fling_area": "mm^2",
    }
)
"""The columns that evidence fills, each with the unit that it is written in."""

SHOWN = MappingProxyType(
    {"degC": ("°C", "K", 1), "mm": ("mm", "mm", 3), "um/px": ("µm/px", "µm/px", 4), "mm^2": ("mm²", "mm²", 2),
     "s": ("s", "s", 1)}
)  # fmt: skip
"""Of each of those units: that of a value, that of a difference, and the places shown."""

HEAD = ("run", "column", "typed", "read", "u", "difference", "score")


def cells_of(one: Found) -> list[str]:
    """Give the cells of a reading: typed, read, standard uncertainty, difference and score."""
    unit = UNITS[one.column]
    of_value, of_difference, places = SHOWN[unit]
    typed, read = (None, one.value) if isinstance(one, Filling) else (one.typed, one.read)
    both = typed is not None and read is not None
    difference = (read or 0.0) - (typed or 0.0) if both else None

    def shown(value: float | None, unit: str, sign: str = "") -> str:
        return "-" if value is None else f"{to_shown(value, unit):{sign}.{places}f}"

    return [
        one.run_id,
        f"{one.column} [{unit}]",
        shown(typed, of_value),
        shown(read, of_value),
        shown(one.uncertainty, of_difference),
        shown(difference, of_difference, "+"),
        "-" if one.score is None else f"{one.score:.2f}",
    ]


def readings_table(found: Sequence[Found]) -> list[str]:
    """Lay out what was read, a line each under a head; nothing where nothing was read."""
    rows = [cells_of(one) for one in found if isinstance(one, Filling) or one.read is not None]
    if not rows:
        return []
    table = [list(HEAD), *rows]
    wide = [max(len(row[column]) for row in table) for column in range(len(HEAD))]
    lines = []
    for row in table:
        words = [cell.ljust(wide[n]) if n < 2 else cell.rjust(wide[n]) for n, cell in enumerate(row)]
        lines.append("  ".join(words).rstrip())
    return lines


NAME = "gather_review.html"
"""The sheet, in the campaign folder."""

WIDEST = 420
"""Longer side of a picture on the sheet [px]."""

_STYLE = (
    "body{font:15px/1.45 system-ui,sans-serif;margin:24px;color:#1a1a1a;background:#fff}"
    "main{display:grid;grid-template-columns:repeat(auto-fill,minmax(300px,1fr));gap:20px}"
    "article{border:1px solid #bbb;padding:10px}article.refused{border:2px solid #b45309}"
    "img{width:100%;height:auto;display:block}h2{font-size:1rem;margin:.4em 0 .2em}"
    "dl{display:grid;grid-template-columns:auto 1fr;gap:0 .8em;margin:0;font-variant-numeric:tabular-nums}"
    "dt{color:#555}dd{margin:0}label{display:block;margin-top:.5em}"
    "@media print{article{break-inside:avoid}}"
)


@dataclass(frozen=True, slots=True)
class Card:
    """One picture of the sheet.

    Attributes
    ----------
    title : str
        Run and kind of picture.
    order : float
        Where it stands: the lowest first.
    picture : array or None
        The picture with what was found drawn on it.
    lines : tuple of pair of str
        What is told beside it.
    refused : str
        Why the reading was refused; empty where it was not.
    """

    title: str
    order: float
    picture: NDArray[np.uint8] | None
    lines: tuple[tuple[str, str], ...]
    refused: str


def review(folder: Path, runs: pd.DataFrame, sides: tuple[float, float] | None) -> tuple[Path, int]:
    """Write the sheet, and tell how many pictures are on it."""
    shown = sorted(
        (*_scars(folder, runs), *_cards(folder, runs, sides)), key=lambda one: (one.order, one.title)
    )
    path = folder / NAME
    try:
        put_file(path, sheet_html(shown, read_settings(folder).campaign.id).encode("utf-8"))
    except OSError as error:
        raise cannot_write(folder, error) from error
    return path, len(shown)


def _scars(folder: Path, runs: pd.DataFrame) -> Iterator[Card]:
    files = evidence_by_run(folder, "micrographs")
    largest = largest_scar(read_settings(folder).rig) if files else NO_BOUND
    for run in runs.to_dict("records"):
        if run["run_id"] in files:
            path = folder / files[run["run_id"]]
            yield _scar(path, see_scar(path, run, largest, keep=True, folder=folder), run)


def _as_it_is(path: Path) -> NDArray[np.uint8] | None:
    """Give a picture that was refused, for whoever reads it by hand; None where it is none."""
    try:
        pixels = read_picture(path)
        if pixels.dtype == np.uint8:
            return pixels.astype(np.uint8)
        return np.rint(255.0 * grey(pixels)).astype(np.uint8)
    except (InputError, ValueError):
        return None


def _scar(path: Path, seen: RunSeen, run: Mapping[Any, Any]) -> Card:
    reading, title = seen.reading, f"{run['run_id']}: scar"
    if reading is None or seen.pixels is None or seen.scale is None:
        return Card(title, -1.0, _as_it_is(path), (), seen.why_not)
    lines = []
    axes = (
        ("Length", reading.length, reading.length_uncertainty, seen.typed[0], seen.apart[0]),
        ("Width", reading.width, reading.width_uncertainty, seen.typed[1], seen.apart[1]),
    )
    for name, value, u, typed, apart in axes:
        said = "not read" if value is None else f"{to_shown(value, 'mm'):.3f} mm"
        said += "" if u is None else f", u {to_shown(u, 'mm'):.3f} mm"
        said += "" if pd.isna(typed) else f"; typed {to_shown(typed, 'mm'):.3f} mm"
        lines.append((name, said + ("" if pd.isna(apart) else f" ({100 * apart:+.1f} %)")))
    lines.append(("Score", f"{reading.score:.2f}"))
    drawn = overlay(seen.pixels, reading, seen.scale.size)
    return Card(title, reading.score if reading.accepted else -0.5, drawn, tuple(lines), seen.why_not)


def _cards(folder: Path, runs: pd.DataFrame, sides: tuple[float, float] | None) -> Iterator[Card]:
    files = evidence_by_run(folder, "fling") if sides is not None else {}
    for run in runs.to_dict("records"):
        if run["run_id"] not in files:
            continue
        seen = see_card(folder / files[run["run_id"]], run, sides, folder=folder)
        reading, title = seen.reading, f"{run['run_id']}: fling card"
        typed = float(run["fling_area"])
        said = "" if pd.isna(typed) else f"typed {to_shown(typed, 'mm²'):.1f} mm²"
        if reading is None or reading.fling_area is None or reading.fling_area_uncertainty is None:
            lines = [("Area", f"not read; {said}" if said else "not read")]
            yield Card(title, -1.0, _as_it_is(folder / files[run["run_id"]]), tuple(lines), seen.why_not)
            continue
        area, u = (to_shown(one, "mm²") for one in (reading.fling_area, reading.fling_area_uncertainty))
        apart = f"; {said} ({100 * (reading.fling_area / typed - 1.0):+.1f} %)" if said and typed else ""
        lines = [("Drops", str(reading.count)), ("Area", f"{area:.1f} mm², u {u:.1f} mm²{apart}")]
        yield Card(title, 1.0 - u / area if area else 1.0, fling_overlay(reading), tuple(lines), seen.why_not)


# A box that was ticked stays so for as long as what it stands for is the same. Where a browser keeps nothing,
# or runs no script, the sheet works, and says that ticks are lost.
_SCRIPT = """(() => {
  const key = "looked over: " + document.querySelector("main").dataset.campaign;
  const boxes = document.querySelectorAll("input[data-reading]");
  const lost = () => { document.getElementById("lost").hidden = false; };
  let kept = {};
  try { kept = JSON.parse(localStorage.getItem(key)) || {}; } catch { lost(); }
  for (const box of boxes) {
    box.checked = kept[box.name] === box.dataset.reading;
    box.addEventListener("change", () => {
      try {
        kept = JSON.parse(localStorage.getItem(key)) || {};
        if (box.checked) kept[box.name] = box.dataset.reading; else delete kept[box.name];
        localStorage.setItem(key, JSON.stringify(kept));
      } catch { lost(); }
    });
  }
})();"""


def sheet_html(cards: list[Card], campaign: str) -> str:
    """Lay the pictures out as one page that needs nothing beside it; its ticks are kept in the browser."""
    parts = [_article(card) for card in cards]
    head = Markup(
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Readings to look over</title>'
        '<meta name="viewport" content="width=device-width"><style>{}</style></head><body>'
        "<header><h1>Readings to look over</h1><p>{} pictures, the refused and the least sure first. Tick "
        "what is right; read the others by hand: <code>pinscar.read_scars</code> in a notebook. Ticks are "
        "kept in this browser until a reading changes.</p>"
        '<p id="lost" role="status" hidden>This browser keeps no ticks: they are lost when the page is '
        "closed.</p><noscript><p>No script runs here: ticks are lost when the page is closed.</p></noscript>"
        "</header>"
        '<main data-campaign="{}">'
    ).format(Markup(_STYLE), len(cards), campaign)
    script = Markup("<script>{}</script>").format(Markup(_SCRIPT))
    return str(head + Markup("").join(parts) + Markup("</main>") + script + Markup("</body></html>\n"))


def _article(card: Card) -> Markup:
    image, picture = Markup(""), "" if card.picture is None else _small(card.picture)
    if picture:
        image = Markup('<img alt="{}" src="data:image/jpeg;base64,{}">').format(card.title, picture)
    lines = Markup("").join(Markup("<dt>{}</dt><dd>{}</dd>").format(*line) for line in card.lines)
    refused = Markup("<p><strong>Not accepted:</strong> {}.</p>").format(card.refused) if card.refused else ""
    read = hashlib.sha256(repr((card.lines, card.refused, picture)).encode("utf-8")).hexdigest()
    return Markup(
        '<article class="{}">{}<h2>{}</h2><dl>{}</dl>{}<label><input type="checkbox" name="{}" '
        'data-reading="{}" autocomplete="off"> looked over</label></article>'
    ).format("refused" if card.refused else "read", image, card.title, lines, refused, card.title, read)


def _small(pixels: NDArray[np.uint8]) -> str:
    picture = Image.fromarray(pixels).convert("RGB")
    picture.thumbnail((WIDEST, WIDEST))
    stream = io.BytesIO()
    picture.save(stream, "JPEG", quality=80)
    return base64.b64encode(stream.getvalue()).decode("ascii")
