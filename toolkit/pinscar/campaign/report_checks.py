"""What ``[report]`` names and what it lacks: the logo, dates that contradict, what an issue needs."""

from __future__ import annotations

import datetime as dt
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

import pandas as pd

from pinscar.campaign.codes import Place, error
from pinscar.campaign.folder import is_absolute, is_outside, root_of
from pinscar.campaign.model import Campaign, CampaignFile, Lubricant
from pinscar.campaign.report_section import ReportSection, Sample
from pinscar.errors import Problem

LARGEST_PNG = 4 * 1024 * 1024
LARGEST_SVG = 256 * 1024
POINTS = 4_000_000
LEAST = 24
"""Fewest points of a side of a PNG: less is a smudge on paper."""
ELEMENTS = 5_000
SHAPES = (1.0 / 4.0, 12.0)
"""Height and width of a logo may differ by so much: least and most width over height."""

_SVG = "{http://www.w3.org/2000/svg}"
_DRAWN = frozenset((
    "svg", "g", "path", "rect", "circle", "ellipse", "line", "polyline", "polygon", "defs", "stop",
    "linearGradient", "radialGradient", "clipPath",
))  # fmt: skip
_SILENT = frozenset(("title", "desc", "metadata"))
"""Parts that draw nothing and are left out."""
_KEPT = frozenset((
    "id", "d", "x", "y", "x1", "y1", "x2", "y2", "cx", "cy", "r", "rx", "ry", "fx", "fy", "fr", "width",
    "height", "points", "viewBox", "transform", "fill", "fill-opacity", "fill-rule", "stroke", "offset",
    "stroke-width", "stroke-opacity", "stroke-linecap", "stroke-linejoin", "stroke-miterlimit",
    "stroke-dasharray", "stroke-dashoffset", "opacity", "stop-color", "stop-opacity", "gradientUnits",
    "gradientTransform", "spreadMethod", "clip-path", "clip-rule", "clipPathUnits", "style", "color",
    "preserveAspectRatio", "display", "visibility", "version",
))  # fmt: skip
_REFUSED = re.compile(r"url\((?!\s*['\"]?#[\w.-]+['\"]?\s*\))|@|\\|javascript:|expression|data:|/\*", re.I)
_NUMBER = re.compile(r"\s*(\d+(?:\.\d*)?|\.\d+)\s*(px|pt|pc|mm|cm|in)?\s*")


class LogoError(ValueError):
    """A logo that cannot be used.

    Attributes
    ----------
    message : str
        What is wrong, in one plain clause.
    mend : str
        What to do, in one plain clause.
    """

    def __init__(self, message: str, mend: str) -> None:
        super().__init__(message)
        self.message = message
        self.mend = mend


@dataclass(frozen=True, slots=True)
class Logo:
    """A picture that may be printed.

    Attributes
    ----------
    media : str
        Its media type.
    data : bytes
        The picture, written anew from what was checked.
    shape : float
        Width over height.
    """

    media: str
    data: bytes
    shape: float


def read_logo(path: Path) -> Logo:
    """Read a logo, and write it anew from its checked parts only."""
    ending = path.suffix.lower()
    if ending not in (".png", ".svg"):
        raise LogoError("a logo is a PNG or an SVG file", "save it as PNG or SVG")
    most = LARGEST_PNG if ending == ".png" else LARGEST_SVG
    try:
        with path.open("rb") as stream:
            data = stream.read(most + 1)
    except OSError:
        raise LogoError("there is no such file, or it cannot be opened", "check the name") from None
    if len(data) > most:
        raise LogoError(f"the file has more than {most // 1024} KiB", "save it smaller")
    logo = _png(data) if ending == ".png" else _svg(data)
    if not SHAPES[0] <= logo.shape <= SHAPES[1]:
        raise LogoError("it is too narrow or too wide to be printed in a letterhead", "cut it to the mark")
    return logo


