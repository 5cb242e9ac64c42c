"""From a rough guess of an oval to its outline, in strips that grow narrower and sharper.

The outline is the best path through the unrolled strip, to a fraction of a point.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len, rfft
from scipy.ndimage import correlate1d

from pinscar.evidence.ellipse import Ellipse, tukey_weights
from pinscar.evidence.scar_rim import Layers, Rim, fit_rim, followed, lip_offset, shape_of, shaped

FloatArray = NDArray[np.float64]
SPACING = 1.5
"""Distance of points along the outline [points of the picture]."""
STEP = 0.5
"""Distance of samples across the outline [points of the picture]."""
STIFFNESS = 0.15
"""What a change of one sample from one point of the outline to the next costs, in units of edge strength."""


@dataclass(frozen=True, slots=True)
class Outline:
    """A closed outline found near an ellipse.

    Parameters
    ----------
    points : array, shape (n, 2)
        Columns and rows [points].
    strength : array, shape (n,)
        Edge strength at each point: step across it over the spread of chance steps beside it; negative where
        the step goes the wrong way.
    """

    points: FloatArray
    strength: FloatArray


def trace_outline(layers: Layers, base: Rim, reach: float, window: float, step: float = STEP) -> Outline:
    """Trace the outline near a closed curve.

    The strip from `reach` inside to `reach` outside of the curve is unrolled. In each layer the step across
    every place is the mean over `window` inside less that outside. Layers are added with the weight with
    which they tell inside from outside; the weight may change slowly along the curve, because a lamp from one
    side makes the step change its sign on the way round. The closed path that gathers most edge at least
    bending is found by dynamic programming and placed between samples by a parabola.

    Parameters
    ----------
    layers : Layers
        What changes at the outline [-].
    base : Rim
        A curve near it.
    reach : float
        Half the width of the strip [points].
    window : float
        Width of the bands compared on the two sides of a place [points].
    step : float, optional
        Distance of samples across the outline [points].

    Returns
    -------
    Outline
        Points evenly spaced along the curve, in its order.

    References
    ----------
    Shortest paths in an unrolled picture: A. A. Amini, T. E. Weymouth, R. C. Jain, IEEE Trans. Pattern Anal.
    Mach. Intell. 12, 1990. The rest: own.

    Examples
    --------
    >>> y, x = np.mgrid[:120, :160]
    >>> layer = 1 / (1 + np.exp(np.hypot(x - 80, y - 60) - 40))
    >>> base = Rim(Ellipse(81.0, 60.0, 42.0, 37.0, 0.0))
    >>> found = trace_outline(Layers(layer[..., None]), base, 8.0, 4.0)
    >>> radii = np.hypot(found.points[:, 0] - 80, found.points[:, 1] - 60)
    >>> bool(np.abs(radii - 40).max() < 0.3)
    True
    """
    a, b = base.ellipse.a, base.ellipse.b
    perimeter = np.pi * (3 * (a + b) - np.sqrt((3 * a + b) * (a + 3 * b)))
    count = next_fast_len(int(np.clip(perimeter / (SPACING * step / STEP), 96, 720)), real=True)
    t = base.ellipse.even_angles(count)
    points, normals = base.points(t), base.normals(t)
    margin = reach + window
    offsets = np.arange(-margin, margin + step / 2, step)
    places = points[:, None] + offsets[None, :, None] * normals[:, None]
    strip = layers.at(places[..., 0], places[..., 1])
    if strip.shape[2] == SHARP:
        strip = _along_the_rim(strip, normals)
    edge = _edge(strip, round(window / step))
    inside_reach = np.abs(offsets) <= reach + 1e-9
    edge, offsets = edge[:, inside_reach], offsets[inside_reach]
    path = closed_path(_tempered(np.nan_to_num(edge, nan=0.0)))
    shift, strength = _between_samples(edge, path)
    away = offsets[path] + step * shift
    return Outline(points + away[:, None] * normals, strength)


SHARP = 3
"""Number of sharp layers: brightness and its slopes along x and y."""


def _along_the_rim(strip: FloatArray, normals: FloatArray) -> FloatArray:
    """Turn slopes into what tells marks across the rim from marks along it, blind to the rim's own step.

    The step of brightness at the rim is a slope across it. It must not be taken for a mark along the rim, so
    the slope across alone is not looked at.
    """
    nx, ny = normals[:, 0, None], normals[:, 1, None]
    along = strip[..., 2] * nx - strip[..., 1] * ny
    across = strip[..., 1] * nx + strip[..., 2] * ny
    size = np.hypot(along, across)
    return np.stack([strip[..., 0], np.abs(along), along * across / np.maximum(size, 1e-9)], axis=-1)


def _tempered(edge: FloatArray) -> FloatArray:
    """Keep single bright places from pulling the path; still rising, so that a clean edge keeps its top."""
    return np.clip(edge, -4.0, 8.0) + np.log1p(np.maximum(edge - 8.0, 0.0))


SMOOTHED = (2.0, 4.0)
"""Along how many points of the outline brightness is smoothed, and scratches [standard deviations]."""
TURNS = 14
"""The weight of a layer may change along the outline over a stretch of this part of it."""


def _edge(strip: FloatArray, window: int) -> FloatArray:
    """Compute edge strength at each place of a strip; NaN where the bands leave the picture."""
    padded = np.full((strip.shape[0], window, strip.shape[2]), np.nan)
    sums = np.cumsum(strip, axis=1)
    # A gap in a row spoils all sums beyond it, so such rows are summed the plain way.
    gaps = ~np.isfinite(sums[:, -1, 0])
    means = np.empty_like(strip)
    means[:, window:-window] = _differences(sums, window)
    if gaps.any():
        taper = np.concatenate([np.ones(window), [0.0], -np.ones(window)]) / window
        means[gaps] = correlate1d(strip[gaps], taper, axis=1, mode="constant", cval=np.nan)
    means[:, :window], means[:, -window:] = padded, padded
    if strip.shape[2] == SHARP:
        means[..., 0] = _jump(strip[..., 0], window)
    steps = _smoothed_round(means, np.where(np.arange(means.shape[2]) == 0, *SMOOTHED))
    inner = steps[:, window:-window]
    if inner.shape[2] == 1:
        # Brightness alone: one sign all the way round.
        typical = np.broadcast_to(_mean_there(inner), inner.shape)
    else:
        typical = _smoothed_round(inner, np.full(inner.shape[2], len(inner) / TURNS))
    beside = (inner - typical).reshape(-1, inner.shape[2])
    far = np.sqrt(np.maximum(_mean_there(beside**2) - _mean_there(beside) ** 2, 0.0))
    far = np.where(far > 0, far, np.inf)
    told = _mean_there((typical / far) ** 2).sum(axis=1)
    weights = typical[:, int(told.argmax())] / far
    size = np.sqrt((weights**2).sum(axis=1))
    # Where nothing tells the sides apart, chance must not be made an edge.
    size = np.sqrt(0.75 * size**2 + 0.25 * float(_mean_there(size**2)) + 1e-12)
    return np.asarray(np.einsum("il,ijl->ij", weights / size[:, None], steps / far), dtype=float)


def _mean_there(values: FloatArray) -> FloatArray:
    """Average over the points of the outline where something is seen; 0 where nothing is."""
    there = np.isfinite(values)
    return np.asarray(np.where(there, values, 0.0).sum(axis=0) / np.maximum(there.sum(axis=0), 1))


def _differences(sums: FloatArray, window: int) -> FloatArray:
    """Mean over the window before each place less that behind it, from running sums."""
    before = sums[:, window - 1 : -window - 1].copy()
    before[:, 1:] -= sums[:, : -2 * window - 1]
    behind = sums[:, 2 * window :] - sums[:, window:-window]
    return np.asarray((before - behind) / window)


def _jump(tone: FloatArray, window: int) -> FloatArray:
    """Compute how far brightness jumps at each place, between straight lines fitted to both of its sides.

    A plain difference of means grows with the fall of light over the pin beside the scar, and would put the
    outline where that fall is steep.
    """
    share = (np.arange(window) + 0.5) / window
    side = (4 - 6 * share) / window
    kernel = np.concatenate([side[::-1], [0.0], -side])
    return np.asarray(correlate1d(tone, kernel, axis=1, mode="constant", cval=np.nan))


def _smoothed_round(steps: FloatArray, widths: FloatArray) -> FloatArray:
    """Smooth each layer along the closed outline by a bell of its own width; what isn't seen stays so."""
    there = np.isfinite(steps)
    if there.all():
        return _bell_round(steps, widths)
    weight = _bell_round(there.astype(float), widths)
    total = _bell_round(np.where(there, steps, 0.0), widths)
    return np.where(there, total / np.maximum(weight, 1e-9), np.nan)


