"""The one look of every figure: colours and marks by role, axes, rows with names, margin notes, SVG."""

from __future__ import annotations

import base64
import io
import math
import re
import sys
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, cast

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pinscar.language.current import current_speaker, note_missing, say_figure
from pinscar.page import fonts
from pinscar.page.markup import caption_html, escape, grouped

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


_DECIMALS = 2  # a hundredth of a point, 3.5 micrometres on paper
_PROLOGUE = re.compile(r"\A<\?xml[^>]*\?>\s*<!DOCTYPE[^>]*>\s*")
_COMMENT = re.compile(r"<!--.*?-->", re.DOTALL)
_BETWEEN = re.compile(r">\s+<")
_NAME = re.compile(r' id="([^"]*)"')
_CALLED = re.compile(r'(?<=xlink:href="#)([^"]+)|(?<=url\(#)([^)]+)')
_PLACED = re.compile(r'(?P<head> (?:d|x|y)="| transform="translate\()(?P<body>[^")]*)')
_LONG = re.compile(r"-?\d+\.\d+")


def compact_svg(svg: str) -> str:
    r"""Return an SVG that looks the same and takes less room.

    Examples
    --------
    >>> compact_svg('<g id="a">\n <!-- 0 -->\n <path d="M 0.123456 2 \nL 3.0001 4 \nz\n"/>\n</g>')
    '<g><path d="M0.12 2L3 4z"/></g>'
    """
    text = _BETWEEN.sub("><", _COMMENT.sub("", _PROLOGUE.sub("", svg)))
    called = dict.fromkeys(match[0] for match in _CALLED.finditer(text))  # in order: the same each time
    short = {name: f"n{number}" for number, name in enumerate(called)}
    text = _NAME.sub(lambda match: f' id="{short[match[1]]}"' if match[1] in short else "", text)
    text = _CALLED.sub(lambda match: short[match[0]], text)
    return _PLACED.sub(lambda match: match["head"] + _tight(match["body"]), text).strip()


def _tight(places: str) -> str:
    rounded = _LONG.sub(lambda match: f"{round(float(match[0]), _DECIMALS) + 0:g}", " ".join(places.split()))
    return re.sub(r" ?([A-Za-z]) ?", r"\1", rounded)


INK = "#1d2329"  # text and axes
MUTED = "#5b646d"  # secondary text, tick labels
RULE = "#c9ced3"  # grid and light rules
LIMIT = "#8f1f5f"  # criteria limits and their labels
PAPER = "#ffffff"
PRINT_WIDTH_MM = 170.0
TEXT_SIZE = 8.5
_MM_PER_INCH = 25.4


@dataclass(frozen=True, slots=True)
class RoleLook:
    """How one role is drawn: colour and mark both tell it, and its name stands at the data.

    Attributes
    ----------
    colour : str
        Colour of points and interval bars; at least 3:1 against paper (WCAG 2.2, criterion 1.4.11).
    tint : str
        Light fill of the same hue, for a band behind data.
    marker : str
        matplotlib marker.
    line : object
        matplotlib line style.
    """

    colour: str
    tint: str
    marker: str
    line: Any = "solid"


ROLES = MappingProxyType(
    {
        "reference": RoleLook("#6a727a", "#e6e9ec", "s"),
        "candidate": RoleLook("#0b62a4", "#dceaf6", "o"),
        "benchmark": RoleLook("#b1780a", "#f6ead2", "D"),
    }
)


MARKERS = MappingProxyType(
    {
        "reference": ("s",),
        "candidate": ("o", "^", "v", "P", "X", "h", "<", ">"),
        "benchmark": ("D", "d", "p", "8"),
    }
)
"""Marks of the oils of a role, one after the other."""
LINES = MappingProxyType(
    {
        "reference": ("solid",),
        "candidate": ("solid", (0, (5, 1.5)), (0, (1.2, 1.2)), (0, (6, 1.5, 1.2, 1.5)), (0, (10, 2))),
        "benchmark": ((0, (3, 1, 1, 1, 1, 1)), (0, (8, 2, 2, 2)), (0, (2, 3))),
    }
)
"""Their lines, so that each oil is told from the others in grey too."""


def looks(roles: Mapping[str, str]) -> dict[str, RoleLook]:
    """Give each oil its look: the colour of its role, and a mark and a line of its own.

    Examples
    --------
    >>> [look.marker for look in looks({"R": "reference", "C": "candidate", "D": "candidate"}).values()]
    ['s', 'o', '^']
    """
    taken: dict[str, int] = {}
    found = {}
    for name, role in roles.items():
        place = taken.get(role, 0)
        taken[role] = place + 1
        marks, lines = MARKERS[role], LINES[role]
        found[name] = replace(ROLES[role], marker=marks[place % len(marks)], line=lines[place % len(lines)])
    return found