def _png(data: bytes) -> Logo:
    from PIL import Image

    mend = "save it again as PNG"
    try:
        with Image.open(io.BytesIO(data), formats=("PNG",)) as picture:
            if picture.width * picture.height > POINTS:
                message = f"it has {picture.width} x {picture.height} points, and at most {POINTS:,} are read"
                raise LogoError(message, "save it smaller")
            if min(picture.size) < LEAST:
                message = f"it has {picture.width} x {picture.height} points, too few to be printed"
                raise LogoError(message, f"save it with {LEAST} points a side or more")
            plain = picture.convert("RGBA")
    except LogoError:
        raise
    except Exception:  # the library raises a dozen kinds on damaged pictures
        raise LogoError("this can't be read as a PNG picture", mend) from None
    drawn = Image.new("RGB", plain.size, "white")
    drawn.paste(plain, mask=plain.getchannel("A"))
    written = io.BytesIO()
    drawn.save(written, "PNG")
    return Logo("image/png", written.getvalue(), plain.width / plain.height)


def _svg(data: bytes) -> Logo:
    mend = "export it as plain SVG, with text as paths and without pictures, scripts and styles of its own"
    try:
        text = re.sub(r"<!DOCTYPE[^>\[]*>", "", data.decode("utf-8-sig"), count=1)
        if "<!DOCTYPE" in text or "<!ENTITY" in text:
            raise LogoError("it declares entities", mend)
        root = ElementTree.fromstring(text)
    except LogoError:
        raise
    except (ElementTree.ParseError, ValueError, LookupError):
        raise LogoError("this can't be read as SVG", mend) from None
    if root.tag != f"{_SVG}svg":
        raise LogoError("its outermost part is no svg of the SVG namespace", mend)
    if sum(1 for _ in root.iter()) > ELEMENTS:
        raise LogoError(f"it has more than {ELEMENTS:,} parts", "simplify it, or save it as PNG")
    kept = _checked(root, mend, 0)
    width, height = _size(root)
    kept.set("viewBox", root.get("viewBox") or f"0 0 {width:g} {height:g}")
    kept.set("width", f"{width:g}")
    kept.set("height", f"{height:g}")
    kept.set("xmlns", _SVG[1:-1])
    return Logo("image/svg+xml", ElementTree.tostring(kept), width / height)


def _checked(element: ElementTree.Element, mend: str, depth: int) -> ElementTree.Element:
    """Copy an element with the parts and attributes that only draw; refuse what could do anything else."""
    name = element.tag.removeprefix(_SVG)
    if depth > 50:
        raise LogoError("its parts are nested too deep", mend)
    kept = ElementTree.Element(name)
    for key, value in element.attrib.items():
        if key.lower().startswith("on") or key.rpartition("}")[2] == "href" or _REFUSED.search(value):
            raise LogoError(f"its <{name[:20]}> has {key.rpartition('}')[2][:20]}, which could act", mend)
        if key in _KEPT:
            kept.set(key, value)
    for part in element:
        if not isinstance(part.tag, str) or part.tag.removeprefix(_SVG) in _SILENT:
            continue
        if not part.tag.startswith(_SVG):
            continue  # what a drawing program notes for itself
        if part.tag.removeprefix(_SVG) not in _DRAWN:
            raise LogoError(f"it has a <{part.tag.removeprefix(_SVG)[:20]}>, which is not drawn here", mend)
        kept.append(_checked(part, mend, depth + 1))
    return kept


def _size(root: ElementTree.Element) -> tuple[float, float]:
    box = re.split(r"[\s,]+", (root.get("viewBox") or "").strip())
    try:
        sides = tuple(float(one) for one in box[2:4]) if len(box) == 4 else ()
    except ValueError:
        sides = ()
    if len(sides) != 2:
        found = [_NUMBER.fullmatch(root.get(key) or "") for key in ("width", "height")]
        sides = tuple(float(one[1]) for one in found if one)
    if len(sides) != 2 or not all(0.0 < side < 1e5 for side in sides):
        raise LogoError("it does not tell its size", "export it with width, height and viewBox")
    return sides[0], sides[1]