def _bell_round(values: FloatArray, widths: FloatArray) -> FloatArray:
    """Smooth round by Fourier series, in which a bell is a bell again, so width costs no time."""
    count = len(values)
    waves = rfft(values, axis=0)
    turns = np.arange(len(waves))[:, None, None] / count
    waves *= np.exp(-2 * (np.pi * widths * turns) ** 2)
    return np.asarray(irfft(waves, count, axis=0))


def closed_path(edge: FloatArray) -> NDArray[np.intp]:
    """Find the closed path through an unrolled strip that gathers most edge at least bending.

    Parameters
    ----------
    edge : array, shape (n, m)
        Edge strength at n points along the strip, m places across [-].

    Returns
    -------
    array of int, shape (n,)
        The place at each point; neighbours differ by two at most.

    References
    ----------
    R. Bellman, Dynamic Programming, 1957. Closing: the path is walked an eighth further at both ends.

    Examples
    --------
    >>> edge = np.zeros((50, 9))
    >>> edge[:, 5] = 1.0
    >>> set(closed_path(edge).tolist())
    {5}
    """
    # An eighth of the way more at both ends: by then the path no longer depends on where it started.
    more = len(edge) // 8
    twice = np.concatenate([edge[-more:], edge, edge[:more]])
    columns = edge.shape[1]
    # Two unreachable places beyond each side save a test for the border at every step.
    gathered = np.full((len(twice), columns + 4), -np.inf)
    gathered[0, 2:-2] = twice[0]
    near, far = np.empty(columns), np.empty(columns)
    for row, before, after in zip(twice[1:], gathered, gathered[1:, 2:-2], strict=False):
        np.maximum(before[1:-3], before[3:-1], out=near)
        near -= STIFFNESS
        np.maximum(before[:-4], before[4:], out=far)
        far -= 4 * STIFFNESS
        np.maximum(near, far, out=near)
        np.maximum(near, before[2:-2], out=near)
        np.add(near, row, out=after)
    return _walked_back(gathered)[more : more + len(edge)]


