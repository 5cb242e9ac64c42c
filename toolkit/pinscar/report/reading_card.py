"""Photographs of fling cards from disk: read one, tell the result."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pinscar.campaign.card_size import card_size
from pinscar.campaign.quantities import FieldError
from pinscar.errors import UsageError
from pinscar.evidence.drop_sizes import size_classes
from pinscar.evidence.fling_card import FlingReading, read_fling_card
from pinscar.report.fling_overlay import fling_overlay
from pinscar.report.picture_file import read_picture, refuse_overlay, save_overlay, wrong_picture
from pinscar.report.reading_image import rounded

SHARES = (0.1, 0.5, 0.9)
"""Shares of the covered area whose diameters are told."""


def read_card_size(text: str) -> tuple[float, float]:
    """Read the size of a card from the command line.

    Parameters
    ----------
    text : str
        Such as ``150mm x 100mm``.

    Returns
    -------
    tuple of float and float
        Longer and shorter side [m].

    Raises
    ------
    UsageError
        If it is none.

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
    """Read the card on a photograph; save the card with what was found, if wished.

    Parameters
    ----------
    path : pathlib.Path
        The photograph.
    sides : tuple of float and float
        Longer and shorter side of the card [m].
    drawn : pathlib.Path, optional
        Where the overlay goes.

    Returns
    -------
    FlingReading
        The reading.

    Raises
    ------
    InputError
        If the photograph can't be read, or shows no such card.
    UsageError
        If the overlay would replace the picture, or can't be a picture.
    RunError
        If the overlay can't be written.
    """
    refuse_overlay(path, drawn)
    pixels = read_picture(path)
    try:
        reading = read_fling_card(pixels, *sides)
    except ValueError as error:
        mend = "photograph the whole card from straight above, on a dark sheet, in even light"
        raise wrong_picture(path, "picture-unfit", str(error), mend) from None
    if drawn is not None:
        save_overlay(drawn, fling_overlay(reading))
    return reading


def card_as_dict(reading: FlingReading) -> dict[str, Any]:
    """Give a reading as plain JSON types; a refused one has null for every number.

    Parameters
    ----------
    reading : FlingReading
        The reading.

    Returns
    -------
    dict
        What ``pinscar fling --json`` prints.
    """
    accepted = reading.accepted
    by_area = {
        f"diameter_{100 * share:.0f}_by_area_mm": rounded(reading.diameter_by_area(share), 1e3, 3)
        for share in SHARES
    }
    return {
        "accepted": accepted,
        "drops": reading.count,
        "fling_area_mm2": rounded(reading.fling_area, 1e6, 3),
        "fling_area_u_mm2": rounded(reading.fling_area_uncertainty, 1e6, 3),
        "covered_share": rounded(reading.share, 1.0, 5),
        **by_area,
        "smallest_drop_mm2": rounded(reading.smallest, 1e6, 3),
        "sizes": _sizes(reading) if accepted else None,
        "marks_left_out": reading.marks,
        "marks_area_mm2": rounded(reading.marks_area, 1e6, 3),
        "reason": reading.reason or None,
    }


def _sizes(reading: FlingReading) -> list[dict[str, Any]]:
    return [
        {
            "from_mm": one.low * 1e3,
            "to_mm": one.high * 1e3 if one.high < 1 else None,
            "drops": one.count,
            "area_mm2": rounded(one.area, 1e6, 3),
        }
        for one in size_classes(reading.drop_areas)
    ]


def card_lines(reading: FlingReading) -> list[str]:
    """Tell a reading in lines.

    Parameters
    ----------
    reading : FlingReading
        The reading.

    Returns
    -------
    list of str
        Number and area; diameters, if there are drops; what was left out, if anything. Or why it is refused.
    """
    if not reading.accepted or reading.fling_area is None or reading.share is None:
        return [f"not accepted: {reading.reason}"]
    area, uncertainty = reading.fling_area * 1e6, (reading.fling_area_uncertainty or 0.0) * 1e6
    noun = "drop" if reading.count == 1 else "drops"
    share = f"{100 * reading.share:.2f} % of the card"
    lines = [f"{reading.count} {noun}, covered {area:.1f} mm² (u {uncertainty:.1f}), {share}"]
    tenth, half, nine = (reading.diameter_by_area(share) for share in SHARES)
    if tenth is not None and half is not None and nine is not None:
        counts = ", ".join(
            f"{one.low * 1e3:g} to {one.high * 1e3:g} mm: {one.count}"
            if one.high < 1
            else f"over {one.low * 1e3:g} mm: {one.count}"
            for one in size_classes(reading.drop_areas)
        )
        lines.append(
            f"half of the area in drops up to {half * 1e3:.2f} mm, a tenth up to {tenth * 1e3:.2f}, "
            f"nine tenths up to {nine * 1e3:.2f}"
        )
        lines.append(f"drops by diameter: {counts}")
    return lines


def card_warnings(reading: FlingReading) -> list[str]:
    """Tell what else is on a card.

    Parameters
    ----------
    reading : FlingReading
        The reading.

    Returns
    -------
    list of str
        A warning of strokes and fibres, or none.
    """
    if not reading.accepted or not reading.marks:
        return []
    strokes = "1 stroke or fibre" if reading.marks == 1 else f"{reading.marks} strokes or fibres"
    area = f"{reading.marks_area * 1e6:.1f} mm²"
    return [f"{strokes}, {area}, left out; their dots may count as drops: write on the back of a card"]
