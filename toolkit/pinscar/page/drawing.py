"""Write the drawings of a page as PDF operators, straight from their SVG.

The PDF writer walks an SVG node by node, each with a cascade of its own, and spent a third of its time so.
The charts and formulas of a page are of few kinds of nodes, which say the same in both formats. A drawing
with anything else in it (a picture, a gradient, a transparent part, a round logo) is left to the PDF writer.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING
from xml.etree import ElementTree

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

Matrix = tuple[float, float, float, float, float, float]
Style = Mapping[str, str]

SVG = "{http://www.w3.org/2000/svg}"
_HREF = "{http://www.w3.org/1999/xlink}href"
_NUMBER = r"-?(?:\d+(?:\.\d*)?|\.\d+)"
_PATH = re.compile(rf"M(?:[MLQCZz]|{_NUMBER}|[ ,])*")
_STEP = re.compile(r"([MLQCZz])([^MLQCZz]*)")
_MOVE = re.compile(r"(translate|scale|rotate)\(([^()]*)\)")
_COLOUR = re.compile(r"#[0-9a-f]{6}")
_SIZE = re.compile(rf"({_NUMBER})(pt|px|)")
_PIXELS = MappingProxyType({"pt": 4 / 3, "px": 1.0, "": 1.0})
_POINTS = MappingProxyType({"M": 1, "L": 1, "Q": 2, "C": 3})
_CAPS = MappingProxyType({"butt": "0 J", "round": "1 J", "square": "2 J"})
_JOINS = MappingProxyType({"miter": "0 j", "round": "1 j", "bevel": "2 j"})
_SHEET = "*{stroke-linejoin:round;stroke-linecap:butt}"
_EVERYWHERE = MappingProxyType({"stroke-linejoin": "round", "stroke-linecap": "butt"})
_LOOK = frozenset(
    [
        "fill",
        "stroke",
        "stroke-width",
        "stroke-linecap",
        "stroke-linejoin",
        "stroke-dasharray",
        "stroke-dashoffset",
        "stroke-miterlimit",
    ]
)
_OWN = frozenset(["style", "transform", "clip-path", "id"])
_HELD = MappingProxyType(
    {
        "g": frozenset[str](),
        "defs": frozenset[str](),
        "path": frozenset(["d"]),
        "rect": frozenset(["x", "y", "width", "height"]),
        "use": frozenset(["x", "y", _HREF]),
        "clipPath": frozenset[str](),
    }
)
"""The nodes that are understood, and what each may say beside its look."""


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawing in PDF operators, in the SVG's own coordinates (y downwards).

    Attributes
    ----------
    width, height : float or None
        Size that the SVG asks for [CSS pixel].
    box : tuple of float
        Left, top, width and height of its view box.
    operators : bytes
        Content stream; it leaves the graphics state changed.
    """

    width: float | None
    height: float | None
    box: tuple[float, float, float, float]
    operators: bytes


class _UnknownError(Exception):
    """Something in a drawing that is not translated here."""


@dataclass(frozen=True, slots=True)
class _Sheet:
    named: Mapping[str, Element]
    everywhere: Style
    outlines: dict[str, str]


def drawing_of(svg: bytes) -> Drawing | None:
    r"""Translate an SVG; None where it holds anything beyond paths, boxes, uses and clips in plain colours.

    Examples
    --------
    >>> box = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 3"><path d="M1 2L8 2"/></svg>'
    >>> drawing_of(box).operators
    b'0 0 0 rg\n1 2 m\n8 2 l\nf'
    >>> drawing_of(box.replace(b"path", b"text")) is None
    True
    """
    try:
        root = ElementTree.fromstring(svg)
        return _drawing(root)
    except (_UnknownError, ElementTree.ParseError):
        return None


def _drawing(root: Element) -> Drawing:
    if root.tag != f"{SVG}svg" or root.attrib.keys() - {"viewBox", "width", "height", "version"}:
        raise _UnknownError
    left, top, width, height = _numbers(root.get("viewBox", ""), 4)
    if width <= 0 or height <= 0:
        raise _UnknownError
    sheets = [_without_blanks(node.text or "") for node in root.iter(f"{SVG}style")]
    if any(text != _SHEET for text in sheets):
        raise _UnknownError
    named = {name: node for node in root.iter() if (name := node.get("id")) is not None}
    sheet = _Sheet(named, _EVERYWHERE if sheets else {}, {})
    operators: list[str] = []
    state: dict[str, str] = {}
    for node in root:
        _draw(node, {}, state, operators, sheet)
    return Drawing(
        _pixels(root.get("width")),
        _pixels(root.get("height")),
        (left, top, width, height),
        "\n".join(operators).encode("ascii"),
    )