FILE = "campaign.toml"


def check_report(folder: Path, file: CampaignFile, runs: pd.DataFrame | None) -> list[Problem]:
    """Check what a report's head says."""
    return [*_logo(folder, file), *_dates(file, runs), *_revision(file)]


def _logo(folder: Path, file: CampaignFile) -> Iterator[Problem]:
    name = None if file.report is None else file.report.logo
    if name is None:
        return
    place: Place = {"column": "report.logo", "value": name}
    if is_absolute(name) or is_outside(folder / name, root_of(folder)):
        message = "the logo lies outside the campaign folder, and is not read"
        mend = "copy it into the folder, or name a folder around both: --root"
        yield error("logo-outside", FILE, message, mend, **place)
        return
    try:
        read_logo(folder / name)
    except LogoError as wrong:
        yield error("logo-unusable", FILE, f"the logo can't be used: {wrong.message}", wrong.mend, **place)


def days_of(runs: pd.DataFrame) -> list[dt.date]:
    """List the days of the included runs."""
    there = runs.loc[runs["excluded"] == "", "run_day"]
    return sorted({dt.date.fromisoformat(one) for one in there if one})


def _dates(file: CampaignFile, runs: pd.DataFrame | None) -> Iterator[Problem]:
    days = [] if runs is None else days_of(runs)
    issued = None if file.report is None else file.report.issued
    if issued and days and issued < days[-1]:
        message = f"the report is dated before the last run, {days[-1].isoformat()}"
        place: Place = {"column": "report.issued", "value": issued.isoformat()}
        yield error("report-date", FILE, message, "correct the one or the other", **place)
    for number, oil in enumerate(file.lubricants, start=1):
        sample = oil.sample
        if sample is None:
            continue
        column = f"lubricants[{number}].sample"
        if sample.taken and sample.received and sample.received < sample.taken:
            message = f"the sample was received before it was taken, {sample.taken.isoformat()}"
            yield _sample_dates(f"{column}.received", sample.received, message)
        own = [] if runs is None else days_of(runs[runs["lubricant"] == oil.id])
        if sample.received and own and own[0] < sample.received:
            message = f"the sample was received after the first run of {oil.id}, {own[0].isoformat()}"
            yield _sample_dates(f"{column}.received", sample.received, message)


def _sample_dates(column: str, day: dt.date, message: str) -> Problem:
    return error(
        "report-date", FILE, message, "correct the one or the other", column=column, value=day.isoformat()
    )


def _revision(file: CampaignFile) -> Iterator[Problem]:
    """Ask for what tells a report from the one that it replaces."""
    report = file.report
    if report is None or report.replaces is None:
        return
    if report.replaces == report.number and report.revision is None:
        message = "the report replaces one of the same number, and has no revision to be told from it"
        place: Place = {"column": "report.replaces", "value": report.replaces}
        yield error("report-replaces", FILE, message, "add a line such as revision = 2", **place)


@dataclass(frozen=True, slots=True)
class Missing:
    """Something that an issued report must say, and this campaign does not.

    Attributes
    ----------
    what : str
        What is missing, in a few words.
    clause : str
        The clause that asks for it, from memory.
    place : str
        The file and the section or column where it goes.
    mend : str
        What to write there.
    """

    what: str
    clause: str
    place: str
    mend: str

    def __str__(self) -> str:
        return f"missing in {self.place}: {self.what} (7.8.{self.clause}); {self.mend}"


_KEYS: tuple[tuple[str, str, str, str], ...] = (
    ("laboratory", "the laboratory", "2.1 b", 'laboratory = "..."'),
    ("address", "its address", "2.1 b", 'address = ["street", "town"]'),
    ("place", "the place of the tests", "2.1 c", 'place = "at the laboratory, bench 2"'),
    ("number", "the report's number", "2.1 d", 'number = "2026-014"'),
    ("customer", "the customer with an address", "2.1 e", 'customer = ["name", "street", "town"]'),
    ("method", "the method", "2.1 f", 'method = { document = "...", edition = "..." }'),
    ("issued", "the date of issue", "2.1 j", "issued = 2026-04-24"),
    ("sampling", "who took the samples, and how", "2.1 k", 'sampling = "by the customer"'),
    ("deviations", "how the runs departed from the method", "2.1 n", "deviations = [] if they did not"),
    ("approver", "who authorises the report", "2.1 o", 'approver = "name, function"'),
    ("external", "which results come from others", "2.1 p", "external = [] if none do"),
    ("supplied_by_customer", "what the customer supplied", "2.2", "supplied_by_customer = [] if nothing"),
)


