"""Formulas in TeX as small SVG images, by matplotlib's mathtext, with words for those who hear the page.

No MathML, because the PDF writer does not read it. The face is the serif one that matplotlib ships:
quantities stand out from words in sans text, and ISO 80000-1 sets them in italic type.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np
from markupsafe import Markup

from pinscar.decision.kept_results import kept_result
from pinscar.page import fonts
from pinscar.page.style import INK, MUTED

if TYPE_CHECKING:
    from matplotlib.path import Path as Outline
    from numpy.typing import NDArray


_TOKEN = re.compile(r"\\[A-Za-z]+|\\.|\d+(?:\.\d+)?|\S")
_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "=": "equals",
        "+": "plus",
        "-": "minus",
        "/": "over",
        "<": "is less than",
        ">": "is greater than",
        "\\le": "is at most",
        "\\leq": "is at most",
        "\\ge": "is at least",
        "\\geq": "is at least",
        "\\approx": "is about",
        "\\sim": "goes as",
        "\\propto": "is proportional to",
        "\\pm": "plus or minus",
        "\\cdot": "times",
        "\\times": "times",
        "\\int": "integral of",
        "\\sum": "sum of",
        "\\infty": "infinity",
        "\\sin": "sine of",
        "\\cos": "cosine of",
        "\\tan": "tangent of",
        "\\ln": "natural logarithm of",
        "\\log": "logarithm of",
        "\\exp": "exponential of",
        "\\ldots": "and so on",
        "\\%": "percent",
        "'": "prime",
    }
)
_SILENT = frozenset(
    ["\\left", "\\right", "\\,", "\\;", "\\:", "\\!", "\\ ", "\\quad", "\\qquad", "\\big", "\\Big"]
)
_AFTER = MappingProxyType(
    {"\\bar": "bar", "\\hat": "hat", "\\overline": "bar", "\\dot": "dot", "\\tilde": "tilde"}
)
_UPRIGHT = frozenset(["\\mathrm", "\\text", "\\mathit", "\\mathbf", "\\operatorname"])
_POWERS = MappingProxyType({"2": "squared", "3": "cubed", "prime": "prime"})
_SIGNS = frozenset("=+-/<>") | {name for name in _WORDS if name.startswith("\\")}


def formula_words(tex: str) -> str:
    r"""Return a formula in words.

    Examples
    --------
    >>> formula_words(r"A = \frac{\pi}{4} L\,W")
    'A equals (pi over 4) L W'
    >>> formula_words(r"s = \sqrt{s_{runs}^2 + s_r^2}")
    's equals square root of (s sub runs squared plus s sub r squared)'
    """
    return " ".join(_said(_TOKEN.findall(tex))).replace("( ", "(").replace(" )", ")").replace(" ,", ",")


def _said(tokens: list[str]) -> list[str]:
    words: list[str] = []
    while tokens:
        words += _one(tokens)
    return words


def _one(tokens: list[str]) -> list[str]:
    """Take one thing off the front of the tokens and say it."""
    token = tokens.pop(0)
    if token == "{":
        return _said(_inside(tokens))
    if token in ("\\frac", "\\dfrac"):
        words = [*_bracketed(_group(tokens)), "over", *_bracketed(_group(tokens))]
        return ["(", *words, ")"] if _goes_on(tokens) else words
    if token == "\\sqrt":
        return ["square root of", *_bracketed(_group(tokens))]
    if token in _AFTER:
        words = _said(_group(tokens))
        return [*(words if len(words) == 1 else ["(", *words, ")"]), _AFTER[token]]
    if token in _UPRIGHT:
        return ["".join(_group(tokens))]
    if token == "_":
        return ["sub", *_named(_group(tokens))]
    if token == "^":
        return _power(_said(_group(tokens)))
    return [] if token in _SILENT else [_WORDS.get(token, token.lstrip("\\"))]


def _goes_on(tokens: list[str]) -> bool:
    """Say whether a factor follows, to which a fraction would run on when heard."""
    following = [token for token in tokens if token not in _SILENT]
    return bool(following) and following[0] not in _SIGNS | {")", ","}


def _group(tokens: list[str]) -> list[str]:
    """Take what stands in braces off the front, or one token."""
    if not tokens:
        return []
    token = tokens.pop(0)
    if token in _UPRIGHT:
        return _group(tokens)
    return _inside(tokens) if token == "{" else [token]


def _inside(tokens: list[str]) -> list[str]:
    """Take what stands before the closing brace off the front, and the brace."""
    depth, taken = 1, []
    while tokens:
        token = tokens.pop(0)
        depth += (token == "{") - (token == "}")
        if depth == 0:
            break
        taken.append(token)
    return taken


def _bracketed(tokens: list[str]) -> list[str]:
    compound = any(token in _SIGNS for token in tokens)
    words = _said(list(tokens))
    return ["(", *words, ")"] if compound else words


def _named(tokens: list[str]) -> list[str]:
    """Say an index: letters in a row are a word there."""
    return ["".join(tokens)] if all(token.isalnum() for token in tokens) else _bracketed(tokens)


def _power(words: list[str]) -> list[str]:
    said = " ".join(words)
    return [_POWERS.get(said, f"to the power {said}" if len(words) == 1 else f"to the power ({said})")]


_UNITS_PER_EM = 100.0
_INLINE_SCALE = 1.1  # brings the x-height of the mathematical face up to that of the text face
_DISPLAY_SCALE = 1.2
_MARGIN = 2.0  # keeps the edge of a glyph from being cut off by rounding
# matplotlib's path codes, the SVG command of each and the number of points it takes.
_CLOSE = 79
_COMMANDS = MappingProxyType({1: "M", 2: "L", 3: "Q", 4: "C", _CLOSE: "Z"})
_POINTS = MappingProxyType({1: 1, 2: 1, 3: 2, 4: 3, _CLOSE: 1})

# A dollar sign opens a formula only where no blank follows it, closes it only where no blank stands before
# it and no figure after it ("$5 and $6" stays money); code is never searched.
_SEARCHED = re.compile(
    r"(?P<code>```.*?```|~~~.*?~~~|`[^`\n]+`)|(?P<escaped>\\\$)|\$\$(?P<display>.+?)\$\$|\$(?P<inline>(?!\s)[^$\n`]+?(?<![\s\\]))\$(?!\d)",
    re.DOTALL,
)

_NOTE = re.compile(r'<p class="(?:method|note)">.*?</p>', re.DOTALL)
_FORMULA = re.compile(
    r'(?P<head><img class="formula"[^>]*src="data:image/svg\+xml;base64,)(?P<data>[A-Za-z0-9+/=]+)'
)


def formula_html(tex: str, *, display: bool = False, alt: str | None = None) -> Markup:
    """Return a formula as an image that sits on the text's baseline and grows with the text.

    Examples
    --------
    >>> formula_html("p = F / A")[:44]
    Markup('<img class="formula" alt="p equals F over A"')
    """
    svg, width, height, depth = _svg(" ".join(tex.split()), display)
    data = base64.b64encode(svg.encode("utf-8")).decode("ascii")
    image = Markup(
        '<img class="formula" alt="{}" style="width:{}em;height:{}em;vertical-align:{}em" '
        'src="data:image/svg+xml;base64,{}">'
    ).format(alt or formula_words(tex), _short(width), _short(height), _short(-depth), data)
    return Markup('<div class="formula">{}</div>').format(image) if display else image


@cache  # the notes on method are wanted once for each section, to number them
def replace_formulas(markdown: str) -> str:
    """Replace ``$...$`` and ``$$...$$`` in a Markdown text by images; code spans and blocks are left alone.

    Examples
    --------
    >>> replace_formulas("costs $5, not $6, and `$x$` is code")
    'costs $5, not $6, and `$x$` is code'
    >>> replace_formulas("the load $F$").startswith('the load <img class="formula" alt="F"')
    True
    """
    if "$" not in markdown:
        return markdown
    # All of them: the first that is set waits for the whole setting of mathematics.
    return kept_result("formulas", markdown, lambda: _SEARCHED.sub(_replacement, markdown), shortest=0.0)


def mute_formulas(html: str) -> str:
    """Give the formulas in notes the muted ink of the text around them.

    Examples
    --------
    >>> note = f'<p class="note">the load {formula_html("F")}</p>'
    >>> mute_formulas(note) != note, mute_formulas(note[16:]) == note[16:]
    (True, True)
    """
    return _NOTE.sub(lambda note: _FORMULA.sub(_muted, note[0]), html)


def _muted(match: re.Match[str]) -> str:
    svg = base64.b64decode(match["data"]).replace(f'fill="{INK}"'.encode(), f'fill="{MUTED}"'.encode())
    return match["head"] + base64.b64encode(svg).decode("ascii")


def _replacement(match: re.Match[str]) -> str:
    if match["code"] is not None:
        return match["code"]
    if match["escaped"] is not None:
        return "$"
    if match["display"] is not None:
        return f"\n\n{formula_html(match['display'], display=True)}\n\n"
    return str(formula_html(match["inline"]))


@cache
def _svg(tex: str, display: bool) -> tuple[str, float, float, float]:
    """Return the SVG text, and its width, height and depth below the baseline [em of the text around]."""
    outline, width, height, depth = _outline(_displayed(tex) if display else tex)
    box_width, box_height = width + 2 * _MARGIN, height + 2 * _MARGIN
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_short(box_width)} {_short(box_height)}">'
        f'<path fill="{INK}" d="{_path_data(outline, height - depth + _MARGIN)}"/></svg>'
    )
    em = (_DISPLAY_SCALE if display else _INLINE_SCALE) / _UNITS_PER_EM
    return svg, box_width * em, box_height * em, (depth + _MARGIN) * em


def _outline(tex: str) -> tuple[Outline, float, float, float]:
    import matplotlib
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath, text_to_path

    with matplotlib.rc_context({"mathtext.fontset": "stix", "text.usetex": False}):
        face = FontProperties(family=fonts.register_with_matplotlib(), size=_UNITS_PER_EM)
        try:
            outline = TextPath((0, 0), f"${tex}$", size=_UNITS_PER_EM, prop=face)
            width, height, depth = text_to_path.get_text_width_height_descent(f"${tex}$", face, ismath=True)
        except (ValueError, RuntimeError) as error:
            reason = str(error).strip().splitlines()[-1]
            raise ValueError(f"the formula {tex!r} cannot be set: {reason}") from error
    return outline, float(width), float(height), float(depth)


def _displayed(tex: str) -> str:
    r"""Turn fractions that stand outside all braces into display size, as TeX does in a displayed formula."""
    depth, parts = 0, []
    for token in re.findall(r"\\[A-Za-z]+|\\.|.", tex):
        depth += (token == "{") - (token == "}")
        parts.append(r"\dfrac" if token == r"\frac" and depth == 0 else token)
    return "".join(parts)


def _path_data(outline: Outline, baseline: float) -> str:
    """Write the outline as SVG path data, with the y axis turned downwards."""
    codes, vertices = np.asarray(outline.codes), np.asarray(outline.vertices)
    parts: list[str] = []
    i = 0
    while i < len(codes):
        code = int(codes[i])
        points = vertices[i : i + _POINTS[code]] if code != _CLOSE else vertices[:0]
        parts.append(_COMMANDS[code] + _points(points, baseline))
        i += _POINTS[code]
    return "".join(parts)


def _points(points: NDArray[np.float64], baseline: float) -> str:
    return " ".join(f"{_short(float(x) + _MARGIN)} {_short(baseline - float(y))}" for x, y in points)


def _short(value: float) -> str:
    return f"{round(value, 3) + 0.0:.3f}".rstrip("0").rstrip(".")  # + 0.0 turns -0.0 into 0.0
