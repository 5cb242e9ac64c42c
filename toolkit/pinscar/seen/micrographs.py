"""The contact sheet of micrographs: each scar as read from its picture, beside what was typed in.

The scale of each run's micrograph: as typed, or from the bar on the picture; both are compared.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.campaign.campaign import Campaign
from pinscar.campaign.folder import evidence_by_run
from pinscar.campaign.table_text import Filling, Found, LeftBlank
from pinscar.errors import InputError
from pinscar.evidence.scale_bar import read_scale_bar
from pinscar.evidence.scar_image import ScarReading, measure_scar
from pinscar.page.markup import Markup, finding, method_note, table
from pinscar.seen.fling_cards import caption_with_rest, contact_sheet, named_pictures
from pinscar.seen.pictures import overlay, read_picture
from pinscar.wording import with_uncertainty

SCALES_APART = 0.02
"""Relative difference of a typed scale and that of the bar that is pointed out."""
NONE_GIVEN = "no micrograph_scale given, nor the length of a scale_bar on the picture"


@dataclass(frozen=True, slots=True)
class RunScale:
    """The scale of a run's micrograph.

    Parameters
    ----------
    size : float
        Size of one point, NaN where there is none [m].
    relative_uncertainty : float
        Its standard uncertainty; 0 of a typed one, whose uncertainty is unknown [1].
    typed : float
        The typed size, NaN where blank [m].
    by_bar : float
        The size by the bar, NaN where there is no bar or it was not read [m].
    why_not : str
        Why the bar was not read, or why there is no scale; empty otherwise.
    """

    size: float
    relative_uncertainty: float
    typed: float
    by_bar: float
    why_not: str

    @property
    def from_bar(self) -> bool:
        """Whether the bar's scale is used."""
        return bool(np.isnan(self.typed) and self.by_bar > 0)

    @property
    def apart(self) -> float:
        """How far the typed size is from the bar's, as a share of it; NaN where one of them is missing."""
        return self.typed / self.by_bar - 1


def scale_of_run(pixels: NDArray[np.generic], typed: float, bar: float) -> RunScale:
    """Choose the scale of a micrograph; a typed one goes before the bar's.

    Parameters
    ----------
    pixels : array
        The picture.
    typed : float
        Size of one point as typed, NaN where blank [m].
    bar : float
        Length of the bar on the picture, NaN where blank [m].

    Returns
    -------
    RunScale
        The scale, or why there is none.
    """
    if not bar > 0:
        return RunScale(typed, 0.0, typed, np.nan, "" if typed > 0 else NONE_GIVEN)
    try:
        found = read_scale_bar(pixels, bar)
    except ValueError as error:
        return RunScale(typed, 0.0, typed, np.nan, f"its scale bar was not read: {error}")
    if typed > 0:
        return RunScale(typed, 0.0, typed, found.scale, "")
    return RunScale(found.scale, found.relative_uncertainty, typed, found.scale, "")


def scale_sentences(scales: dict[str, RunScale]) -> list[str]:
    """Tell which scales come from bars, which bars were not read, and where typed scale and bar disagree.

    Parameters
    ----------
    scales : dict of str to RunScale
        By run.

    Returns
    -------
    list of str
        Sentences; none where no run has a bar.
    """
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
                f"{run}: the typed scale, {scale.typed * 1e6:.4g} um/px, is {100 * abs(scale.apart):.1f} % "
                f"{'above' if scale.apart > 0 else 'below'} that of the bar on the picture, "
                f"{scale.by_bar * 1e6:.4g} um/px. The typed one is used; one of them is wrong."
            )
        elif scale.why_not and scale.typed > 0:
            told.append(f"{run}: {scale.why_not}. The typed scale is used.")
    return told


