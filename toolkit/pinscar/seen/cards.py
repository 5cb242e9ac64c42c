"""Fling cards: one read, told and drawn on the card laid flat, and a campaign's as one sheet."""

from __future__ import annotations

import base64
import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol, TypeVar

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from scipy.ndimage import binary_dilation
from skimage.segmentation import find_boundaries

from pinscar.campaign.model import card_size
from pinscar.campaign.quantities import FieldError
from pinscar.decision.evidence import CardSeen, read_card
from pinscar.decision.kept_results import kept_result
from pinscar.errors import UsageError
from pinscar.evidence.fling_card import FlingReading, size_classes
from pinscar.language.current import current_speaker, said
from pinscar.page.markup import caption_html, finding, method_note, table
from pinscar.page.style import bar_length
from pinscar.seen.pictures import (
    refuse_overlay,
    rounded,
    save_overlay,
)
from pinscar.shown import from_shown, to_shown
from pinscar.wording import with_uncertainty

FOUND, GUESS, LEFT_OUT, CORNER = (0, 90, 200), (230, 140, 0), (200, 30, 120), (0, 0, 0)


def fling_overlay(reading: FlingReading, thick: int = 2) -> NDArray[np.uint8]:
    """Draw a reading on its card, the card laid flat.

    The edges of drops are blue, strokes and fibres that were left out purple; of a refused reading the drops
    are orange: they are a guess.
    """
    brightest = max(float(np.quantile(reading.card, 0.99)), 0.05)
    grey = np.clip(np.rint(reading.card / brightest * 235), 0, 255).astype(np.uint8)
    pixels = np.repeat(grey[..., None], 3, axis=2)
    pixels[reading.left_out & reading.accepted] = LEFT_OUT
    edges = find_boundaries(reading.drops, mode="outer")
    edges = binary_dilation(edges, iterations=thick - 1) if thick > 1 else edges
    pixels[edges] = FOUND if reading.accepted else GUESS
    height, width = grey.shape
    border = max(8, width // 40)
    page = Image.new("RGB", (width + 2 * border, height + 2 * border + width // 15), "white")
    page.paste(Image.fromarray(pixels), (border, border))
    draw = ImageDraw.Draw(page)
    _corners(draw, border, width, height)
    _scale(draw, (border, height + 2 * border), width, reading.point)
    return np.asarray(page, dtype=np.uint8)


def _corners(draw: ImageDraw.ImageDraw, border: int, width: int, height: int) -> None:
    arm, thick = border, max(2, width // 400)
    for x, way_x in ((border, -1), (border + width - 1, 1)):
        for y, way_y in ((border, -1), (border + height - 1, 1)):
            draw.line([(x, y), (x + way_x * arm, y)], fill=CORNER, width=thick)
            draw.line([(x, y), (x, y + way_y * arm)], fill=CORNER, width=thick)


def _scale(draw: ImageDraw.ImageDraw, place: tuple[int, int], width: int, point: float) -> None:
    millimetres = bar_length(0.35 * width * to_shown(point, "mm"))
    x, y = place
    length, high = from_shown(millimetres, "mm") / point, max(4, width // 80)
    draw.rectangle((x, y, x + length, y + high), fill=CORNER)
    font = ImageFont.load_default(size=max(14, width // 19))
    draw.text(
        (x + length + high, y + high // 2), said(f"{millimetres:g} mm"), anchor="lm", font=font, fill=CORNER
    )


SHARES = (0.1, 0.5, 0.9)
"""Shares of the covered area whose diameters are told."""


def read_card_size(text: str) -> tuple[float, float]:
    """Read the size of a card from the command line.

    Examples
    --------
    >>> read_card_size("100mm x 150mm")
    (0.15, 0.1)
    """
    try:
        return card_size(text)
    except FieldError as error:
        raise UsageError(f"--card {text}: {error.message}; {error.mend}") from None


def card_on_picture(path: Path, sides: tuple[float, float], drawn: Path | None = None) -> FlingReading:
    """Read the card on a photograph; save the card with what was found, if wished."""
    refuse_overlay(path, drawn)
    reading = read_card(path, sides)
    if drawn is not None:
        save_overlay(drawn, fling_overlay(reading))
    return reading


def card_as_dict(reading: FlingReading) -> dict[str, Any]:
    """Give a reading as plain JSON types; a refused one has null for every number."""
    accepted = reading.accepted
    by_area = {
        f"diameter_{100 * share:.0f}_by_area_mm": rounded(reading.diameter_by_area(share), "mm", 3)
        for share in SHARES
    }
    return {
        "accepted": accepted,
        "drops": reading.count,
        "fling_area_mm2": rounded(reading.fling_area, "mm²", 3),
        "fling_area_u_mm2": rounded(reading.fling_area_uncertainty, "mm²", 3),
        "covered_share": rounded(reading.share, "1", 5),
        **by_area,
        "smallest_drop_mm2": rounded(reading.smallest, "mm²", 3),
        "sizes": _sizes(reading) if accepted else None,
        "marks_left_out": reading.marks,
        "marks_area_mm2": rounded(reading.marks_area, "mm²", 3),
        "reason": reading.reason or None,
    }


def _sizes(reading: FlingReading) -> list[dict[str, Any]]:
    return [
        {
            "from_mm": to_shown(one.low, "mm"),
            "to_mm": to_shown(one.high, "mm") if one.high < 1 else None,
            "drops": one.count,
            "area_mm2": rounded(one.area, "mm²", 3),
        }
        for one in size_classes(reading.drop_areas)
    ]


def card_lines(reading: FlingReading) -> list[str]:
    """Tell a reading in lines."""
    if not reading.accepted or reading.fling_area is None or reading.share is None:
        return [f"not accepted: {reading.reason}"]
    area, uncertainty = (
        to_shown(reading.fling_area, "mm²"),
        to_shown(reading.fling_area_uncertainty or 0.0, "mm²"),
    )
    noun = "drop" if reading.count == 1 else "drops"
    share = f"{100 * reading.share:.2f} % of the card"
    lines = [f"{reading.count} {noun}, covered {area:.1f} mm² (u {uncertainty:.1f}), {share}"]
    tenth, half, nine = (reading.diameter_by_area(share) for share in SHARES)
    if tenth is not None and half is not None and nine is not None:
        counts = ", ".join(
            f"{to_shown(one.low, 'mm'):g} to {to_shown(one.high, 'mm'):g} mm: {one.count}"
            if one.high < 1
            else f"over {to_shown(one.low, 'mm'):g} mm: {one.count}"
            for one in size_classes(reading.drop_areas)
        )
        lines.append(
            f"half of the area in drops up to {to_shown(half, 'mm'):.2f} mm, "
            f"a tenth up to {to_shown(tenth, 'mm'):.2f}, "
            f"nine tenths up to {to_shown(nine, 'mm'):.2f}"
        )
        lines.append(f"drops by diameter: {counts}")
    return lines


def card_warnings(reading: FlingReading) -> list[str]:
    """Tell what else is on a card."""
    if not reading.accepted or not reading.marks:
        return []
    strokes = "1 stroke or fibre" if reading.marks == 1 else f"{reading.marks} strokes or fibres"
    area = f"{to_shown(reading.marks_area, 'mm²'):.1f} mm²"
    return [f"{strokes}, {area}, left out; their dots may count as drops: write on the back of a card"]


COLUMNS = 3
CELL = (400, 300)
"""Room for a picture [points]; the page shows it at half the size."""
STRIP = 30
"""Height of the strip with its name [points]."""
NAME_SIZE = 20
QUALITY = 80
"""Of the JPEG, from 1 to 95."""


@dataclass(frozen=True, slots=True)
class Named:
    """A picture and its name.

    Attributes
    ----------
    name : str
        What stands beside it.
    picture : array, shape (rows, columns, 3)
        The picture.
    """

    name: str
    picture: NDArray[np.uint8]


class Pictured(Protocol):
    """A run with its picture: what a sheet needs to name it."""

    @property
    def run_id(self) -> str:
        """The run."""

    @property
    def why_not(self) -> str:
        """Why its reading was refused; empty where it was not."""


Shown = TypeVar("Shown", bound=Pictured)


def picture_sheet(
    pictures: Sequence[Named],
    *,
    alt: str,
    label: str,
    caption: str,
    key: str,
    names_above: bool = False,
    columns: int = COLUMNS,
) -> str:
    """Put pictures on a sheet."""
    sheet = _drawn(pictures, names_above, columns)
    # Five in a row stand smaller on the page than three, so that a row is as wide.
    shrunk = 0.5 * COLUMNS / columns
    stream = io.BytesIO()
    sheet.save(stream, "JPEG", quality=QUALITY, optimize=True)
    source = base64.b64encode(stream.getvalue()).decode("ascii")
    # Read by the style of paper: what a sheet of fewer pictures takes of the width.
    share = Markup(' class="part" style="--share: {}%"').format(
        round(100 * _columns(len(pictures), columns) / columns)
    )
    image = Markup('<img alt="{}" width="{}" height="{}"{} src="{}">').format(
        alt, *(round(side * shrunk) for side in sheet.size), share, f"data:image/jpeg;base64,{source}"
    )
    told = caption_html("figure", caption, key=key)
    return (
        f'<figure class="figure"{told.attribute}><div class="card" role="group" tabindex="0" '
        f'aria-label="{label}">{image}</div><figcaption>{told.html}</figcaption></figure>'
    )


def named_pictures(seen: Iterable[Shown], draw: Callable[[Shown], NDArray[np.uint8] | None]) -> list[Named]:
    """Draw the pictures to show, each under its run's name, and whether its reading was refused."""
    pictures = ((one, draw(one)) for one in seen)
    return [
        Named(one.run_id if not one.why_not else f"{one.run_id}: not accepted", picture)
        for one, picture in pictures
        if picture is not None
    ]


def caption_with_rest(caption: str, left: int) -> str:
    """End a sheet's caption, with how many pictures are not on it.

    Examples
    --------
    >>> caption_with_rest("Scars as read", 0), caption_with_rest("Scars as read", 2)
    ('Scars as read.', 'Scars as read; 2 more are in the table only.')
    """
    return f"{caption}; {left} more are in the table only." if left else f"{caption}."


def _columns(pictures: int, most: int) -> int:
    """Give the pictures in a row, so that rows are filled alike."""
    return -(-pictures // -(-pictures // most))


def _drawn(pictures: Sequence[Named], names_above: bool, most: int) -> Image.Image:
    columns = _columns(len(pictures), most)
    rows = -(-len(pictures) // columns)
    strip = round(STRIP * most / COLUMNS)
    sheet = Image.new("RGB", (columns * CELL[0], rows * (CELL[1] + strip)), "white")
    draw, font = ImageDraw.Draw(sheet), ImageFont.load_default(size=round(NAME_SIZE * most / COLUMNS))
    for number, one in enumerate(pictures):
        x, y = number % columns * CELL[0], number // columns * (CELL[1] + strip)
        picture = Image.fromarray(shrunk(one.picture))
        sheet.paste(picture, (x + 4, y + strip if names_above else y))
        beside = y if names_above else y + picture.height
        draw.text((x + 6, beside + 3), said(one.name), fill="black", font=font)
    return sheet


def shrunk(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Make a picture as small as its place on a sheet; a smaller one stays as it is."""
    image = Image.fromarray(picture)
    image.thumbnail((CELL[0] - 8, CELL[1]), Image.Resampling.LANCZOS)
    return np.asarray(image, dtype=np.uint8)


SHOWN = 24
"""Most cards on the sheet; the table has all."""
APART = 0.1
"""Relative difference of a reading from what was typed that is pointed out."""
OUTLINE = 3
"""Thickness of outlines on the flat card, which the sheet shows at a third of its size [points]."""
HEAD = Markup("<h3>Fling on the cards</h3>")
METHOD = (
    "The card is laid flat by its corners, and the brightness of bare paper is fitted place by place. A "
    "drop is darker than that by 6 % or more; the edge is where darkening falls to half of that just inside. "
    "Thin strokes and fibres are left out; specks as large as drops count as drops. The area is no mass of "
    "oil: oils soak in differently, and some fly past the card."
)


def seen_html(seen: Sequence[CardSeen], *, with_method: bool = True, columns: int = COLUMNS) -> str:
    """Show readings of fling cards beside the typed areas."""
    parts = [finding(cards_sentence(seen)), *_sheet(seen, columns), _readings_table(seen)]
    parts += [method_note(METHOD)] if with_method else []
    return "\n".join(str(part) for part in parts)


def drawn(card: CardSeen) -> NDArray[np.uint8] | None:
    """Draw what was read on a fling card."""
    return None if card.reading is None else fling_overlay(card.reading, OUTLINE)


def _drawn_small(card: CardSeen) -> NDArray[np.uint8] | None:
    """Draw a card as small as the sheet shows it, or take it as drawn before."""
    reading = card.reading
    if reading is None:
        return None

    def draw() -> NDArray[np.uint8]:
        return shrunk(fling_overlay(reading, OUTLINE))

    # In another language drawing also notes what could not be said.
    return draw() if current_speaker() is not None else kept_result("fling card", (reading, OUTLINE), draw)


def cards_sentence(seen: Sequence[CardSeen]) -> str:
    """Tell how many cards were read, what they show, and how far that is from what was typed."""
    areas = [one.reading.fling_area for one in seen if one.reading and one.reading.fling_area is not None]
    noun = "fling card" if len(seen) == 1 else "fling cards"
    start = f"{len(areas)} of {len(seen)} {noun} could be read"
    if not areas:
        return f"{start}: see the reasons in the table."
    low, high = to_shown(min(areas), "mm²"), to_shown(max(areas), "mm²")
    ends = f"{low:.0f} mm²" if round(low) == round(high) else f"from {low:.0f} to {high:.0f} mm²"
    start += f"; drops cover {ends} of {'it' if len(areas) == 1 else 'each'}"
    apart = {one.run_id: abs(away) for one in seen if np.isfinite(away := one.apart)}
    if not apart:
        return f"{start}. No area was typed in to compare with."
    told = f"{start}. Of {len(apart)} with an area typed in, "
    far = [run_id for run_id, away in apart.items() if away > APART]
    if far:
        return f"{told}{len(far)} differ by more than {100 * APART:.0f} %: {', '.join(far)}."
    return f"{told}all agree within {100 * max(apart.values()):.1f} %."


def _sheet(seen: Sequence[CardSeen], columns: int) -> list[str]:
    shown = named_pictures(seen[:SHOWN], _drawn_small)
    if not shown:
        return []
    stroked = any(one.reading is not None and one.reading.marks for one in seen[:SHOWN])
    guessed = any(one.reading is not None and one.why_not for one in seen[:SHOWN])
    caption = (
        "Fling cards laid flat, their drops outlined in blue"
        f"{'; purple: strokes and fibres left out' if stroked else ''}"
        f"{'; orange: a guess that was not accepted' if guessed else ''}. The bar gives the scale"
    )
    told = caption_with_rest(caption, len(seen) - len(shown))
    alt = f"Contact sheet of {len(shown)} fling cards with their drops outlined. {cards_sentence(seen)}"
    label = "Contact sheet of fling cards"
    return [
        picture_sheet(
            shown, alt=alt, label=label, caption=told, key="fling-cards", names_above=True, columns=columns
        )
    ]


def _readings_table(seen: Sequence[CardSeen]) -> Markup:
    return table(
        [
            "Run",
            "Drops",
            ("Area, card", "mm²"),
            ("typed", "mm²"),
            ("Share", "%"),
            ("Median drop", "mm"),
            ("Drops, 10 to 90 %", "mm"),
            "Remark",
        ],
        [_row(one) for one in seen],
        caption="What drops cover on the fling cards, with standard uncertainties, beside what was typed in",
        key="fling-cards",
        number_columns=range(1, 7),
        row_classes=["flagged" if one.why_not else "" for one in seen],
        note="The evaluation uses the typed areas; pinscar gather fills blank ones from the cards. Standard "
        "uncertainty: where drops end and where the card's edges lie. Drops: "
        "diameters, weighted by area.",
        long=len(seen) > SHOWN // 2,
    )


def _row(one: CardSeen) -> list[str]:
    typed = f"{to_shown(one.typed, 'mm²'):.0f}" if np.isfinite(one.typed) else "blank"
    reading = one.reading
    if reading is None or reading.fling_area is None or reading.share is None:
        return [one.run_id, "not read", "not read", typed, "not read", "not read", "not read", one.why_not]
    tenth, half, nine = (reading.diameter_by_area(share) for share in (0.1, 0.5, 0.9))
    sizes = ["none", "none"]
    if tenth is not None and half is not None and nine is not None:
        sizes = [f"{to_shown(half, 'mm'):.1f}", f"{to_shown(tenth, 'mm'):.1f} to {to_shown(nine, 'mm'):.1f}"]
    remarks = ["differs"] if abs(one.apart) > APART else []
    if reading.marks:
        remarks.append(f"{reading.marks} stroke{'s' if reading.marks > 1 else ''} left out")
    return [
        one.run_id,
        str(reading.count),
        with_uncertainty(
            to_shown(reading.fling_area, "mm²"), to_shown(reading.fling_area_uncertainty or 0.0, "mm²")
        ),
        typed,
        f"{100 * reading.share:.1f}",
        *sizes,
        ", ".join(remarks) or "none",
    ]