def _without_blanks(text: str) -> str:
    return re.sub(r"\s+", "", text).rstrip(";").replace(";}", "}")


def _draw(
    node: Element,
    above: Style,
    state: dict[str, str],
    operators: list[str],
    sheet: _Sheet,
    placed: Matrix | None = None,
) -> None:
    """Write a node and what it holds; a mirror of what it looks like is kept in the state."""
    kind = _kind(node)
    if kind in ("defs", "style", "clipPath"):
        return
    style = {**above, **sheet.everywhere, **_look(node)}
    matrix = _times(placed, _matrix(node.get("transform")))
    target = None
    if kind == "use":
        matrix = _times(matrix, (1.0, 0.0, 0.0, 1.0, *_corner(node)))
        target = _called(node, sheet)
    clip = node.get("clip-path")
    if target is not None and clip is None:  # one step for both: most are the letters of a text
        _draw(target, style, state, operators, sheet, matrix)
        return
    inner = state
    if matrix is not None or clip is not None:
        inner = dict(state)
        operators.append("q")
        operators += [] if matrix is None else [f"{' '.join(map(_short, matrix))} cm"]
        operators += [] if clip is None else [*_clip(clip, sheet), "W n"]
    if target is not None:
        _draw(target, style, inner, operators, sheet)
    elif kind == "g":
        for child in node:
            _draw(child, style, inner, operators, sheet)
    else:
        _paint(_outline(node, sheet), style, inner, operators)
    if inner is not state:
        operators.append("Q")


def _kind(node: Element) -> str:
    kind = str(node.tag).removeprefix(SVG)
    if kind == "style":
        return kind
    if kind not in _HELD or node.attrib.keys() - _HELD[kind] - _OWN - _LOOK:
        raise _UnknownError
    return kind


def _look(node: Element) -> dict[str, str]:
    look = {name: value for name, value in node.items() if name in _LOOK}
    for part in filter(None, map(str.strip, node.get("style", "").split(";"))):
        name, _, value = part.partition(":")
        if name.strip() not in _LOOK:
            if value.strip() == "1" and name.strip() in ("opacity", "fill-opacity", "stroke-opacity"):
                continue
            raise _UnknownError
        look[name.strip()] = value.strip()
    return look


def _called(use: Element, sheet: _Sheet) -> Element:
    target = sheet.named.get(use.get(_HREF, "").removeprefix("#"))
    if target is None or _kind(target) not in ("path", "rect"):  # so that no use leads back to itself
        raise _UnknownError
    return target


def _corner(node: Element) -> tuple[float, float]:
    return float(_plain(node.get("x", "0"))), float(_plain(node.get("y", "0")))


def _clip(value: str, sheet: _Sheet) -> list[str]:
    clip = sheet.named.get(value.removeprefix("url(#").removesuffix(")"))
    if clip is None or clip.tag != f"{SVG}clipPath" or len(clip) != 1 or clip[0].get("transform"):
        raise _UnknownError
    if clip.attrib.keys() != {"id"} or _kind(clip[0]) not in ("path", "rect"):
        raise _UnknownError
    return [_outline(clip[0], sheet)]


def _outline(node: Element, sheet: _Sheet) -> str:
    if node.tag == f"{SVG}rect":
        return " ".join([*(_plain(node.get(name, "0")) for name in ("x", "y", "width", "height")), "re"])
    path = node.get("d", "")
    if path not in sheet.outlines:
        sheet.outlines[path] = _path(path) if path.strip() else ""
    return sheet.outlines[path]


def _path(path: str) -> str:
    r"""Write path data in the operators of ISO 32000-2 section 8.5.2, which has no quadratic curve.

    Examples
    --------
    >>> _path("M0 0Q3 3 6 0z")
    '0 0 m\n2 2 4 2 6 0 c\nh'
    """
    if not _PATH.fullmatch(path):
        raise _UnknownError
    written: list[str] = []
    here = ["0", "0"]
    start = here
    for step, body in _STEP.findall(path):
        if step in "Zz":
            written.append("h")
            here = start
            continue
        numbers = body.replace(",", " ").split()
        size = 2 * _POINTS[step]
        if not numbers or len(numbers) % size:
            raise _UnknownError
        for place in range(0, len(numbers), size):
            points = numbers[place : place + size]
            if step == "Q":
                written.append(_cubic(here, points))
            else:
                letter = "l" if step == "M" and place else {"M": "m", "L": "l", "C": "c"}[step]
                written.append(f"{' '.join(points)} {letter}")
            here = points[-2:]
            start = here if step == "M" and not place else start
    return "\n".join(written)