def rc_params() -> dict[Any, Any]:
    """Return the matplotlib settings of every report figure.

    Examples
    --------
    >>> rc_params()["svg.hashsalt"]
    'pinscar'
    """
    return {**_text_settings(), **_axes_settings(), **_output_settings()}


def _text_settings() -> dict[Any, Any]:
    family = fonts.register_with_matplotlib()
    return {
        "font.family": [family, "DejaVu Sans"],
        "font.size": TEXT_SIZE,
        "axes.titlesize": TEXT_SIZE + 0.5,
        "axes.titleweight": "bold",
        "axes.titlelocation": "left",
        "axes.labelsize": TEXT_SIZE,
        "xtick.labelsize": TEXT_SIZE - 0.5,
        "ytick.labelsize": TEXT_SIZE - 0.5,
        "legend.fontsize": TEXT_SIZE - 0.5,
        "mathtext.fontset": "custom",
        "mathtext.rm": family,
        "mathtext.it": f"{family}:italic",
        "mathtext.bf": f"{family}:bold",
        "mathtext.bfit": f"{family}:bold",
        "mathtext.cal": f"{family}:italic",
        "mathtext.sf": family,
        "mathtext.tt": family,
        "mathtext.fallback": "stixsans",
        "axes.unicode_minus": True,
        "axes.formatter.use_mathtext": False,
        # A dollar sign in an oil's name is a dollar sign: names are drawn as they are, never set as formulas.
        "text.parse_math": False,
    }


def _axes_settings() -> dict[Any, Any]:
    return {
        "text.color": INK,
        "axes.edgecolor": MUTED,
        "axes.labelcolor": INK,
        "xtick.color": MUTED,
        "ytick.color": MUTED,
        "xtick.labelcolor": INK,
        "ytick.labelcolor": INK,
        "axes.spines.top": False,
        "axes.spines.right": False,
        "axes.linewidth": 0.6,
        "xtick.major.width": 0.6,
        "ytick.major.width": 0.6,
        "xtick.minor.width": 0.4,
        "ytick.minor.width": 0.4,
        "xtick.major.size": 3.0,
        "ytick.major.size": 3.0,
        "axes.axisbelow": True,
        "grid.color": RULE,
        "grid.linewidth": 0.5,
        "lines.linewidth": 1.4,
        "lines.markersize": 4.5,
        "legend.frameon": False,
    }


def _output_settings() -> dict[Any, Any]:
    return {
        "figure.figsize": (PRINT_WIDTH_MM / _MM_PER_INCH, 70.0 / _MM_PER_INCH),
        "figure.facecolor": PAPER,
        "savefig.facecolor": PAPER,
        "figure.constrained_layout.use": True,
        "figure.constrained_layout.w_pad": 2.0 / 72,
        "figure.constrained_layout.h_pad": 2.0 / 72,
        "svg.fonttype": "path",
        "svg.hashsalt": "pinscar",
    }


@contextmanager
def report_style() -> Iterator[None]:
    """Apply the report's settings to whatever is drawn inside the ``with`` block.

    Examples
    --------
    >>> import matplotlib
    >>> with report_style():
    ...     matplotlib.rcParams["font.family"][0]
    'Pinscar Text'
    """
    import matplotlib

    interactive = matplotlib.is_interactive()
    try:
        with matplotlib.rc_context(rc_params()):
            try:
                yield
            finally:
                interactive = matplotlib.is_interactive()
    finally:
        # A notebook's first figure makes pyplot interactive; were that undone, no later one would be shown.
        matplotlib.interactive(interactive)


def new_figure(height_mm: float, *, width_mm: float = PRINT_WIDTH_MM) -> Figure:
    """Return an empty figure of a size on paper; draw on it inside ``report_style()``.

    No pyplot state is touched, so nothing is shown twice and nothing has to be closed by hand.

    Examples
    --------
    >>> with report_style():
    ...     [round(float(side), 2) for side in new_figure(70).get_size_inches()]
    [6.69, 2.76]
    """
    from matplotlib.figure import Figure

    return Figure(
        figsize=(width_mm / _MM_PER_INCH, height_mm / _MM_PER_INCH), layout="constrained", facecolor=PAPER
    )


def stacked_axes(
    heights: Sequence[float], frame_mm: float, *, width_mm: float = PRINT_WIDTH_MM
) -> Sequence[Axes]:
    """Return the axes of a new figure, one under the other with one horizontal axis for all."""
    figure = new_figure(sum(heights) + frame_mm, width_mm=width_mm)
    grid = figure.subplots(len(heights), 1, sharex=True, squeeze=False, height_ratios=list(heights))
    return list(grid[:, 0])


