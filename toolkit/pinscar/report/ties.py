"""Keep a number with its unit, n with its count, and the name of an oil or run on one line."""

from __future__ import annotations

import re

_NBSP = "\N{NO-BREAK SPACE}"
_UNIT = re.compile(r"(?<=\d) (?=(?:%|°C|N|MPa|GPa|mm²|mm³|mm|µm|m/s|s|K|mg|W|rpm|runs?|oils?)(?![\w/]))")
_COUNT = re.compile(r"\b(n|p) (=|<) (?=\d)")
_TEXT = re.compile(r">[^<]+<")
# Short names such as R-10, C-21, c07-09 and film-450; a longer word may break at its hyphen. No date and no
# number of a standard starts with a letter.
_NAME = re.compile(r"(?<![\w.&-])[A-Za-z][A-Za-z0-9]{0,5}-\d{1,4}(?![\w-])")
_PART = re.compile(
    r"<(?P<kept>style|script|title)\b.*?</(?P=kept)>|<(?P<tag>[^>]*)>|(?P<text>[^<]+)", re.DOTALL
)
_WHOLE = re.compile(r'\bclass="(?:short|number|interval|nowrap)"')  # these are never broken anyway


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


def tie_names(html: str) -> str:
    """Keep names with a hyphen, as R-10, on one line; the text that is copied and searched stays the same.

    Parameters
    ----------
    html : str
        HTML of a page's body.

    Returns
    -------
    str
        The same, such names in a ``<span class="nowrap">`` where a line could break.

    References
    ----------
    Own choice. A no-break hyphen (U+2011) would look the same and be found by no search.

    Examples
    --------
    >>> tie_names('<p title="R-10">R-10 on 2026-04-16</p><td class="short">R-10</td>')
    '<p title="R-10"><span class="nowrap">R-10</span> on 2026-04-16</p><td class="short">R-10</td>'
    """
    tag = ""

    def tied(match: re.Match[str]) -> str:
        nonlocal tag
        if match["text"] is None:
            tag = match["tag"] or ""
            return match[0]
        return match[0] if _WHOLE.search(tag) else _NAME.sub(r'<span class="nowrap">\g<0></span>', match[0])

    return _PART.sub(tied, html)
