"""The picture with the ellipse that a person drags in a notebook.

Where its handles are, which one is meant, and what a drag makes of it.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Mapping
from dataclasses import replace
from types import ModuleType
from typing import Any, Literal

import matplotlib
import numpy as np
from matplotlib.backend_bases import Event, LocationEvent, MouseButton, cursors
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray

from pinscar.evidence.ellipse import Ellipse
from pinscar.evidence.grey import grey
from pinscar.page.style import bar_length
from pinscar.shown import to_shown

Handle = Literal["middle", "length+", "length-", "width+", "width-", "turn"]
Point = tuple[float, float]
Size = tuple[int, int]
Field = Literal["x", "y", "length", "width", "angle"]
FIELDS: tuple[Field, ...] = ("x", "y", "length", "width", "angle")
STEEPEST = np.pi / 4
"""Most that the length may lean from the pin's axis [rad]; beyond it the other axis would be the length."""
SMALLEST = 2.0
"""Shortest half-axis [points]."""


def handle_points(ellipse: Ellipse, size: Size, stem: float) -> dict[Handle, Point]:
    """Place the handles: the middle, the ends of both axes, and one to turn, on a stem beyond the length.

    Examples
    --------
    >>> handle_points(Ellipse(50.0, 40.0, 20.0, 10.0, 0.0), (100, 80), 9.0)["turn"]
    (79.0, 40.0)
    >>> handle_points(Ellipse(75.0, 40.0, 20.0, 10.0, 0.0), (100, 80), 9.0)["turn"]
    (46.0, 40.0)
    >>> handle_points(Ellipse(50.0, 40.0, 48.0, 30.0, 0.0), (100, 80), 9.0)["turn"]
    (89.0, 40.0)
    """
    along, across = _directions(ellipse)
    points: dict[Handle, Point] = {
        "length+": _at(ellipse, along, ellipse.a),
        "length-": _at(ellipse, along, -ellipse.a),
        "width+": _at(ellipse, across, ellipse.b),
        "width-": _at(ellipse, across, -ellipse.b),
    }
    places = [_at(ellipse, along, distance) for distance in (ellipse.a + stem, -ellipse.a - stem)]
    inside = _at(ellipse, along, ellipse.a - stem)
    points["turn"] = next((place for place in places if _within(place, size)), inside)
    points["middle"] = (ellipse.x, ellipse.y)
    return points


def grabbed(ellipse: Ellipse, at: Point, size: Size, stem: float, reach: float) -> Handle | None:
    """Tell which handle a pointer is on; anywhere else inside of the ellipse stands for the middle.

    Examples
    --------
    >>> oval = Ellipse(50.0, 40.0, 20.0, 10.0, 0.0)
    >>> [grabbed(oval, at, (100, 80), 9.0, 4.0) for at in ((71.0, 41.0), (55.0, 42.0), (90.0, 70.0))]
    ['length+', 'middle', None]
    """
    points = handle_points(ellipse, size, stem)
    away = {name: float(np.hypot(x - at[0], y - at[1])) for name, (x, y) in points.items()}
    nearest = min(away, key=lambda name: away[name])
    if away[nearest] <= reach:
        return nearest
    along, across = _directions(ellipse)
    offset = np.array(at) - (ellipse.x, ellipse.y)
    inside = np.hypot(offset @ along / ellipse.a, offset @ across / ellipse.b) < 1
    return "middle" if inside else None


def dragged(start: Ellipse, handle: Handle, down: Point, now: Point, size: Size) -> Ellipse:
    """Give the ellipse that a drag makes.

    The end of an axis moves along it while the other end stays, as with a pair of callipers; the turning
    handle turns about the middle.

    Examples
    --------
    >>> oval = Ellipse(50.0, 40.0, 20.0, 10.0, 0.0)
    >>> dragged(oval, "length+", (70.0, 40.0), (76.0, 55.0), (100, 80))
    Ellipse(x=53.0, y=40.0, a=23.0, b=10.0, angle=0.0)
    """
    moved = np.array(now) - np.array(down)
    if handle == "middle":
        return confined(replace(start, x=start.x + float(moved[0]), y=start.y + float(moved[1])), size)
    if handle == "turn":
        before, after = (np.arctan2(y - start.y, x - start.x) for x, y in (down, now))
        turn = (after - before + np.pi) % (2 * np.pi) - np.pi
        return confined(replace(start, angle=start.angle + float(turn)), size)
    along, across = _directions(start)
    axis, half = (along, start.a) if handle.startswith("length") else (across, start.b)
    sign = 1 if handle.endswith("+") else -1
    new = max(SMALLEST, half + sign * float(moved @ axis) / 2)
    x, y = _at(start, axis, sign * (new - half))
    longer = {"a": new} if handle.startswith("length") else {"b": new}
    return confined(replace(start, x=x, y=y, **longer), size)