def scale_fillings(folder: Path, runs: pd.DataFrame) -> Iterator[Found]:
    """Read the scale from the bar on the micrograph of each run that names its length and no scale.

    Parameters
    ----------
    folder : pathlib.Path
        The campaign folder.
    runs : pandas.DataFrame
        The included runs, SI units.

    Returns
    -------
    iterator of Filling or LeftBlank
        The size of a point, or why there is none.
    """
    files = evidence_by_run(folder, "micrographs")
    for run in runs.to_dict("records"):
        file, bar = files.get(run["run_id"]), float(run["scale_bar"])
        if file is None or np.isnan(bar):
            continue
        if not pd.isna(run["micrograph_scale"]):
            yield LeftBlank(run["run_id"], "micrograph_scale", file, "typed")
            continue
        try:
            found = scale_of_run(read_picture(folder / file), np.nan, bar)
        except InputError as error:
            yield LeftBlank(run["run_id"], "micrograph_scale", file, error.problems[0].message)
            continue
        if found.from_bar:
            source = f"scale bar on {file}"
            yield Filling(run["row"], run["run_id"], "micrograph_scale", found.size, source)
        else:
            yield LeftBlank(run["run_id"], "micrograph_scale", file, found.why_not)


def with_scales(runs: pd.DataFrame, fillings: list[Filling]) -> pd.DataFrame:
    """Put scales read from bars into the runs, so that their scars can be read in the same pass.

    Parameters
    ----------
    runs : pandas.DataFrame
        The runs.
    fillings : list of Filling
        Scales of runs in which it is blank.

    Returns
    -------
    pandas.DataFrame
        A copy with the scales.
    """
    found = runs["run_id"].map({one.run_id: one.value for one in fillings})
    return runs.assign(micrograph_scale=runs["micrograph_scale"].fillna(found.astype(float)))


SHOWN = 24
"""Most pictures on the sheet; the table has all."""
APART = 0.05
"""Relative difference of a reading from what was typed that is pointed out."""
METHOD = (
    "The oval is looked for in brightness and in the direction of scratches; its outline is traced to a "
    "fraction of a "
    "point of the picture, and an ellipse of least distance is fitted, outliers left out. The area "
    "counts the points "
    "inside the traced outline. A reading whose outline is hardly seen, ragged or cut off is refused."
)


@dataclass(frozen=True, slots=True)
class RunSeen:
    """A run with its picture.

    Parameters
    ----------
    run_id : str
        The run.
    typed : tuple of float
        Scar length and width as typed, NaN where blank [m].
    reading : ScarReading or None
        What was read; None where that was impossible.
    why_not : str
        Why there is no accepted reading; empty where there is one.
    picture : array or None
        The picture with the reading drawn on it.
    scale : RunScale or None
        The scale used; None where the picture could not be read.
    """

    run_id: str
    typed: tuple[float, float]
    reading: ScarReading | None
    why_not: str
    picture: NDArray[np.uint8] | None
    scale: RunScale | None = None


def micrographs_html(campaign: Campaign, runs: pd.DataFrame) -> str:
    """Read every micrograph and show the readings beside the typed axes.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    runs : pandas.DataFrame
        Its runs.

    Returns
    -------
    str
        HTML: a sentence, the contact sheet and a table; a sentence alone where there are no micrographs.
    """
    return seen_html(runs_seen(campaign.folder, runs))


def seen_html(seen: list[RunSeen]) -> str:
    """Show readings of micrographs beside the typed axes.

    Parameters
    ----------
    seen : list of RunSeen
        The runs with pictures.

    Returns
    -------
    str
        HTML: a sentence, the contact sheet and a table; a sentence alone where there are no pictures.
    """
    if not seen:
        return finding("No micrographs are in the campaign folder: the scar axes are those typed in.")
    told = scale_sentences({run.run_id: run.scale for run in seen if run.scale is not None})
    words = [Markup("<p>{}</p>").format(sentence) for sentence in told]
    parts = [finding(sheet_sentence(seen)), *words, *_sheet(seen), _readings_table(seen), method_note(METHOD)]
    return "\n".join(str(part) for part in parts)


def runs_seen(folder: Path, runs: pd.DataFrame) -> list[RunSeen]:
    """Read the micrographs of a campaign.

    Parameters
    ----------
    folder : pathlib.Path
        The campaign folder.
    runs : pandas.DataFrame
        The runs.

    Returns
    -------
    list of RunSeen
        One for each run with a picture, in the order of the runs.
    """
    files = evidence_by_run(folder, "micrographs")
    records = runs.to_dict("records")
    return [
        _seen(folder / files[run["run_id"]], run, len(files) <= SHOWN or number < SHOWN)
        for number, run in enumerate(run for run in records if run["run_id"] in files)
    ]


