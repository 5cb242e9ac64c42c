"""What `pinscar gather --review` writes: a sheet of all readings, each drawn over its evidence."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pinscar.bench.gather import (
    checked_table,
    readable_traces,
    scale_fillings,
    with_scales,
)
from pinscar.bench.gather_traces import step_starts, warmings_of
from pinscar.bench.review_recordings import heard_cards, warmed_cards
from pinscar.bench.review_sheet import Card, picture_address, sheet_html
from pinscar.campaign.campaign import read_settings
from pinscar.campaign.columns import RUNS
from pinscar.campaign.folder import evidence_by_run
from pinscar.campaign.frames import read_frame
from pinscar.campaign.table_text import Filling, read_runs_table
from pinscar.decision.evidence import NO_BOUND, RunSeen, largest_scar, see_card, see_scar
from pinscar.decision.media import read_picture
from pinscar.errors import InputError
from pinscar.evidence.grey import grey
from pinscar.press.files import cannot_write, put_file
from pinscar.seen.cards import fling_overlay
from pinscar.seen.pictures import overlay
from pinscar.shown import to_shown

NAME = "gather_review.html"
"""The sheet, in the campaign folder."""


def review_readings(folder: Path) -> tuple[Path, int]:
    """Write the sheet of all readings of included runs, and tell how many are on it."""
    runs = read_frame(read_runs_table(folder, checked_table(folder)), RUNS).frame
    runs = runs[runs["excluded"] == ""]
    scales = [one for one in scale_fillings(folder, runs) if isinstance(one, Filling)]
    scaled = with_scales(runs, scales)
    sides = read_settings(folder).rig.fling_card if evidence_by_run(folder, "fling") else None
    traces, wrong = readable_traces(folder, runs)
    shown = [*scar_cards(folder, scaled), *fling_cards(folder, scaled, sides), *heard_cards(folder, runs)]
    shown += warmed_cards(runs, traces, warmings_of(runs, traces, wrong, step_starts(folder)), wrong)
    shown.sort(key=lambda one: (one.order, one.title))
    path = folder / NAME
    try:
        put_file(path, sheet_html(shown, read_settings(folder).campaign.id).encode("utf-8"))
    except OSError as error:
        raise cannot_write(folder, error) from error
    return path, len(shown)


def scar_cards(folder: Path, runs: pd.DataFrame) -> Iterator[Card]:
    """Give a card for each micrograph, with the outline found drawn on it."""
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
        return Card(title, -1.0, picture_address(_as_it_is(path)), (), seen.why_not)
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
    drawn = picture_address(overlay(seen.pixels, reading, seen.scale.size))
    return Card(title, reading.score if reading.accepted else -0.5, drawn, tuple(lines), seen.why_not)


def fling_cards(folder: Path, runs: pd.DataFrame, sides: tuple[float, float] | None) -> Iterator[Card]:
    """Give a card for each picture of a fling card, with the drops found drawn on it."""
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
            image = picture_address(_as_it_is(folder / files[run["run_id"]]))
            yield Card(title, -1.0, image, tuple(lines), seen.why_not)
            continue
        area, u = (to_shown(one, "mm²") for one in (reading.fling_area, reading.fling_area_uncertainty))
        apart = f"; {said} ({100 * (reading.fling_area / typed - 1.0):+.1f} %)" if said and typed else ""
        lines = [("Drops", str(reading.count)), ("Area", f"{area:.1f} mm², u {u:.1f} mm²{apart}")]
        image = picture_address(fling_overlay(reading))
        yield Card(title, 1.0 - u / area if area else 1.0, image, tuple(lines), seen.why_not)