def _walked_back(gathered: FloatArray) -> NDArray[np.intp]:
    """Follow the best path from its end to its start; two places beyond each side are unreachable."""
    columns = gathered.shape[1] - 4
    best = gathered[:-1, :columns] - 4 * STIFFNESS
    move = np.full(best.shape, -2)
    for step in range(-1, 3):
        reached = gathered[:-1, 2 + step : 2 + step + columns] - STIFFNESS * step**2
        better = reached > best
        np.copyto(best, reached, where=better)
        move[better] = step
    came_from = (np.arange(columns) + move).tolist()
    path = [int(gathered[-1].argmax()) - 2]
    for row in reversed(came_from):
        path.append(row[path[-1]])
    return np.array(path[::-1], dtype=np.intp)


def _between_samples(edge: FloatArray, path: NDArray[np.intp]) -> tuple[FloatArray, FloatArray]:
    """Top of the parabola through the edge strength at the path and on both sides of it."""
    rows = np.arange(len(path))
    middle = np.clip(path, 1, edge.shape[1] - 2)
    low, here, high = (edge[rows, middle + move] for move in (-1, 0, 1))
    bend = low - 2 * here + high
    with np.errstate(divide="ignore", invalid="ignore"):
        shift = np.where(bend < 0, 0.5 * (low - high) / bend, 0.0)
    shift = np.where(np.abs(shift) <= 1, shift, 0.0) + (middle - path)
    return np.nan_to_num(shift), np.nan_to_num(edge[rows, path])


