"""A laboratory's logo: PNG or SVG from the campaign folder, bounded in size, with nothing in it that acts."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

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
