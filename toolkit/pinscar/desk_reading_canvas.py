"""The picture with the ellipse on it that a person drags, in a notebook."""

from __future__ import annotations

import importlib
from collections.abc import Callable
from types import ModuleType
from typing import Any

import matplotlib
import numpy as np
from matplotlib.backend_bases import Event, LocationEvent, MouseButton, cursors
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray

from pinscar.desk_reading_drag import Handle, Point, Size, dragged, grabbed, handle_points
from pinscar.evidence.ellipse import Ellipse
from pinscar.evidence.grey import grey
from pinscar.report.bar_length import bar_length

LINE, HELD, DARK, AROUND = "#00e6ff", "#ffd200", "#101418", "#2b3036"
"""Outline, handle under the pointer, edges of both, and what lies around the picture.

Light in dark edges, they stand out from any grey metal, and are told apart by lightness as well as by hue."""
REACH, STEM = 13.0, 30.0
"""How far from a handle it can be grabbed, and how far beyond the length one turns [px on the screen]."""
DPI = 100
TOOLS = (
    ("Home", "Show the whole picture", "home", "home"),
    ("Pan", "Move the picture; press again to go back to the ellipse", "hand-paper-o", "pan"),
    ("Zoom", "Draw a box to look closer; press again to go back to the ellipse", "search-plus", "zoom"),
)