SUPPORTED = 0.7
"""Support of a region's rim from which it shows where the outline runs, about two to one on either side."""
ROUGH = (0.35, 0.20, 2.0)
"""Reach and window of the first strip as shares of the short half-axis, and distance of samples [points]."""
NARROWING = ((0.25, 0.15, 1.0), (0.12, 0.06, 0.5))
"""The same of the strips in the sharp layers, where scratches are needed too."""
FAINT = 1.5
"""Edge strength under which a place of the outline may be chance, and is left out of the fit."""
BY_BRIGHTNESS = ((0.20, 0.12, 1.0), (0.10, 0.06, 0.5))
"""The same where brightness alone, with a step of one sign, shows nearly all of the outline."""
NEARLY_ALL = 0.9
"""Share of the outline that must be clear for it."""
ENOUGH = 120
"""Points of an outline that are enough to place the next strip."""
MUCH = 0.7
"""Share of the outline that must be clear in the wider strip before the narrower one is tried."""
KEPT = 0.7
"""Share of what a sharp edge keeps in a narrower strip that must be kept at least."""
CLEAR = 2.0
"""Edge strength, in the middle of an outline, from which a narrower strip is worth more than a wider one."""


@dataclass(frozen=True, slots=True)
class ScarFit:
    """An outline with the curve fitted to it.

    Parameters
    ----------
    rim : Rim
        The ellipse, and how the fitted curve leaves it [points].
    outline : Outline
        The outline.
    away : array, shape (n,)
        Distance of each point of the outline from the fitted curve, positive outside [points].
    weights : array, shape (n,)
        Weight of each point in the fit, 0 for outliers.
    lip : float, optional
        By how much the outline was moved to the crest of a lip, root mean square [points].
    told : array, shape (n,), optional
        Edge strength that a wider strip found near the fitted curve beside each point; where marks are few
        a narrow strip hardly compares any [-].
    grown : array, shape (n,), optional
        How far outside of the fitted curve the worn region ends beside each point [points].
    support : array, shape (n,), optional
        How surely it ends there, as `Region` holds it; NaN where no region was found [-].
    """

    rim: Rim
    outline: Outline
    away: FloatArray
    weights: FloatArray
    lip: float = 0.0
    told: FloatArray = field(default_factory=lambda: np.zeros(1))
    grown: FloatArray = field(default_factory=lambda: np.zeros(1))
    support: FloatArray = field(default_factory=lambda: np.full(1, np.nan))

    @property
    def ellipse(self) -> Ellipse:
        """The ellipse [points]."""
        return self.rim.ellipse

    @property
    def clear(self) -> float:
        """Share of the outline along which the edge is clear, and near the fitted curve [1]."""
        return float((self._sharp | (self.told > FAINT)).mean())

    @property
    def clear_itself(self) -> float:
        """The same without what only wider strips show: enough to see a rim, too little to tell its shape."""
        return float(self._sharp.mean())

    @property
    def seen_either_way(self) -> float:
        """Share of the outline that an edge shows or the region beside it, near the fitted curve [1]."""
        by_region = (np.abs(self.grown) < _near(self.size)) & (np.nan_to_num(self.support) > SUPPORTED)
        return float((self._sharp | (self.told > FAINT) | by_region).mean())

    @property
    def _sharp(self) -> NDArray[np.bool_]:
        return (np.abs(self.away) < _near(self.size)) & (self.outline.strength > FAINT)

    @property
    def size(self) -> float:
        """Geometric mean of the half-axes [points]."""
        return float(np.sqrt(self.ellipse.a * self.ellipse.b))


def rough_fit(coarse: Layers, start: Ellipse, shape: tuple[int, int]) -> tuple[Rim, Outline]:
    """Trace the outline near a guess in the coarse layers.

    Parameters
    ----------
    coarse : Layers
        Layers smoothed much [-].
    start : Ellipse
        The guess [points].
    shape : tuple of int
        Rows and columns of the picture.

    Returns
    -------
    tuple of Rim and Outline
        The curve and the outline that it was fitted to.

    Raises
    ------
    ValueError
        If the outline is no ellipse, or leaves the picture.

    References
    ----------
    Definition of this package: the strip `ROUGH`.

    Examples
    --------
    >>> y, x = np.mgrid[:160, :200]
    >>> layer = Layers((np.hypot((x - 100) / 60, (y - 80) / 40) < 1)[..., None] * 1.0)
    >>> rim, _ = rough_fit(layer, Ellipse(96.0, 83.0, 50.0, 45.0, 0.0), (160, 200))
    >>> round(rim.ellipse.a), round(rim.ellipse.b)
    (60, 40)
    """
    return _traced(coarse, Rim(start), shape, ROUGH)


