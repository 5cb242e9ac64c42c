"""Text from elsewhere made visible: marks that show nothing, or change the rest, become codes."""

from __future__ import annotations

import re
import unicodedata
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

HIDDEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
"""General categories of characters that show nothing of their own."""

BLANKS = re.compile(r"[\u115f\u1160\u3164\uffa0\u2800\u034f\u17b4\u17b5\u180b-\u180f\ufe00-\ufe0f]")
"""Characters of other categories that show nothing: fillers and variation selectors."""

JOINERS = "\u200c\u200d"
"""Between letters of scripts that need them these two are spelling, and between pictures one picture."""

LAYOUT = "\t\n\r"

# Only these are looked at one by one: a page has a million others.
_ODD = re.compile(r"[^\x20-\x7e\t\n\r\xa1-\xac\xae-\u02ff]")
_ODD_IN_LINE = re.compile(r"[^\x20-\x7e\xa1-\xac\xae-\u02ff]")

# A Latin letter and one of another script that looks like it in most faces, after Unicode Technical Standard
# 39, "Unicode Security Mechanisms", section 4 (confusable detection); those that names of oils are made of.
_PAIRS = (
    "AА BВ CС EЕ HН IІ JЈ KК MМ OО PР SЅ TТ XХ YҮ ZΖ aа cс eе hһ iі jј nո oо pр qԛ "
    "sѕ vѵ wԝ xх yу AΑ BΒ EΕ ZΖ HΗ IΙ KΚ MΜ NΝ OΟ PΡ TΤ YΥ XΧ oο vν pρ iı kκ uυ"
)
_SAME = str.maketrans({"O": "0", "o": "0", "I": "1", "l": "1", "|": "1", "i": "1"})


def visible(text: str, *, layout: bool = True) -> str:
    r"""Show marks that cannot be seen as codes.

    Examples
    --------
    >>> visible("R-10\u202e12\x1b[2J\udcff"), visible("Öl µ°2²")
    ('R-10[U+202E]12[U+001B][2J[0xFF]', 'Öl µ°2²')
    """
    odd = _ODD if layout else _ODD_IN_LINE
    if not odd.search(text):
        return text

    def shown(match: re.Match[str]) -> str:
        return match[0] if _is_shown(text, match.start(), layout=layout) else code_of(match[0])

    return odd.sub(shown, text)


def _is_shown(text: str, place: int, *, layout: bool) -> bool:
    one = text[place]
    if one in LAYOUT:
        return layout
    if one in JOINERS:
        return _joins(text, place)
    if one == "\ufe0f":  # asks for a picture in colour
        return place > 0 and unicodedata.category(text[place - 1]) == "So"
    return unicodedata.category(one) not in HIDDEN and not BLANKS.match(one)


def _joins(text: str, place: int) -> bool:
    around = (text[place - 1 : place], text[place + 1 : place + 2])
    return all(
        one and ord(one) > 0x5FF and unicodedata.category(one) in ("Lo", "Mn", "Mc", "So", "Sk")
        for one in around
    )


def code_of(one: str) -> str:
    r"""Write a character as a code.

    Examples
    --------
    >>> code_of("\u200b"), code_of("\udcff")
    ('[U+200B]', '[0xFF]')
    """
    number = ord(one)
    return f"[0x{number - 0xDC00:02X}]" if 0xDC80 <= number <= 0xDCFF else f"[U+{number:04X}]"


def has_hidden(text: str) -> bool:
    r"""Tell whether a text has marks that cannot be seen; line ends and tabs count, as in a name.

    Examples
    --------
    >>> has_hidden("R-10"), has_hidden("R-1\u200b0")
    (False, True)
    """
    return visible(text, layout=False) != text


@cache
def _letters() -> Mapping[int, str]:
    return str.maketrans({pair[1]: pair[0] for pair in _PAIRS.split()})


def look(name: str) -> str:
    """Reduce a name to how it looks: two names with the same look cannot be told apart on paper.

    Examples
    --------
    >>> look("С‑21") == look("C-21"), look("C-21") == look("c-21")
    (True, False)
    """
    shown = "".join(
        one for one in unicodedata.normalize("NFKC", name) if unicodedata.category(one) not in HIDDEN
    )
    dashed = re.sub(r"[\u2010-\u2015\u2212\u00ad\u02d7\u2043]", "-", BLANKS.sub("", shown))
    return " ".join(dashed.translate(_letters()).split())


def loose_look(name: str) -> str:
    """Reduce a name further: case, and the letters that pass for figures, are as good as the same.

    Examples
    --------
    >>> loose_look("R-1O") == loose_look("r-10"), loose_look("Cl") == loose_look("C1")
    (True, True)
    """
    return look(name).translate(_SAME).casefold().translate(_SAME)


def spelled(name: str) -> str:
    """Write a name with the codes of all that is no plain letter, so that it can be told from its double.

    Examples
    --------
    >>> spelled("С-21"), spelled("C-21")
    ('С[U+0421]-21', 'C-21')
    """
    return "".join(
        one if " " <= one <= "~" else code_of(one) if has_hidden(one) else f"{one}{code_of(one)}"
        for one in name
    )
