"""Make the report's font files from the upstream release; run by hand, never by the toolkit.

The source is the npm package inter-ui 4.1.1 (SIL Open Font License 1.1, no reserved font name)::

    npm pack inter-ui@4.1.1 && tar xzf inter-ui-4.1.1.tgz
    python make_fonts.py package

Each style is cut down to the characters a report needs, stripped of the contextual features that redraw
typed text (an ``x`` between figures, ``->``), renamed so that an installed copy of the upstream family can
never stand in for it, and written as TrueType (matplotlib, PDF) and as WOFF2 (HTML). Needs brotli.
The same input and the same fontTools give the same bytes.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont

HERE = Path(__file__).resolve().parent
FAMILY = "Pinscar Text"
STYLES = {
    "Regular": ("Regular", 400),
    "Italic": ("Italic", 400),
    "SemiBold": ("SemiBold", 600),
    "Bold": ("Bold", 700),
}
RANGES = [
    (0x20, 0x7E), (0xA0, 0x17F), (0x192, 0x192), (0x218, 0x21B), (0x2BC, 0x2BC), (0x2C6, 0x2C7),
    (0x2D8, 0x2DD), (0x300, 0x304), (0x306, 0x308), (0x30A, 0x30C), (0x327, 0x328),
    (0x384, 0x3CE), (0x3D1, 0x3D1), (0x3D5, 0x3D6), (0x3F1, 0x3F1), (0x3F5, 0x3F5),
    (0x2000, 0x200D), (0x2010, 0x2027), (0x202F, 0x203A), (0x2044, 0x2044), (0x205F, 0x2060),
    (0x2070, 0x209C), (0x20AC, 0x20AC), (0x2103, 0x2103), (0x2116, 0x2116), (0x2122, 0x2122),
    (0x2126, 0x2126), (0x2150, 0x215E), (0x2190, 0x2199), (0x21D0, 0x21D4), (0x2200, 0x22FF),
    (0x25A0, 0x25EF), (0x2605, 0x2606), (0x2713, 0x2713), (0x2717, 0x2717), (0x26A0, 0x26A0),
]  # fmt: skip
FEATURES = ["kern", "mark", "mkmk", "ccmp", "locl", "tnum", "pnum", "zero"]
FEATURES += ["sups", "subs", "case", "frac", "numr", "dnom"]


def _subset(font: TTFont) -> None:
    """Keep the report's characters and the features that a table or a formula in text uses."""
    options = Options()
    options.layout_features = FEATURES
    options.hinting = False
    options.notdef_outline = True
    options.name_IDs = [0, 1, 2, 3, 4, 5, 6, 8, 9, 11, 12, 13, 14, 16, 17]
    options.recalc_timestamp = False
    cutter = Subsetter(options)
    cutter.populate(unicodes=[code for first, last in RANGES for code in range(first, last + 1)])
    cutter.subset(font)


def _rename(font: TTFont, style: str, weight: int) -> None:
    """Give the modified version its own family name and say in it where it comes from."""
    names = font["name"]
    postscript = f"{FAMILY.replace(' ', '')}-{style}"
    linked = {"Regular": "Regular", "Italic": "Italic", "Bold": "Bold"}
    texts = {
        1: FAMILY if style in linked else f"{FAMILY} {style}",
        2: linked.get(style, "Regular"),
        3: f"4.001;{postscript}",
        4: FAMILY if style == "Regular" else f"{FAMILY} {style}",
        6: postscript,
        10: "A subset of Inter 4.1 with another name, made for pinscar reports.",
        16: FAMILY,
        17: style,
    }
    names.names = [record for record in names.names if record.platformID == 3 and record.nameID not in texts]
    for number, text in sorted(texts.items()):
        names.setName(text, number, 3, 1, 0x409)
    font["OS/2"].usWeightClass = weight


def _main(package: Path) -> None:
    """Write the four styles in both formats, and copy the licence."""
    for style, (source, weight) in STYLES.items():
        font = TTFont(package / "web" / f"Inter-{source}.woff2", recalcTimestamp=False)
        _subset(font)
        _rename(font, style, weight)
        for suffix, flavour in ((".ttf", None), (".woff2", "woff2")):
            font.flavor = flavour
            font.save(HERE / f"PinscarText-{style}{suffix}")
    shutil.copyfile(package / "LICENSE.txt", HERE / "OFL.txt")


if __name__ == "__main__":
    _main(Path(sys.argv[1]))