def _traced(
    layers: Layers, rim: Rim, shape: tuple[int, int], strip: tuple[float, float, float]
) -> tuple[Rim, Outline]:
    """Trace and fit in one strip."""
    reach, window, step = strip
    _require_room(rim.ellipse, shape)
    b = rim.ellipse.b
    outline = trace_outline(layers, rim, max(reach * b, 6.0), max(window * b, 3.0), step)
    # Points are smoothed along the outline, so neighbours tell little more; the last fit takes them all.
    some = slice(None, None, max(1, len(outline.points) // ENOUGH))
    points, clear = outline.points[some], outline.strength[some] > FAINT
    if not rim.oval:
        return followed(points, rim, clear), outline
    # A thousandth of the half-axis is enough to place the next strip.
    return fit_rim(points, rim.ellipse, clear, 1e-3), outline


def _near(size: float) -> float:
    """How far from the curve a place of the outline may lie that shows it [points]."""
    return max(0.05 * size, 1.5)


Trace = tuple[Rim, Outline]


def _narrowed(
    layers: Layers, rim: Rim, shape: tuple[int, int], strips: tuple[tuple[float, float, float], ...]
) -> list[Trace]:
    """Trace in narrower and narrower strips, as long as the edge stays clear; the narrowest comes last."""
    found: list[Trace] = []
    for strip in strips:
        try:
            narrower = _traced(layers, found[-1][0] if found else rim, shape, strip)
        except ValueError:
            break
        strength = float(np.median(narrower[1].strength))
        if found:
            best = float(np.median(found[-1][1].strength))
            # A sharp edge loses the root of the points compared, a blurred one more: it is wider than they.
            blurred = strength < KEPT * np.sqrt(strip[1] / strips[len(found) - 1][1]) * best
            # A narrow strip compares few points; in a poor picture chance would draw the outline.
            if blurred or strength < min(best, CLEAR):
                break
        elif len(strips) > 1 and layers.values.shape[2] == 1 and (narrower[1].strength > FAINT).mean() < MUCH:
            break
        found.append(narrower)
    return found


def _told(traces: list[Trace], rim: Rim, points: FloatArray) -> FloatArray:
    """Edge strength that wider strips found near a curve, beside points of the last outline."""
    told = np.zeros(len(points))
    t = rim.ellipse.nearest_angles(points)
    for _, outline in traces[:-1]:
        near = np.abs(rim.distances(outline.points)) < _near(float(np.sqrt(rim.ellipse.a * rim.ellipse.b)))
        where = rim.ellipse.nearest_angles(outline.points)
        order = np.argsort(where % (2 * np.pi))
        strength = np.where(near, outline.strength, 0.0)[order]
        beside = np.interp(t, where[order] % (2 * np.pi), strength, period=2 * np.pi)
        told = np.maximum(told, beside)
    return told


def fit_scar(
    sharp: Layers,
    rim: Rim,
    direction: float,
    shape: tuple[int, int],
    region: tuple[FloatArray, FloatArray] | None = None,
    reach: float | None = None,
) -> ScarFit:
    """Trace the outline near a rough one in the sharp layers and fit the final curve.

    Parameters
    ----------
    sharp : Layers
        Layers smoothed little [-].
    rim : Rim
        The rough curve [points].
    direction : float
        Direction of the pin's axis in the picture [rad].
    shape : tuple of int
        Rows and columns of the picture.
    region : tuple of array, optional
        Points of the rim of the worn region and their support, as `Region` holds them; only compared with the
        outline [points, -].
    reach : float, optional
        How far from the rough curve the outline may lie at most, as a share of the short half-axis [1]; as
        `BY_BRIGHTNESS` and `NARROWING` have it where it is not given.

    Returns
    -------
    ScarFit
        The result of the narrowest strip in which the edge is clear; `a` is the axis along the pin.

    Raises
    ------
    ValueError
        If the outline is no ellipse, or leaves the picture.

    References
    ----------
    Definition of this package: brightness alone where that shows nearly all of the outline, else scratches
    too; strips that grow narrower, in each the best closed path and an ellipse by least distance
    (`fit_ellipse`), with waves round it where it clearly is none (`fit_rim`). A curve that has waves from the
    start keeps its own where the edge isn't clear.

    Examples
    --------
    An oval of 60 by 40 points in noise, from a guess beside it:

    >>> from scipy.ndimage import gaussian_filter
    >>> y, x = np.mgrid[:160, :200]
    >>> noise = np.random.default_rng(1).normal(0.0, 0.3, x.shape)
    >>> layer = gaussian_filter((np.hypot((x - 100) / 60, (y - 80) / 40) < 1) + noise, 1.5)
    >>> fit = fit_scar(Layers(layer[..., None]), Rim(Ellipse(98.0, 81.0, 58.0, 38.0, 0.0)), 0.0, (160, 200))
    >>> [round(one) for one in (fit.ellipse.x, fit.ellipse.y, fit.ellipse.a, fit.ellipse.b)]
    [100, 80, 60, 40]
    """
    tone = Layers(np.ascontiguousarray(sharp.values[..., :1]))
    by_tone, by_all = (_within(strips, reach) for strips in (BY_BRIGHTNESS, NARROWING))
    found = _narrowed(tone, rim, shape, by_tone)
    if not found or (found[-1][1].strength > FAINT).mean() < NEARLY_ALL:
        # The rim of a region lies nearer than an ellipse does.
        found = _narrowed(sharp, rim, shape, by_all if rim.oval else by_tone) or found
    if not found:
        raise ValueError("the outline leaves the picture, or is too small to trace")
    rim, outline = found[-1]
    lip = np.zeros(len(outline.points))
    if sharp.values.shape[2] == SHARP:
        t = rim.ellipse.nearest_angles(outline.points)
        lip = lip_offset(sharp, rim, t, max(1.0, shape[1] / 480))
        outline = Outline(outline.points + lip[:, None] * rim.normals(t), outline.strength)
    clear = outline.strength > FAINT
    rim = _final(outline.points, rim, direction, clear)
    away = rim.distances(outline.points)
    weights = tukey_weights(away)
    weights = np.where(clear, weights, 0.0) if clear.mean() > 0.5 else weights
    told = _told(found, rim, outline.points)
    grown, support = np.zeros(len(told)), np.full(len(told), np.nan)
    if region is not None:
        grown, support = _beside(rim, region, outline.points)
    return ScarFit(rim, outline, away, weights, float(np.sqrt(np.mean(lip**2))), told, grown, support)


def _beside(
    rim: Rim, region: tuple[FloatArray, FloatArray], points: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """How far outside of a curve the rim of a region runs beside each point, and its support there."""
    where = rim.ellipse.nearest_angles(region[0]) % (2 * np.pi)
    order, t = np.argsort(where), rim.ellipse.nearest_angles(points) % (2 * np.pi)
    away, support = (
        np.interp(t, where[order], one[order], period=2 * np.pi)
        for one in (rim.distances(region[0]), region[1])
    )
    return away, support


def _final(points: FloatArray, rim: Rim, direction: float, clear: NDArray[np.bool_]) -> Rim:
    """Fit the last curve: the ellipse, or one with waves where the outline has a shape with a name.

    Any other shape follows glare or residue somewhere; there the ellipse stands in.
    """
    fitted = fit_rim(points, rim.ellipse.along(direction), clear)
    if fitted.oval and not rim.oval:
        t = np.linspace(0, 2 * np.pi, 360, endpoint=False)
        fitted = shaped(followed(points, rim, clear).points(t), fitted.ellipse)
    return Rim(fitted.ellipse) if shape_of(fitted) == "irregular" else fitted


def _within(
    strips: tuple[tuple[float, float, float], ...], reach: float | None
) -> tuple[tuple[float, float, float], ...]:
    """Keep strips from reaching farther than they may."""
    if reach is None:
        return strips
    return tuple((min(far, reach), min(window, 0.5 * reach), step) for far, window, step in strips[-1:])


def _require_room(ellipse: Ellipse, shape: tuple[int, ...]) -> None:
    rows, columns = shape
    points = ellipse.points(np.linspace(0, 2 * np.pi, 64))
    there = (points >= 0).all(axis=1) & (points[:, 0] < columns) & (points[:, 1] < rows)
    if there.mean() < 0.75 or min(ellipse.a, ellipse.b) < 6:
        raise ValueError("the outline leaves the picture, or is too small to trace")