def missing_for_issue(campaign: Campaign) -> list[Missing]:
    """List what is missing for a report that is issued to a customer."""
    file = campaign.file
    return [
        *_of_report(file.report or ReportSection()),
        *(one for oil in _tested(campaign) for one in _of_sample(oil)),
        *_of_runs(campaign),
        *_of_rig(file),
    ]


def _of_report(report: ReportSection) -> Iterator[Missing]:
    for key, what, clause, example in _KEYS:
        if getattr(report, key) is None:
            yield Missing(what, clause, "campaign.toml, [report]", f"add {example}")
    method = report.method
    for key, what in (("document", "the document of the method"), ("edition", "the edition of the method")):
        if method is not None and getattr(method, key) is None:
            yield Missing(what, "2.1 f", "campaign.toml, [report.method]", f'add {key} = "..."')
    if report.customer is not None and len(report.customer) < 2:
        yield Missing(
            "how to reach the customer", "2.1 e", "campaign.toml, [report]", "add a line to customer"
        )
    if report.revision not in (None, "0", "1") and report.replaces is None:
        what = f"which report revision {report.revision} replaces"
        yield Missing(what, "8.3", "campaign.toml, [report]", 'add replaces = "..."')
    if report.replaces is not None and report.reason is None:
        yield Missing("what was changed, and why", "8.1", "campaign.toml, [report]", 'add reason = "..."')


def _tested(campaign: Campaign) -> list[Lubricant]:
    """List the oils that were run, those that campaign.toml does not declare too."""
    declared = {one.id: one for one in campaign.file.lubricants}
    included = campaign.runs[campaign.runs["excluded"] == ""]
    return [declared.get(name) or Lubricant(id=name) for name in dict.fromkeys(included["lubricant"])]


def _of_sample(oil: Lubricant) -> Iterator[Missing]:
    sample = oil.sample or Sample()
    place = f"campaign.toml, sample of {oil.id}"
    if sample.description is None:
        yield Missing("a description", "2.1 g", place, 'add description = "..."')
    if sample.batch is None and oil.batch is None:
        yield Missing("the batch", "2.1 g", place, 'add batch = "..."')
    if sample.condition is None:
        yield Missing("the condition on receipt", "2.1 g", place, 'add condition = "sealed can, clear"')
    if sample.received is None:
        yield Missing("the day of receipt", "2.1 h", place, "add received = 2026-04-10")


def _of_runs(campaign: Campaign) -> Iterator[Missing]:
    runs = campaign.runs[campaign.runs["excluded"] == ""]
    undated = int((runs["run_day"] == "").sum())
    if undated:
        yield Missing(f"the day of {undated} runs", "2.1 i", "the table of runs, run_at", "fill it in")
    said = campaign.file.report is not None and campaign.file.report.environment is not None
    if not said and bool(runs["ambient_temperature"].isna().any()):
        mend = 'fill it in, or add environment = "..." to [report]'
        yield Missing(
            "the ambient temperature of every run", "3.1 a", "the table of runs, ambient_temperature", mend
        )


def _of_rig(file: CampaignFile) -> Iterator[Missing]:
    for key, example in (("load_uncertainty", '"1 %"'), ("reading_uncertainty", '"0.03 mm"')):
        if getattr(file.rig, key) is None:
            what = f"the {key.replace('_', ' ')}"
            yield Missing(what, "3.1 c", "campaign.toml, [rig]", f"add {key} = {example}")
