"""Keep a number with its unit, and n with its count, on one line."""

from __future__ import annotations

import re

_NBSP = "\N{NO-BREAK SPACE}"
_UNIT = re.compile(r"(?<=\d) (?=(?:%|°C|N|MPa|GPa|mm²|mm³|mm|µm|m/s|s|K|mg|W|rpm|runs?|oils?)(?![\w/]))")
_COUNT = re.compile(r"\b(n|p) (=|<) (?=\d)")
_TEXT = re.compile(r">[^<]+<")


def tie_units(html: str) -> str:
    """Put no-break spaces between numbers and units in the text of an HTML fragment; tags stay as they are.

    Parameters
    ----------
    html : str
        HTML.

    Returns
    -------
    str
        The same with ties.

    Examples
    --------
    >>> tie_units("<p title='6 N'>at 450 N, n = 6</p>").replace(chr(160), "~")
    "<p title='6 N'>at 450~N, n~=~6</p>"
    """
    return _TEXT.sub(lambda match: _tie(match[0]), html)


def _tie(text: str) -> str:
    return _COUNT.sub(rf"\1{_NBSP}\2{_NBSP}", _UNIT.sub(_NBSP, text))