class ScarCanvas:
    """A picture with an ellipse to drag.

    Parameters
    ----------
    changed : callable
        Called with the ellipse at every step of a drag.
    width : int
        Width of the picture on the screen [px].
    """

    def __init__(self, changed: Callable[[Ellipse], None], width: int = 680) -> None:
        self._changed = changed
        self._size: Size = (4, 3)
        self._scale: float | None = None
        self._ellipse: Ellipse | None = None
        self._behind: Any = None
        self._held: Handle | None = None
        self._down: tuple[Point, Ellipse] | None = None
        self.figure = Figure(figsize=(width / DPI, 0.75 * width / DPI), dpi=DPI, facecolor=AROUND)
        self.widget = _canvas(self.figure, self._redraw)
        self._axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0), facecolor=AROUND)
        self._axes.set_axis_off()
        self._drawn = _artists(self._axes)
        connect = self.widget.mpl_connect
        connect("draw_event", self._on_draw)
        connect("button_press_event", self._on_press)
        connect("motion_notify_event", self._on_motion)
        connect("button_release_event", self._on_release)

    @property
    def ellipse(self) -> Ellipse | None:
        """The ellipse as it is now."""
        return self._ellipse

    def show(self, pixels: NDArray[np.generic], scale: float | None, ellipse: Ellipse) -> None:
        """Show another picture.

        Parameters
        ----------
        pixels : array
            The picture.
        scale : float or None
            Size of a point [m]; no scale bar without it.
        ellipse : Ellipse
            Where its ellipse starts.

        Raises
        ------
        ValueError
            If the array is no picture.
        """
        colours = pixels.ndim == 3 and pixels.shape[2] in (3, 4) and pixels.dtype == np.uint8
        self._fill(pixels if colours else grey(pixels))
        self._scale, self._ellipse = scale, ellipse

    def clear(self) -> None:
        """Show nothing, for a picture that can't be read."""
        self._fill(np.zeros((3, 4)))

    def _fill(self, shown: NDArray[np.generic]) -> None:
        self._size = (shown.shape[1], shown.shape[0])
        self._scale = self._ellipse = self._down = self._held = None
        for old in list(self._axes.images):
            old.remove()
        self._axes.imshow(shown, cmap="gray", vmin=0, vmax=1)
        self._axes.set_aspect("equal", adjustable="datalim")
        self._axes.set_axis_off()
        self._axes.set_xlim(-0.5, self._size[0] - 0.5)
        self._axes.set_ylim(self._size[1] - 0.5, -0.5)
        self._behind = None
        self.widget.toolbar.update()
        self.widget.draw_idle()

    def put(self, ellipse: Ellipse) -> None:
        """Put the ellipse somewhere else.

        Parameters
        ----------
        ellipse : Ellipse
            Where to.
        """
        self._ellipse = ellipse
        self._draw_over()

    def _point(self) -> float:
        """Points of the picture that a pixel of the screen shows."""
        transform = self._axes.transData
        left, right = transform.transform((0.0, 0.0)), transform.transform((1.0, 0.0))
        return float(self.widget.device_pixel_ratio / abs(right[0] - left[0]))

    def _where(self, event: LocationEvent) -> Point:
        x, y = self._axes.transData.inverted().transform((event.x, event.y))
        return float(x), float(y)

    def _busy(self) -> bool:
        """Whether the toolbar moves or zooms the picture, and the ellipse has to keep still."""
        return bool(self.widget.toolbar.mode)

    def _under(self, event: LocationEvent) -> Handle | None:
        if self._ellipse is None or self._busy():
            return None
        point = self._point()
        return grabbed(self._ellipse, self._where(event), self._size, STEM * point, REACH * point)

    def _on_press(self, event: Event) -> None:
        assert isinstance(event, LocationEvent)
        if getattr(event, "button", None) != MouseButton.LEFT:
            return
        self._held = self._under(event)
        if self._held is not None and self._ellipse is not None:
            self._down = (self._where(event), self._ellipse)

    def _on_motion(self, event: Event) -> None:
        assert isinstance(event, LocationEvent)
        if self._down is None:
            self._point_out(self._under(event))
        elif self._held is not None:
            start, ellipse = self._down
            self._ellipse = dragged(ellipse, self._held, start, self._where(event), self._size)
            self._draw_over()
            self._changed(self._ellipse)

    def _on_release(self, event: Event) -> None:
        # a browser may hold back the last motion for a moment, so the release tells where the drag ends
        if self._down is not None:
            self._on_motion(event)
            self.widget.handle_refresh({})
        self._down = None

    def _point_out(self, handle: Handle | None) -> None:
        if handle == self._held:
            return
        self._held = handle
        if not self._busy():
            shape = (
                cursors.POINTER if handle is None else cursors.MOVE if handle == "middle" else cursors.HAND
            )
            self.widget.set_cursor(shape)
        self._draw_over()

    def _on_draw(self, _: Event) -> None:
        self._behind = self.widget.copy_from_bbox(self.figure.bbox)
        self._draw_artists()

    def _draw_over(self) -> None:
        # the browser asks for the drawing when it has shown the one before, so a slow one never lags behind
        self.widget.draw_idle()

    def _redraw(self) -> bool:
        """Draw the ellipse anew on the picture that was kept, which is quick whatever the picture's size."""
        if self._behind is None or self.figure.stale:
            return False
        self.widget.restore_region(self._behind)
        self._draw_artists()
        self.widget.blit(self.figure.bbox)
        return True

    def _draw_artists(self) -> None:
        if self._ellipse is not None:
            points = handle_points(self._ellipse, self._size, STEM * self._point())
            _place(self._drawn, self._ellipse, points, self._held)
            for name in ("outline", "length", "width", "stem", "ends", "turn", "middle", "held"):
                self._axes.draw_artist(self._drawn[name])
        if self._scale is not None:
            _place_bar(self._drawn, self._axes, self._scale * 1e3)
            for name in ("plate", "bar", "label"):
                self._axes.draw_artist(self._drawn[name])


def _for_one_canvas() -> ModuleType:
    """Import the backend for this canvas alone: it takes over all later figures, which is undone."""
    chosen = matplotlib.get_backend()
    try:
        return importlib.import_module("ipympl.backend_nbagg")
    finally:
        matplotlib.use(chosen)


_backend = _for_one_canvas()


class _QuickCanvas(_backend.Canvas):  # type: ignore[misc, name-defined]
    """A canvas that draws all only where the quick way says that it won't do."""

    def __init__(self, figure: Figure, quick: Callable[[], bool]) -> None:
        self._quick = quick
        super().__init__(figure)

    def draw(self) -> None:
        if not self._quick():
            super().draw()