def figure_of(axes: Sequence[Axes]) -> Figure:
    """Return the figure that axes belong to."""
    return cast("Figure", axes[0].figure)


def figure_svg(figure: Figure) -> bytes:
    """Return the figure as SVG: the same figure gives the same bytes, on any day.

    Examples
    --------
    >>> with report_style():
    ...     b"<dc:date>" in figure_svg(new_figure(40))
    False
    """
    import matplotlib
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    speaker = current_speaker()
    if speaker is not None:
        say_figure(figure, speaker)
        note_missing(speaker)
    buffer = io.BytesIO()
    with matplotlib.rc_context(rc_params()):  # text is laid out only now
        # Not by savefig, which draws everything once more only to have it laid out: drawing does that.
        canvas: Any = FigureCanvasSVG(figure)
        canvas.print_svg(buffer, metadata={"Date": None, "Creator": None})
    plain = re.sub(r"<metadata>.*?</metadata>\s*", "", buffer.getvalue().decode("utf-8"), flags=re.DOTALL)
    return compact_svg(plain).encode("utf-8")


Drawn = tuple[str, int, int]
"""A figure as the address of its SVG, with its width and height in CSS pixels."""


def drawn(figure: Figure) -> Drawn:
    """Return a figure drawn, and close it.

    Examples
    --------
    >>> with report_style():
    ...     drawn(new_figure(40, width_mm=127))[1:]
    (480, 151)
    """
    width, height = (round(float(side) * 96) for side in figure.get_size_inches())
    data = base64.b64encode(figure_svg(figure)).decode("ascii")
    _close(figure)
    return f"data:image/svg+xml;base64,{data}", width, height


def figure_html(
    figure: Figure | Drawn,
    *,
    alt: str,
    caption: str,
    number: int | None = None,
    key: str | None = None,
    narrow: Figure | Drawn | None = None,
) -> str:
    """Return the figure as a page element with its caption, and close it.

    Examples
    --------
    >>> with report_style():
    ...     html = figure_html(new_figure(40), alt="An empty figure.", caption="Nothing yet.", number=1)
    >>> html.startswith('<figure class="figure"') and "Figure 1." in html
    True
    """
    if not alt.strip():
        raise ValueError("alt must be a sentence that states what the figure shows, not empty")
    slim = narrow if narrow is None or isinstance(narrow, tuple) else drawn(narrow)
    source = "" if slim is None else f'<source media="(max-width: 600px)" srcset="{slim[0]}">'
    address, width, height = figure if isinstance(figure, tuple) else drawn(figure)
    image = f'<img alt="{escape(alt)}" width="{width}" height="{height}" src="{address}">'
    picture = f"<picture>{source}{image}</picture>" if source else image
    kind = "figure narrowable" if source else "figure"
    # Without a narrow version the card scrolls sideways on a phone, so a keyboard must reach it.
    focus = "" if source else ' role="group" tabindex="0" aria-label="Figure"'
    label = caption_html("figure", caption, number=number, key=key)
    return (
        f'<figure class="{kind}"{label.attribute}>'
        f'<div class="card"{focus}>{picture}</div><figcaption>{label.html}</figcaption></figure>'
    )


def _close(figure: Figure) -> None:
    """Take a figure off pyplot's list where pyplot made it (else it would be shown again)."""
    pyplot = sys.modules.get("matplotlib.pyplot")
    if pyplot is not None:
        pyplot.close(figure)


_STEPS = (
    (1.0,),
    (1.0, 3.0),
    (1.0, 2.0, 5.0),
    (1.0, 1.5, 2.0, 3.0, 5.0, 7.0),
    (1.0, 1.2, 1.4, 1.6, 1.8, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0),
)


def log_ticks(low: float, high: float, wanted: int = 4) -> list[float]:
    """Choose round numbers for a logarithmic axis.

    Examples
    --------
    >>> log_ticks(40, 260)
    [50.0, 70.0, 100.0, 150.0, 200.0]
    >>> log_ticks(87, 138)
    [90.0, 100.0, 110.0, 120.0, 130.0]
    """
    decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    for steps in _STEPS:
        ticks = [float(f"{step * 10.0**decade:.6g}") for decade in decades for step in steps]
        ticks = [tick for tick in ticks if low <= tick <= high]
        if len(ticks) >= wanted and (len(steps) < len(_STEPS[-1]) or high >= 2.0 * low):
            return ticks if len(ticks) <= 2 * wanted else ticks[::2]
    return _even_ticks(low, high, wanted)


