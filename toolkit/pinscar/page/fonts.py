"""The report's own text face: where its files lie, and how matplotlib, the HTML page and the PDF take it."""

from __future__ import annotations

import base64
import hashlib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

FAMILY = "Pinscar Text"
FOLDER = Path(__file__).resolve().parent / "font"


@dataclass(frozen=True, slots=True)
class FontStyle:
    """One style of the face.

    Parameters
    ----------
    name : str
        The style's name, as in the file name ``PinscarText-<name>``.
    weight : int
        Weight as CSS counts it, 400 to 700.
    slope : str
        ``"normal"`` or ``"italic"``.
    """

    name: str
    weight: int
    slope: str

    def file(self, suffix: str) -> Path:
        """Return the path of this style's file.

        Parameters
        ----------
        suffix : str
            ``"ttf"`` or ``"woff2"``.

        Returns
        -------
        pathlib.Path
            The file in the package.

        References
        ----------
        Own layout.

        Examples
        --------
        >>> STYLES[0].file("ttf").name
        'PinscarText-Regular.ttf'
        """
        return FOLDER / f"PinscarText-{self.name}.{suffix}"


STYLES = (
    FontStyle("Regular", 400, "normal"),
    FontStyle("Italic", 400, "italic"),
    FontStyle("SemiBold", 600, "normal"),
    FontStyle("Bold", 700, "normal"),
)


def font_face_css(*, embedded: bool) -> str:
    """Return the ``@font-face`` rules of the face.

    Parameters
    ----------
    embedded : bool
        True writes the fonts into the rules (WOFF2 in base64, for a page that stands alone); False refers
        to the TrueType files by address (for the PDF writer).

    Returns
    -------
    str
        Four CSS rules.

    References
    ----------
    CSS Fonts Module Level 4, section 4, "Font Resources". The face: SIL Open Font License 1.1, see
    ``font/OFL.txt`` and ``font/make_fonts.py``.

    Examples
    --------
    >>> font_face_css(embedded=True).count("data:font/woff2;base64,")
    4
    """
    return "\n".join(_rule(style, embedded=embedded) for style in STYLES)


def _rule(style: FontStyle, *, embedded: bool) -> str:
    if embedded:
        data = base64.b64encode(style.file("woff2").read_bytes()).decode("ascii")
        source = f"url(data:font/woff2;base64,{data}) format('woff2')"
    else:
        source = f"url('{style.file('ttf').as_uri()}') format('truetype')"
    return (
        f"@font-face{{font-family:'{FAMILY}';font-weight:{style.weight};font-style:{style.slope};"
        f"font-display:block;src:{source}}}"
    )


@cache
def register_with_matplotlib() -> str:
    """Make the face known to matplotlib in this process; nothing is installed and no cache file is written.

    Returns
    -------
    str
        The family name to ask matplotlib for.

    References
    ----------
    matplotlib, ``matplotlib.font_manager.FontManager.addfont``.

    Examples
    --------
    >>> register_with_matplotlib()
    'Pinscar Text'
    """
    from matplotlib.font_manager import fontManager

    for style in STYLES:
        fontManager.addfont(style.file("ttf"))
    return FAMILY


def font_digests() -> dict[str, str]:
    """Return the SHA-256 of each font file, for the manifest.

    Returns
    -------
    dict
        File name to digest in hexadecimal.

    References
    ----------
    FIPS PUB 180-4, Secure Hash Standard.

    Examples
    --------
    >>> sorted(font_digests())[0]
    'PinscarText-Bold.ttf'
    """
    return {
        file.name: hashlib.sha256(file.read_bytes()).hexdigest()
        for style in STYLES
        for file in (style.file("ttf"), style.file("woff2"))
    }