def _canvas(figure: Figure, quick: Callable[[], bool]) -> Any:
    """Make the canvas without choosing it for other figures of the notebook."""
    widget = _QuickCanvas(figure, quick)
    manager = _backend.FigureManager(widget, 0)
    # keys that a figure knows, such as s for saving, would surprise somebody who types a number
    widget.mpl_disconnect(manager.key_press_handler_id)
    widget.header_visible = widget.footer_visible = widget.resizable = False
    widget.toolbar_visible, widget.toolbar_position = True, "left"
    widget.toolbar.toolitems = list(TOOLS)
    return widget


def _artists(axes: Any) -> dict[str, Any]:
    casing = [withStroke(linewidth=3.2, foreground=DARK, alpha=0.75)]
    thin = [withStroke(linewidth=2.2, foreground=DARK, alpha=0.45)]
    # hollow, so that the edge of the scar under a handle can still be seen; alpha would fill them
    mark: dict[str, Any] = {
        "linestyle": "none",
        "color": "white",
        "markerfacecolor": "none",
        "markeredgewidth": 1.6,
        "path_effects": [withStroke(linewidth=3.4, foreground=DARK)],
    }
    lines = {
        "outline": Line2D([], [], color=LINE, linewidth=1.5, path_effects=casing),
        "length": Line2D([], [], color="white", linewidth=0.8, linestyle=(0, (5, 4)), path_effects=thin),
        "width": Line2D([], [], color="white", linewidth=0.8, linestyle=(0, (5, 4)), path_effects=thin),
        "stem": Line2D([], [], color=LINE, linewidth=1.2, path_effects=casing),
        "ends": Line2D([], [], marker="s", markersize=9, **mark),
        "turn": Line2D([], [], marker="o", markersize=10, **mark),
        "middle": Line2D([], [], marker="+", markersize=13, **mark),
        "held": Line2D([], [], marker="o", markersize=15, **{**mark, "color": HELD, "markeredgewidth": 2.0}),
    }
    for line in lines.values():
        line.set_animated(True)
        axes.add_line(line)
    plate = Rectangle((0.02, 0.03), 0.1, 0.1, transform=axes.transAxes, facecolor=DARK, alpha=0.7)
    bar = Rectangle((0.03, 0.045), 0.1, 0.012, transform=axes.transAxes, facecolor="white")
    label = axes.text(0.03, 0.07, "", transform=axes.transAxes, color="white", fontsize=11, va="bottom")
    for part in (plate, bar):
        axes.add_patch(part)
    for part in (plate, bar, label):
        part.set_animated(True)
    return {**lines, "plate": plate, "bar": bar, "label": label}


def _place(drawn: dict[str, Any], ellipse: Ellipse, points: dict[Handle, Point], held: Handle | None) -> None:
    drawn["outline"].set_data(*ellipse.points(np.linspace(0, 2 * np.pi, 181)).T)
    ends: tuple[Handle, ...] = ("length-", "length+", "width-", "width+")
    drawn["length"].set_data(*zip(*(points[name] for name in ends[:2]), strict=True))
    drawn["width"].set_data(*zip(*(points[name] for name in ends[2:]), strict=True))
    drawn["ends"].set_data(*zip(*(points[name] for name in ends), strict=True))
    near = min(ends[:2], key=lambda name: np.hypot(*np.subtract(points[name], points["turn"])))
    drawn["stem"].set_data(*zip(points[near], points["turn"], strict=True))
    for name in ("turn", "middle"):
        drawn[name].set_data([points[name][0]], [points[name][1]])
    under = [] if held is None else [points[held]]
    drawn["held"].set_data([x for x, _ in under], [y for _, y in under])


def _place_bar(drawn: dict[str, Any], axes: Any, point: float) -> None:
    """Fit the scale bar to what is seen; `point` is the size of a point of the picture [mm]."""
    left, right = axes.get_xlim()
    view = abs(right - left) * point
    length = bar_length(0.3 * view)
    drawn["bar"].set_width(length / view)
    drawn["label"].set_text(f"{length:g} mm")
    drawn["plate"].set_width(max(length / view, 0.09) + 0.02)
