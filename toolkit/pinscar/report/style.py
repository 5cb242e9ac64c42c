"""The one look of every figure: colours and marks by role, the text face, and the way into the page."""

from __future__ import annotations

import base64
import io
import re
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, cast

from pinscar.report import fonts
from pinscar.report.compact_svg import compact_svg
from pinscar.report.markup import caption_html, escape

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

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

    Parameters
    ----------
    colour : str
        Colour of points and interval bars; at least 3:1 against paper (WCAG 2.2, criterion 1.4.11).
    tint : str
        Light fill of the same hue, for a band behind data.
    marker : str
        matplotlib marker.
    """

    colour: str
    tint: str
    marker: str


ROLES = MappingProxyType(
    {
        "reference": RoleLook("#6a727a", "#e6e9ec", "s"),
        "candidate": RoleLook("#0b62a4", "#dceaf6", "o"),
        "benchmark": RoleLook("#b1780a", "#f6ead2", "D"),
    }
)


def rc_params() -> dict[Any, Any]:
    """Return the matplotlib settings of every report figure.

    Returns
    -------
    dict
        Settings for ``matplotlib.rc_context``.

    References
    ----------
    Own choice. Fixed ``svg.hashsalt`` and paths for text make the same figure the same bytes (matplotlib,
    "Environment variables and reproducible SVG").

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

    Returns
    -------
    contextmanager
        Restores the settings it found, but for whether figures are shown as they are made.

    References
    ----------
    matplotlib, ``matplotlib.rc_context``.

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

    Parameters
    ----------
    height_mm : float
        Height [mm].
    width_mm : float, optional
        Width [mm]; the text block of the printed page is 170 mm wide.

    Returns
    -------
    matplotlib.figure.Figure
        The figure, with constrained layout.

    References
    ----------
    Own choice: an A4 page less the margins of a binder.

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
    """Return the axes of a new figure, one under the other with one horizontal axis for all.

    Parameters
    ----------
    heights : sequence of float
        Height of each panel [mm].
    frame_mm : float
        What the figure is higher than its panels [mm].
    width_mm : float
        Width of the figure [mm].

    Returns
    -------
    sequence of Axes
        From the top down.
    """
    figure = new_figure(sum(heights) + frame_mm, width_mm=width_mm)
    grid = figure.subplots(len(heights), 1, sharex=True, squeeze=False, height_ratios=list(heights))
    return list(grid[:, 0])


def figure_of(axes: Sequence[Axes]) -> Figure:
    """Return the figure that axes belong to.

    Parameters
    ----------
    axes : sequence of Axes
        At least one.

    Returns
    -------
    Figure
        The figure of the first.
    """
    return cast("Figure", axes[0].figure)


def figure_svg(figure: Figure) -> bytes:
    """Return the figure as SVG: the same figure gives the same bytes, on any day.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The figure.

    Returns
    -------
    bytes
        An SVG document with text as outlines, without date and without the name of its maker.

    References
    ----------
    matplotlib, ``Figure.savefig``, metadata of the SVG backend.

    Examples
    --------
    >>> with report_style():
    ...     b"<dc:date>" in figure_svg(new_figure(40))
    False
    """
    import matplotlib

    buffer = io.BytesIO()
    with matplotlib.rc_context(rc_params()):  # text is laid out only now
        figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": None})
    plain = re.sub(r"<metadata>.*?</metadata>\s*", "", buffer.getvalue().decode("utf-8"), flags=re.DOTALL)
    return compact_svg(plain).encode("utf-8")


def figure_html(
    figure: Figure,
    *,
    alt: str,
    caption: str,
    number: int | None = None,
    key: str | None = None,
    narrow: Figure | None = None,
) -> str:
    """Return the figure as a page element with its caption, and close it.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The figure, 170 mm wide unless there is a reason.
    alt : str
        What the figure shows, as a sentence that states its finding (plain text).
    caption : str
        Caption, as HTML: escape what comes from a file.
    number : int, optional
        Figure number; without it the page numbers the figures in their order.
    key : str, optional
        Name for references: ``markup.reference("figure", key)`` links here.
    narrow : matplotlib.figure.Figure, optional
        The same content drawn for a phone (about 90 mm wide): shown on screens under 600 px, never in print.

    Returns
    -------
    str
        A ``<figure>`` element whose picture is an ``<img>`` with the SVG inside its address.

    Raises
    ------
    ValueError
        If `alt` is empty.

    References
    ----------
    WCAG 2.2, success criterion 1.1.1 (text alternative). SVG ids of several inline figures collide, those
    inside ``<img>`` cannot (matplotlib pull request 7748).

    Examples
    --------
    >>> with report_style():
    ...     html = figure_html(new_figure(40), alt="An empty figure.", caption="Nothing yet.", number=1)
    >>> html.startswith('<figure class="figure"') and "Figure 1." in html
    True
    """
    if not alt.strip():
        raise ValueError("alt must be a sentence that states what the figure shows, not empty")
    source = "" if narrow is None else f'<source media="(max-width: 600px)" srcset="{_address(narrow)}">'
    width, height = (round(float(side) * 96) for side in figure.get_size_inches())
    image = f'<img alt="{escape(alt)}" width="{width}" height="{height}" src="{_address(figure)}">'
    picture = f"<picture>{source}{image}</picture>" if source else image
    kind = "figure narrowable" if source else "figure"
    # Without a narrow version the card scrolls sideways on a phone, so a keyboard must reach it.
    focus = "" if source else ' role="group" tabindex="0" aria-label="Figure"'
    label = caption_html("figure", caption, number=number, key=key)
    return (
        f'<figure class="{kind}"{label.attribute}>'
        f'<div class="card"{focus}>{picture}</div><figcaption>{label.html}</figcaption></figure>'
    )


def _address(figure: Figure) -> str:
    data = base64.b64encode(figure_svg(figure)).decode("ascii")
    _close(figure)
    return f"data:image/svg+xml;base64,{data}"


def _close(figure: Figure) -> None:
    """Free the figure, and take it off pyplot's list where pyplot made it (else it would be shown again)."""
    pyplot = sys.modules.get("matplotlib.pyplot")
    if pyplot is not None:
        pyplot.close(figure)
    figure.clear()