def confined(ellipse: Ellipse, size: Size) -> Ellipse:
    """Keep an ellipse to what a reading can be: the middle in the picture, no axis without length, not steep.

    Examples
    --------
    >>> confined(Ellipse(120.0, 40.0, 20.0, 0.0, 0.0), (100, 80))
    Ellipse(x=99.5, y=40.0, a=20.0, b=2.0, angle=0.0)
    """
    longest = float(np.hypot(*size))
    return Ellipse(
        float(np.clip(ellipse.x, -0.5, size[0] - 0.5)),
        float(np.clip(ellipse.y, -0.5, size[1] - 0.5)),
        float(np.clip(ellipse.a, SMALLEST, longest)),
        float(np.clip(ellipse.b, SMALLEST, longest)),
        float(np.clip(ellipse.angle, -STEEPEST, STEEPEST)),
    )


def in_the_middle(size: Size) -> Ellipse:
    """Give the ellipse to start from where nothing was looked for.

    Examples
    --------
    >>> in_the_middle((480, 360))
    Ellipse(x=239.5, y=179.5, a=120.0, b=60.0, angle=0.0)
    """
    return Ellipse((size[0] - 1) / 2, (size[1] - 1) / 2, size[0] / 4, size[0] / 8, 0.0)


def numbers_of(ellipse: Ellipse, point: float) -> dict[Field, float]:
    """Give the numbers of an ellipse as they are shown.

    Examples
    --------
    >>> numbers_of(Ellipse(99.5, 49.5, 60.0, 30.0, 0.0), 0.02)
    {'x': 2.0, 'y': 1.0, 'length': 2.4, 'width': 1.2, 'angle': 0.0}
    """
    return {
        "x": (ellipse.x + 0.5) * point,
        "y": (ellipse.y + 0.5) * point,
        "length": 2 * ellipse.a * point,
        "width": 2 * ellipse.b * point,
        "angle": float(np.degrees(ellipse.angle)),
    }


def with_number(ellipse: Ellipse, field: Field, value: float, point: float, size: Size) -> Ellipse:
    """Change one number of an ellipse; the others keep more digits than are shown.

    Examples
    --------
    >>> with_number(Ellipse(99.5, 49.5, 60.0, 30.0, 0.0), "length", 2.5, 0.02, (200, 100)).a
    62.5
    """
    changes: Mapping[Field, dict[str, float]] = {
        "x": {"x": value / point - 0.5},
        "y": {"y": value / point - 0.5},
        "length": {"a": value / point / 2},
        "width": {"b": value / point / 2},
        "angle": {"angle": float(np.radians(value))},
    }
    return confined(replace(ellipse, **changes[field]), size)


def _directions(ellipse: Ellipse) -> tuple[np.ndarray, np.ndarray]:
    c, s = np.cos(ellipse.angle), np.sin(ellipse.angle)
    return np.array([c, s]), np.array([-s, c])


def _at(ellipse: Ellipse, direction: np.ndarray, distance: float) -> Point:
    return (ellipse.x + distance * float(direction[0]), ellipse.y + distance * float(direction[1]))


def _within(point: Point, size: Size) -> bool:
    return -0.5 <= point[0] <= size[0] - 0.5 and -0.5 <= point[1] <= size[1] - 0.5


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

    Attributes
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
        """Show another picture."""
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
        """Put the ellipse somewhere else."""
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
            _place_bar(self._drawn, self._axes, to_shown(self._scale, "mm"))
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
    # keys that a figure knows, such as s for saving, would surprise a person who types a number
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
