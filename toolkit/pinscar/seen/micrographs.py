"""The micrographs of a campaign as one sheet of small pictures: each scar as read beside what was typed in.

The scale of each is the typed one or that of the bar on the picture; both are compared.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from pinscar.decision.evidence import KEPT, RunScale, RunSeen
from pinscar.page.markup import Markup, finding, method_note, paragraph, table
from pinscar.seen.cards import COLUMNS, caption_with_rest, named_pictures, picture_sheet
from pinscar.seen.pictures import overlay
from pinscar.shown import to_shown
from pinscar.wording import with_uncertainty

SCALES_APART = 0.02
"""Relative difference of a typed scale and that of the bar that is pointed out."""


def scale_sentences(scales: dict[str, RunScale]) -> list[str]:
    """Tell which scales come from bars, which bars were not read, and where typed scale and bar disagree."""
    told = []
    used = [run for run, scale in scales.items() if scale.from_bar]
    if used:
        told.append(
            "The scale comes from the bar on the picture, micrograph_scale being blank, for "
            f"{', '.join(used)}."
        )
    for run, scale in scales.items():
        if abs(scale.apart) > SCALES_APART:
            told.append(
                f"{run}: the typed scale, {to_shown(scale.typed, 'µm'):.4g} um/px, "
                f"is {100 * abs(scale.apart):.1f} % "
                f"{'above' if scale.apart > 0 else 'below'} that of the bar on the picture, "
                f"{to_shown(scale.by_bar, 'µm'):.4g} um/px. The typed one is used; one of them is wrong."
            )
        elif scale.why_not and scale.typed > 0:
            told.append(f"{run}: {scale.why_not}. The typed scale is used.")
    return told


APART = 0.05
"""Relative difference of a reading from what was typed that is pointed out."""
METHOD = (
    "The oval is looked for in brightness and in the direction of scratches; its outline is traced to a "
    "fraction of a point of the picture, and an ellipse of least distance is fitted, outliers left out; "
    "where the outline clearly is no ellipse, length and width are its extents along and across. "
    "The area is that inside the traced outline. "
    "A reading whose outline is hardly seen, ragged or cut off is refused, and so is an oval without "
    "striations along the pin, or one of two that look alike."
)


def seen_html(seen: Sequence[RunSeen], *, with_method: bool = True, columns: int = COLUMNS) -> str:
    """Show readings of micrographs beside the typed axes."""
    if not seen:
        return finding("No micrographs are in the campaign folder: the scar axes are those typed in.")
    told = scale_sentences({run.run_id: run.scale for run in seen if run.scale is not None})
    words = [paragraph(sentence) for sentence in told]
    parts = [finding(sheet_sentence(seen)), *words, *_sheet(seen, columns), _readings_table(seen)]
    parts += [method_note(METHOD)] if with_method else []
    return "\n".join(str(part) for part in parts)


def drawn(run: RunSeen) -> NDArray[np.uint8] | None:
    """Draw what was read on a micrograph."""
    if run.pixels is None or run.reading is None or run.scale is None:
        return None
    return overlay(run.pixels, run.reading, run.scale.size)


def sheet_sentence(seen: Sequence[RunSeen]) -> str:
    """Tell how many pictures were read and how far the readings are from the typed axes."""
    read = [run for run in seen if not run.why_not]
    start = f"{len(read)} of {len(seen)} micrographs were read automatically"
    apart = [abs(away) for run in read for away in run.apart if np.isfinite(away)]
    if not apart:
        return f"{start}."
    far = [run.run_id for run in read if max(map(abs, _known(run.apart)), default=0.0) > APART]
    told = f"; half of the axes lie within {100 * float(np.median(apart)):.1f} % of what was typed"
    if far:
        return f"{start}{told}. More than {100 * APART:.0f} % apart: {', '.join(far)}."
    return f"{start}{told}, all within {100 * max(apart):.1f} %."


def _known(values: tuple[float, ...]) -> list[float]:
    return [value for value in values if np.isfinite(value)]


def _sheet(seen: Sequence[RunSeen], columns: int) -> list[str]:
    shown = named_pictures(seen, drawn)
    if not shown:
        return []
    guessed = any(run.why_not and run.reading is not None for run in seen)
    guess = "; yellow and dashed: a guess that was not accepted" if guessed else ""
    caption = (
        "Scars as read from their pictures: traced outline blue (left out of the fit: red), axes white"
        f"{guess}. The bar gives the scale"
    )
    told = caption_with_rest(caption, len(seen) - len(shown))
    alt = f"Contact sheet of {len(shown)} micrographs with the outline of each scar. {sheet_sentence(seen)}"
    return [
        picture_sheet(shown, alt=alt, label="Contact sheet", caption=told, key="micrographs", columns=columns)
    ]


def _readings_table(seen: Sequence[RunSeen]) -> Markup:
    return table(
        [
            "Run",
            ("Length, picture", "mm"),
            ("typed", "mm"),
            ("Width, picture", "mm"),
            ("typed", "mm"),
            ("Area in outline", "mm²"),
            "Score",
            "Remark",
        ],
        [_row(run) for run in seen],
        caption="Scar axes from the micrographs, with standard uncertainties, beside those typed in",
        key="micrographs",
        number_columns=range(1, 7),
        row_classes=["flagged" if run.why_not else "" for run in seen],
        note="The evaluation uses the typed axes. Standard uncertainty: resampled outline and its placement; "
        "of the scale only where it comes from a bar. A reading with a score under 0.93 is not accepted.",
        long=len(seen) > KEPT // 2,
    )


def _row(run: RunSeen) -> list[str]:
    reading = run.reading
    score = "none" if reading is None else f"{reading.score:.2f}"
    typed = [f"{to_shown(value, 'mm'):.2f}" if np.isfinite(value) else "not measured" for value in run.typed]
    if reading is None or reading.length is None or reading.width is None or reading.area is None:
        return [run.run_id, "not read", typed[0], "not read", typed[1], "not read", score, run.why_not]
    remark = "differs" if max(map(abs, _known(run.apart)), default=0.0) > APART else "none"
    return [
        run.run_id,
        with_uncertainty(to_shown(reading.length, "mm"), to_shown(reading.length_uncertainty or 0.0, "mm")),
        typed[0],
        with_uncertainty(to_shown(reading.width, "mm"), to_shown(reading.width_uncertainty or 0.0, "mm")),
        typed[1],
        f"{to_shown(reading.area, 'mm²'):.2f}",
        score,
        remark,
    ]