def _cubic(here: list[str], points: list[str]) -> str:
    """Raise the degree of a quadratic curve."""
    x0, y0, x1, y1, x2, y2 = map(float, (*here, *points))
    inner = (x0 + 2 * x1) / 3, (y0 + 2 * y1) / 3, (x2 + 2 * x1) / 3, (y2 + 2 * y1) / 3
    return (
        f"{' '.join([f'{value:.2f}'.rstrip('0').rstrip('.') for value in inner])} {points[2]} {points[3]} c"
    )


def _paint(outline: str, style: Style, state: dict[str, str], operators: list[str]) -> None:
    """Fill and stroke an outline, after what the state lacks for it."""
    if not outline:
        return
    fill, stroke = style.get("fill", "#000000"), style.get("stroke", "none")
    width = _plain(style.get("stroke-width", "1"))
    wanted = {}
    if fill != "none":
        wanted["rg"] = f"{_colour(fill)} rg"
    drawn = stroke != "none" and float(width) > 0
    if drawn:
        wanted |= _line(stroke, width, style)
    for name, text in wanted.items():
        if state.get(name) != text:
            state[name] = text
            operators.append(text)
    painted = {(True, True): "B", (True, False): "f", (False, True): "S", (False, False): "n"}
    operators += [outline, painted[fill != "none", drawn]]


def _line(stroke: str, width: str, style: Style) -> dict[str, str]:
    dashes = style.get("stroke-dasharray", "none")
    lengths = [] if dashes == "none" else [_plain(text) for text in dashes.replace(",", " ").split()]
    if any(float(length) < 0 for length in lengths):
        raise _UnknownError
    pattern = " ".join(lengths) if any(map(float, lengths)) else ""
    offset = _plain(style.get("stroke-dashoffset", "0")) if pattern else "0"
    cap, join = style.get("stroke-linecap", "butt"), style.get("stroke-linejoin", "miter")
    if float(offset) < 0 or cap not in _CAPS or join not in _JOINS:
        raise _UnknownError
    return {
        "RG": f"{_colour(stroke)} RG",
        "w": f"{width} w",
        "J": _CAPS[cap],
        "j": _JOINS[join],
        "M": f"{_plain(style.get('stroke-miterlimit', '4'))} M",
        "d": f"[{pattern}] {offset} d",
    }


def _colour(name: str) -> str:
    if not _COLOUR.fullmatch(name.lower()):
        raise _UnknownError
    return " ".join(_short(int(name[place : place + 2], 16) / 255) for place in (1, 3, 5))


def _matrix(text: str | None) -> Matrix | None:
    if not text:
        return None
    if not text.strip() or _MOVE.sub("", text).strip():
        raise _UnknownError
    found: Matrix | None = None
    for kind, body in _MOVE.findall(text):
        found = _times(found, _move(kind, [float(_plain(word)) for word in body.replace(",", " ").split()]))
    return found


def _move(kind: str, numbers: list[float]) -> Matrix:
    if kind == "rotate" and len(numbers) == 1:
        turn = math.radians(numbers[0])
        return math.cos(turn), math.sin(turn), -math.sin(turn), math.cos(turn), 0.0, 0.0
    if kind == "rotate" or len(numbers) not in (1, 2):
        raise _UnknownError
    if kind == "translate":
        return 1.0, 0.0, 0.0, 1.0, numbers[0], numbers[1] if len(numbers) == 2 else 0.0
    return numbers[0], 0.0, 0.0, numbers[-1], 0.0, 0.0


def _times(outer: Matrix | None, inner: Matrix | None) -> Matrix | None:
    if outer is None or inner is None:
        return inner if outer is None else outer
    a, b, c, d, e, f = outer
    p, q, r, s, t, u = inner
    return a * p + c * q, b * p + d * q, a * r + c * s, b * r + d * s, a * t + c * u + e, b * t + d * u + f


def _numbers(text: str, count: int) -> Iterable[float]:
    words = text.replace(",", " ").split()
    if len(words) != count:
        raise _UnknownError
    return [float(_plain(word)) for word in words]


def _plain(word: str) -> str:
    """Pass a number on that PDF reads too: without unit and without exponent."""
    if not re.fullmatch(_NUMBER, word):
        raise _UnknownError
    return word


def _pixels(size: str | None) -> float | None:
    if size is None:
        return None
    match = _SIZE.fullmatch(size)
    if not match:
        raise _UnknownError
    return float(match[1]) * _PIXELS[match[2]]


def _short(value: float) -> str:
    return f"{value:.7f}".rstrip("0").rstrip(".") if value else "0"
