"""The page of readings to look over: a card for each, the least sure first."""

from __future__ import annotations

import base64
import hashlib
import io
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray
from PIL import Image

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
    """One reading of the sheet.

    Attributes
    ----------
    title : str
        Run and kind of evidence.
    order : float
        Where it stands: the lowest first.
    image : str
        The picture with what was found drawn on it, or the chart, as an address that holds it; empty where
        there is none.
    lines : tuple of pair of str
        What is told beside it.
    refused : str
        Why the reading was refused; empty where it was not.
    """

    title: str
    order: float
    image: str
    lines: tuple[tuple[str, str], ...]
    refused: str


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


def sheet_html(cards: Sequence[Card], campaign: str) -> str:
    """Lay the readings out as one page that needs nothing beside it; its ticks are kept in the browser."""
    parts = [_article(card) for card in cards]
    head = Markup(
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Readings to look over</title>'
        '<meta name="viewport" content="width=device-width"><style>{}</style></head><body>'
        "<header><h1>Readings to look over</h1><p>{} readings, the refused and the least sure first. Tick "
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
    image = Markup('<img alt="{}" src="{}">').format(card.title, card.image) if card.image else Markup("")
    lines = Markup("").join(Markup("<dt>{}</dt><dd>{}</dd>").format(*line) for line in card.lines)
    refused = Markup("<p><strong>Not accepted:</strong> {}.</p>").format(card.refused) if card.refused else ""
    read = hashlib.sha256(repr((card.lines, card.refused, card.image)).encode("utf-8")).hexdigest()
    return Markup(
        '<article class="{}">{}<h2>{}</h2><dl>{}</dl>{}<label><input type="checkbox" name="{}" '
        'data-reading="{}" autocomplete="off"> looked over</label></article>'
    ).format("refused" if card.refused else "read", image, card.title, lines, refused, card.title, read)


def picture_address(pixels: NDArray[np.uint8] | None) -> str:
    """Give a picture as an address that holds it, no larger than the sheet shows it."""
    if pixels is None:
        return ""
    picture = Image.fromarray(pixels).convert("RGB")
    picture.thumbnail((WIDEST, WIDEST))
    stream = io.BytesIO()
    picture.save(stream, "JPEG", quality=80)
    return f"data:image/jpeg;base64,{base64.b64encode(stream.getvalue()).decode('ascii')}"
