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

    Attributes
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