def _even_ticks(low: float, high: float, wanted: int) -> list[float]:
    """Choose evenly spaced round numbers: over less than an octave these look even on a log scale too."""
    decade = 10.0 ** math.floor(math.log10(high - low))
    for step in (5.0 * decade, 2.0 * decade, decade, decade / 2.0, decade / 5.0, decade / 10.0):
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        if last - first + 1 >= wanted:
            break
    return [float(f"{k * step:.6g}") for k in range(first, last + 1)]


def set_log_axis(axes: Axes, low: float, high: float, wanted: int = 4) -> None:
    """Make the horizontal axis logarithmic, with plain round numbers."""
    axes.set_xscale("log")
    axes.set_xlim(low, high)
    ticks = log_ticks(low, high, wanted)
    axes.set_xticks(ticks, [grouped(f"{tick:,.6g}") for tick in ticks])
    axes.set_xticks([], minor=True)


LOG = ", logarithmic"
"""What the label of a logarithmic axis ends with."""


def padded(values: list[float], share: float = 0.06) -> tuple[float, float]:
    """Give the ends of a logarithmic axis that holds the values with some room.

    Examples
    --------
    >>> low, high = padded([10.0, 100.0], 0.1)
    >>> round(low, 2), round(high, 1)
    (7.94, 125.9)
    """
    logs = np.log10(np.asarray(values, dtype=float))
    room = max(share * float(np.ptp(logs)), 0.02)
    return float(10 ** (logs.min() - room)), float(10 ** (logs.max() + room))


LENGTHS_MM = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
"""Round lengths, from a scratch on a scar to a card [mm]."""


def bar_length(room: float) -> float:
    """Choose the length of a scale bar.

    Examples
    --------
    >>> bar_length(2.6), bar_length(0.001)
    (2.0, 0.02)
    """
    return max((length for length in LENGTHS_MM if length <= room), default=LENGTHS_MM[0])


def name_rows(axes: Axes, names: Sequence[str], *, downwards: bool = False) -> None:
    """Name the rows of a chart at its left edge, with a grid of upright lines and no axis line."""
    ends = (-0.6, len(names) - 0.4)
    axes.set_yticks(range(len(names)), names)
    axes.set_ylim(*(reversed(ends) if downwards else ends))
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    axes.grid(axis="x", which="major")


WIDE_NAME, NARROW_NAME, TIGHT_NAME = 24, 14, 30
"""Signs of a name in one line beside a chart; tight rows have one line only."""


def row_name(name: str, role: str, *, wide: bool, tight: bool = False) -> str:
    r"""Write an oil's name beside its row: a long one over two lines, the role below a short one.

    Examples
    --------
    >>> row_name("R-10", "reference", wide=True), row_name("Chain oil 5 of the older lot", "x", wide=True)
    ('R-10\nreference', 'Chain oil 5 of the older\nlot')
    """
    if tight and wide and len(name) + len(role) > TIGHT_NAME:
        return textwrap.shorten(name, TIGHT_NAME, placeholder=" …")
    lines = textwrap.wrap(name, WIDE_NAME if wide else NARROW_NAME, break_on_hyphens=False)
    if len(lines) == 1:
        between = ", " if tight else "\n"
        return f"{name}{between}{role}" if wide else name
    rest = lines[1] if len(lines) == 2 else f"{lines[1]} …"
    return f"{lines[0]}\n{rest}"


def margin_note(axes: Axes, text: str, row: float, offset: float = 6.0, **look: Any) -> None:
    """Write a note into the right margin, beside a row or a level line."""
    usual: dict[str, Any] = {"va": "center", "fontsize": TEXT_SIZE - 0.5}
    axes.annotate(
        text,
        (1.0, row),
        (offset, 0),
        xycoords=("axes fraction", "data"),
        textcoords="offset points",
        annotation_clip=False,
        **usual | look,
    )


MOST_DOTS = 60
"""Dots of one oil at one load; more of them cover one another, and weigh the page down."""


def spread_over(values: ArrayLike) -> NDArray[np.intp]:
    """Choose which of the values are drawn: all, or evenly over their order with the least and the greatest.

    Examples
    --------
    >>> spread_over([3.0, 1.0, 2.0]).tolist()
    [0, 1, 2]
    >>> chosen = spread_over(np.arange(1000.0))
    >>> len(chosen), int(chosen[0]), int(chosen[-1])
    (60, 0, 999)
    """
    numbers = np.asarray(values, dtype=np.float64)
    if numbers.size <= MOST_DOTS:
        return np.arange(numbers.size)
    places = np.round(np.linspace(0, numbers.size - 1, MOST_DOTS)).astype(np.intp)
    return np.sort(np.argsort(numbers, kind="stable")[places])
