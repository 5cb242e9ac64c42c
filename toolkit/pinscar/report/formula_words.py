r"""Say a formula in words, for those who hear the page: ``\frac{F}{A}`` is "F over A"."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

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

    Parameters
    ----------
    tex : str
        The formula in TeX, without dollar signs.

    Returns
    -------
    str
        What a person would read aloud; brackets stay where they are needed to tell what belongs together.

    References
    ----------
    WCAG 2.2, success criterion 1.1.1 (text alternative). The wording is our own.

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