def _seen(path: Path, run: Mapping[Any, Any], drawn: bool) -> RunSeen:
    run_id, typed = str(run["run_id"]), (float(run["scar_length"]), float(run["scar_width"]))
    size, bar = (float(run.get(name, np.nan)) for name in ("micrograph_scale", "scale_bar"))
    scale = None
    try:
        pixels = read_picture(path)
        scale = scale_of_run(pixels, size, bar)
        if not scale.size > 0:
            return RunSeen(run_id, typed, None, scale.why_not, None, scale)
        reading = measure_scar(pixels, scale.size, scale.relative_uncertainty)
    except InputError as error:
        return RunSeen(run_id, typed, None, error.problems[0].message, None)
    except ValueError as error:
        return RunSeen(run_id, typed, None, str(error), None, scale)
    picture = overlay(pixels, reading, scale.size) if drawn else None
    return RunSeen(run_id, typed, reading, reading.reason, picture, scale)


def sheet_sentence(seen: list[RunSeen]) -> str:
    """Tell how many pictures were read and how far the readings are from the typed axes.

    Parameters
    ----------
    seen : list of RunSeen
        The runs with pictures.

    Returns
    -------
    str
        One or two sentences.
    """
    read = [run for run in seen if not run.why_not]
    start = f"{len(read)} of {len(seen)} micrographs were read automatically"
    apart = [abs(away) for run in read for away in _differences(run) if np.isfinite(away)]
    if not apart:
        return f"{start}."
    far = [run.run_id for run in read if max(map(abs, _known(_differences(run))), default=0.0) > APART]
    told = f"; half of the axes lie within {100 * float(np.median(apart)):.1f} % of what was typed"
    if far:
        return f"{start}{told}. More than {100 * APART:.0f} % apart: {', '.join(far)}."
    return f"{start}{told}, all within {100 * max(apart):.1f} %."


def _differences(run: RunSeen) -> tuple[float, float]:
    reading = run.reading
    if reading is None or reading.length is None or reading.width is None:
        return (np.nan, np.nan)
    return (reading.length / run.typed[0] - 1, reading.width / run.typed[1] - 1)


def _known(values: tuple[float, ...]) -> list[float]:
    return [value for value in values if np.isfinite(value)]


def _sheet(seen: list[RunSeen]) -> list[str]:
    shown = named_pictures(seen)
    if not shown:
        return []
    caption = (
        "Scars as read from their pictures: traced outline blue (left out of the fit: red), axes white; "
        "yellow and dashed: a guess that was not accepted. The bar gives the scale"
    )
    told = caption_with_rest(caption, len(seen) - len(shown))
    alt = f"Contact sheet of {len(shown)} micrographs with the outline of each scar. {sheet_sentence(seen)}"
    return [contact_sheet(shown, alt=alt, label="Contact sheet", caption=told, key="micrographs")]


def _readings_table(seen: list[RunSeen]) -> Markup:
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
        "of the scale only where it comes from a bar. A reading with a score under 0.5 is not accepted.",
        long=len(seen) > SHOWN // 2,
    )


def _row(run: RunSeen) -> list[str]:
    reading = run.reading
    score = "none" if reading is None else f"{reading.score:.2f}"
    typed = [f"{value * 1e3:.2f}" if np.isfinite(value) else "not measured" for value in run.typed]
    if reading is None or reading.length is None or reading.width is None or reading.area is None:
        return [run.run_id, "not read", typed[0], "not read", typed[1], "not read", score, run.why_not]
    remark = "differs" if max(map(abs, _known(_differences(run))), default=0.0) > APART else "none"
    return [
        run.run_id,
        with_uncertainty(reading.length * 1e3, (reading.length_uncertainty or 0.0) * 1e3),
        typed[0],
        with_uncertainty(reading.width * 1e3, (reading.width_uncertainty or 0.0) * 1e3),
        typed[1],
        f"{reading.area * 1e6:.2f}",
        score,
        remark,
    ]
