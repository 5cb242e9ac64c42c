"""Read a scar on a micrograph: axes, area, angle, each with its uncertainty, or a plain refusal.

A scar is told from ground pin by brightness and by the direction and strength of its scratches. Every reading
has a score from 0 to 1.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pinscar.evidence.ellipse import Ellipse
from pinscar.evidence.grey import reduced
from pinscar.evidence.oval_search import best_apart, grid_of_ovals, settled
from pinscar.evidence.scar_band import Bands, bands_beside, inside_of
from pinscar.evidence.scar_light import even_logarithm, seen_part
from pinscar.evidence.scar_marks import Marks, compared, marks_along, worn
from pinscar.evidence.scar_outline import ScarFit, fit_scar, rough_fit
from pinscar.evidence.scar_quality import (
    ACCEPTED,
    ENOUGH,
    Quality,
    Size,
    quality_of,
    size_of,
    whole_spread,
)
from pinscar.evidence.scar_region import Region, grown_region
from pinscar.evidence.scar_rim import (
    GREY_LEVEL,
    Layers,
    Rim,
    fine_layers,
    scar_features,
    shape_of,
)

FloatArray = NDArray[np.float64]
WORKING = 800
"""Pictures longer than this are averaged down before anything is looked for [points]."""
SEARCHED = 120
"""Width at which the oval is looked for [points]."""
SHARED = 0.3
"""Correlation of the errors of length and width that the area's uncertainty takes; set on renderings."""
LEAST = 3.0
"""Levels of grey that a picture must span before anything is looked for."""
STRETCHED = 8
"""Longest side over shortest side of a picture that is measured."""
WIDE = "read by hand: the oval found is wider than the pin, so the scale or the oval is wrong"
LONG = "read by hand: the oval found is longer than the ring can cut, so the scale or the oval is wrong"
EVEN = "read by hand: the picture is one even grey"
CUT_OFF = "cut off"
NOTHING = "read by hand: no oval found"


@dataclass(frozen=True, slots=True, kw_only=True)
class ScarReading:
    """What was read of a scar. A reading that is not accepted carries no numbers, only where it looked.

    Parameters
    ----------
    accepted : bool
        Whether the numbers may be used.
    score : float
        Quality from 0 to 1; accepted from 0.93.
    reason : str
        Why it must be read by hand; empty where accepted.
    length, width : float or None
        Axis nearer the pin's axis, and the other one; extents along them where the outline has another
        shape with a name [m].
    length_uncertainty, width_uncertainty : float or None
        Standard uncertainties from resampled edges and scale [m].
    ellipse_area : float or None
        Area of the fitted ellipse [m²].
    area : float or None
        Area inside the traced outline [m²].
    area_uncertainty : float or None
        Standard uncertainty of the area [m²].
    angle : float or None
        Direction of the length axis, from the image's x axis towards its y axis (down) [rad].
    roughness : float or None
        Root mean square distance of the outline from the ellipse, outliers left out [m].
    ellipse : Ellipse or None
        The ellipse in points of the picture; of a refused reading the best guess, to start reading by hand
        from.
    outline : array, shape (n, 2)
        Points of the outline, columns and rows [points]; empty where nothing was found.
    used : array of bool, shape (n,)
        Which of them the fit used.
    shape : str
        Name of the outline's shape, as `shape_of` gives it. A refused reading has none, but ``cut off`` where
        a worn oval goes on beyond what is seen.
    """

    accepted: bool
    score: float
    reason: str
    length: float | None
    width: float | None
    length_uncertainty: float | None
    width_uncertainty: float | None
    ellipse_area: float | None
    area: float | None
    area_uncertainty: float | None
    angle: float | None
    roughness: float | None
    ellipse: Ellipse | None
    outline: FloatArray
    used: NDArray[np.bool_]
    shape: str = ""


def measure_scar(
    image: NDArray[np.generic],
    scale: float,
    scale_uncertainty: float = 0.0,
    direction: float = 0.0,
    seed: int = 0,
    largest: tuple[float, float] = (float("inf"), float("inf")),
) -> ScarReading:
    """Measure the scar on a micrograph.

    The oval is looked for in brightness and in the direction and strength of scratches. The region that looks
    worn is grown from it, whatever its shape; an outline is traced near both to a fraction of a point and an
    ellipse of least distance fitted, outliers losing their weight. Where the outline has another shape with a
    name, length and width are its extents along and across. Of two outlines of one oval the plain ellipse is
    preferred; where they are as likely and differ by more than 5 %, neither is accepted. Inside,
    striations must run along the pin, and around it they must not; nothing else in the picture may look as
    much like a scar. A black surround, as of an eyepiece, is no part of the picture.

    Standard uncertainty: `RESAMPLED` times the spread on resampling stretches of the outline; `PLACEMENT`, by
    which a whole outline may lie inside or outside of the true edge, more where it stands out little or parts
    of it aren't seen; and the scale's, added in quadrature.

    Parameters
    ----------
    image : array, shape (rows, columns) or (rows, columns, channels)
        The picture, points as wide as high [grey or colour values].
    scale : float
        Size of one point [m].
    scale_uncertainty : float, optional
        Its relative standard uncertainty [1].
    direction : float, optional
        Direction of the pin's axis in the picture, from x towards y (down) [rad].
    seed : int, optional
        Seed of the resampling.
    largest : tuple of float, optional
        Longest and widest scar that the bodies can make; a larger one is refused [m].

    Returns
    -------
    ScarReading
        The reading, or why there is none.

    Raises
    ------
    ValueError
        If the array is no picture or a strip eight times as long as high, or the scale is not positive.

    References
    ----------
    Own method; its parts name their sources. Uncertainty: JCGM 100:2008 (GUM), section 5.

    Examples
    --------
    A pin with grinding marks across and a scar with striations along it:

    >>> y, x = np.mgrid[:240, :320]
    >>> rng = np.random.default_rng(1)
    >>> ground, worn = 0.6 + 0.02 * rng.normal(size=(1, 320)), 0.4 + 0.02 * rng.normal(size=(240, 1))
    >>> oval = np.hypot((x - 160) / 100, (y - 120) / 55) < 1
    >>> reading = measure_scar(np.where(oval, worn, ground), scale=10e-6)
    >>> reading.accepted, round(reading.length * 1e3, 1), round(reading.width * 1e3, 1)
    (True, 2.0, 1.1)
    """
    if not scale > 0:
        raise ValueError(f"the scale must be a positive size of one point, not {scale}")
    rows, columns = np.shape(image)[:2] if np.ndim(image) > 1 else (1, 1)
    if max(rows, columns) > STRETCHED * min(rows, columns):
        raise ValueError(
            f"the picture is {columns} x {rows} points; one side may be at most {STRETCHED} times the other"
        )
    brightness, factor = reduced(image, WORKING)
    if float(np.ptp(np.percentile(brightness, (0.5, 99.5)))) < LEAST * GREY_LEVEL:
        return _refused(0.0, EVEN, None, np.empty((0, 2)), np.empty(0, dtype=bool))
    found = _best_fit(brightness, direction, seed)
    if found is None:
        return _refused(0.0, NOTHING, None, np.empty((0, 2)), np.empty(0, dtype=bool))
    fit, size, quality = found
    where = (fit.outline.points + 0.5) * factor - 0.5
    e = fit.ellipse
    ellipse = Ellipse(
        (e.x + 0.5) * factor - 0.5, (e.y + 0.5) * factor - 0.5, e.a * factor, e.b * factor, e.angle
    )
    if quality.score < ACCEPTED:
        shape = CUT_OFF if quality.cut_off else ""
        return _refused(quality.score, quality.reason, ellipse, where, fit.weights > 0, shape)
    for extent, bound, reason in ((size.width, largest[1], WIDE), (size.length, largest[0], LONG)):
        if extent * factor * scale > bound:
            return _refused(quality.score, reason, ellipse, where, fit.weights > 0)
    spread = whole_spread(fit, size)
    return _accepted(found, ellipse, where, spread, scale * factor, scale_uncertainty)


Found = tuple[ScarFit, Size, Quality]
STARTS, TRACED = 3, 2
"""How many ovals are moved to where they fit, and how many of them are traced to the end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Prepared:
    """A picture made ready to be searched.

    Attributes
    ----------
    brightness : array
        The picture.
    coarse, sharp : Layers
        What changes at the outline.
    marks : Marks
        Marks along the pin and across it.
    direction : float
        Direction of the pin's axis [rad].
    seed : int
        Seed of the resampling.
    """

    brightness: FloatArray
    coarse: Layers
    sharp: Layers
    fine: Layers
    marks: Marks
    direction: float
    seed: int


def _best_fit(brightness: FloatArray, direction: float, seed: int) -> Found | None:
    """Find the likeliest scar; where another one is as likely, its quality says so."""
    grain = max(1.0, brightness.shape[1] / 480)
    block = max(1, round(max(brightness.shape) / SEARCHED))
    seen = seen_part(brightness)
    logarithm = even_logarithm(brightness, seen)
    least = GREY_LEVEL / max(float(np.median(brightness[seen])), 4 * GREY_LEVEL)
    coarse, sharp = scar_features(logarithm, seen, grain, block, least)
    picture = _Prepared(
        brightness=brightness,
        coarse=coarse,
        sharp=sharp,
        fine=fine_layers(logarithm, seen, grain, 2, least),
        marks=marks_along(logarithm, seen, direction, grain, least),
        direction=direction,
        seed=seed,
    )
    ovals, scores = grid_of_ovals(coarse.values, direction)
    starts = best_apart(ovals, scores, STARTS)
    found = _finished(*_rough(picture, starts), picture)
    if not found:
        return None
    best, *rest = found
    if best[2].score >= ACCEPTED and any(_disagrees(one, best) for one in rest):
        return best[0], best[1], replace(best[2], agreed=0.0)
    if best[2].score < ACCEPTED:
        return best
    e = best[0].ellipse
    small = Ellipse((e.x + 0.5) / block - 0.5, (e.y + 0.5) / block - 0.5, e.a / block, e.b / block, e.angle)
    # An oval across which marks run is no second scar; where it lies exactly tells nothing more.
    elsewhere = [
        start
        for rank, start in enumerate(best_apart(ovals, scores, ELSEWHERE[1], small))
        if _may_be_worn(_enlarged(Ellipse(*(float(v) for v in start)), block), picture.marks, rank)
    ]
    others, regions = _rough(picture, np.array(elsewhere[:STARTS]).reshape(-1, 5))
    rest += _finished(others, regions, picture)
    rival = any(_rivals(one, best) for one in rest)
    # An oval that is as surely worn and not much narrower, which streaks of oil are, is a second scar,
    # however poorly its outline could be traced.
    as_worn = any(
        worn(rim.ellipse, picture.marks) >= 1
        and _apart(rim.ellipse, e)
        and min(rim.ellipse.a, rim.ellipse.b) > AS_WIDE * min(e.a, e.b)
        for rim in others + [one.rim for one in regions]
    )
    return best[0], best[1], replace(best[2], alone=0.0 if rival or as_worn else 1.0)


RIVAL, AS_WIDE, AS_CLEAR = 0.35, 0.6, 0.5
"""Score of another oval from which it could be the scar as well; and the least width and strength of its rim,
over those of the first, from which it could be so for its wear or its rim alone."""
ACROSS = -2.0
"""Excess of marks along the pin, over its standard error, below which they run across."""
ELSEWHERE = (2, 8)
"""How many other ovals are looked at closely, and how many more are if they are surely worn."""


def _may_be_worn(oval: Ellipse, marks: Marks, rank: int) -> bool:
    """Tell whether another oval may be a second scar: a small one is not among the first."""
    if rank < ELSEWHERE[0]:
        return compared(oval, marks)[0] > ACROSS
    return worn(oval, marks) >= 1


def _rivals(one: Found, best: Found) -> bool:
    """Tell whether another oval could be the scar as well.

    Where marks are hardly seen, a rim as clear and as wide tells no less without them.
    """
    (fit, size, quality), (first, its_size, _) = one, best
    if not _apart(fit.ellipse, first.ellipse):
        return False
    clear = np.median(fit.outline.strength) > AS_CLEAR * np.median(first.outline.strength)
    wide = min(size.length, size.width) > AS_WIDE * min(its_size.length, its_size.width)
    return quality.score >= RIVAL or bool(quality.rim >= ENOUGH and clear and wide)


def _apart(one: Ellipse, other: Ellipse) -> bool:
    """Tell whether the middles of two ovals lie outside of each other's half-axes."""
    return bool(np.hypot(one.x - other.x, one.y - other.y) > 0.9 * max(one.b, other.b))


NEARLY, APART = 0.85, 0.05
"""Score of another outline of the same oval, and its difference in an axis, from which neither is sure."""

PLAIN = 0.92
"""Share of an outline that must be clear and near its ellipse, from which no other shape is looked for."""


def _disagrees(one: Found, best: Found) -> bool:
    """Tell whether another outline of the same oval is nearly as likely, and of another size."""
    (fit, size, quality), (first, its_size, _) = one, best
    if quality.score < NEARLY or _apart(fit.ellipse, first.ellipse):
        return False
    if first.rim.oval and first.clear >= PLAIN and not fit.rim.oval:
        return False
    return max(abs(size.length / its_size.length - 1), abs(size.width / its_size.width - 1)) > APART


def _preference(found: Found) -> float:
    """Prefer good outlines, and of good ones the clearer and larger: an oval within a scar is none."""
    fit, _, quality = found
    strength = min(float(np.median(fit.outline.strength)), 8.0)
    return float((quality.score + 0.01 * fit.seen_either_way) * strength * np.sqrt(fit.size))


def _rough(picture: _Prepared, starts: FloatArray) -> tuple[list[Rim], list[Region]]:
    """Move ovals of the grid to where they fit; trace them roughly, the clearest first, and grow regions."""
    shape = picture.brightness.shape
    rough: list[tuple[Rim, float]] = []
    moved = [_enlarged(oval, picture.coarse.block) for oval, _ in settled(picture.coarse.values, starts)]
    # One that isn't worn is traced only if there is no other, to say why it is refused.
    marked = [oval for oval in moved if worn(oval, picture.marks) > 0]
    for start in marked or moved[:1]:
        if any(_alike(start, other.ellipse) for other, _ in rough):
            continue
        try:
            rim, outline = rough_fit(picture.coarse, start, (shape[0], shape[1]))
        except ValueError:
            continue
        if not any(_alike(rim.ellipse, other.ellipse) for other, _ in rough):
            rough.append((rim, float(np.median(outline.strength))))
    return [rim for rim, _ in sorted(rough, key=lambda one: -one[1])], _grown(picture, marked)


def _grown(picture: _Prepared, ovals: list[Ellipse]) -> list[Region]:
    """Grow regions from ovals; those that aren't worn, or that another one is like, are left out."""
    found: list[Region] = []
    for oval in ovals:
        if any(_within(oval, other.rim.ellipse) for other in found):
            continue
        region = grown_region(picture.coarse, picture.fine, oval)
        if region is None or worn(region.rim.ellipse, picture.marks) == 0:
            continue
        if not any(_alike(region.rim.ellipse, other.rim.ellipse) for other in found):
            found.append(region)
    return found


def _within(one: Ellipse, other: Ellipse) -> bool:
    sizes = abs(np.log(one.a * one.b / (other.a * other.b)))
    return bool(sizes < 0.5 and np.hypot(one.x - other.x, one.y - other.y) < 0.3 * other.b)


def _enlarged(oval: Ellipse, block: int) -> Ellipse:
    """Turn an oval on squares of points to one on points."""
    x, y = (oval.x + 0.5) * block - 0.5, (oval.y + 0.5) * block - 0.5
    return Ellipse(x, y, oval.a * block, oval.b * block, oval.angle)


def _finished(rims: list[Rim], regions: list[Region], picture: _Prepared) -> list[Found]:
    """Trace rough rims and rims of regions to the end; the best first."""
    shape = picture.brightness.shape
    done: list[Found] = []
    likely = [rim for rim in rims if worn(rim.ellipse, picture.marks) > 0]
    for rim in (likely[:TRACED] or rims[:1]) + [one.rim for one in regions]:
        if any(_sure(other) and not _apart(other[0].ellipse, rim.ellipse) for other in done):
            continue
        near = [one for one in regions if not _apart(one.rim.ellipse, rim.ellipse)]
        near.sort(key=lambda one: _unlike(one.rim.ellipse, rim.ellipse))
        region = (near[0].points, near[0].support) if near else None
        try:
            fit = fit_scar(picture.sharp, rim, picture.direction, (shape[0], shape[1]), region)
        except ValueError:
            continue
        done.append(_without_band(fit, picture, region))
    # The plainest form that explains the outline comes first: glare or residue makes other ones.
    plain = [one[0].rim.oval and one[2].score >= ACCEPTED for one in done]
    order = sorted(range(len(done)), key=lambda i: (not plain[i], -_preference(done[i]), -done[i][2].score))
    return [done[i] for i in order]


def _unlike(one: Ellipse, other: Ellipse) -> float:
    """How unlike two ovals are."""
    sizes = abs(np.log(one.a * one.b / (other.a * other.b)))
    return float(sizes + np.hypot(one.x - other.x, one.y - other.y) / other.b)


def _judged(fit: ScarFit, picture: _Prepared) -> Found:
    size = size_of(fit, np.random.default_rng(picture.seed))
    quality = quality_of(fit, size, picture.brightness, picture.sharp, picture.marks, picture.direction)
    return fit, size, quality


def _without_band(fit: ScarFit, picture: _Prepared, region: tuple[FloatArray, FloatArray] | None) -> Found:
    """Trace the scar inside of a band; where no line in it is surely the rim, the quality says so."""
    shape = (picture.brightness.shape[0], picture.brightness.shape[1])
    grain = max(1.0, shape[1] / 480)

    def beside(rim: Rim) -> Bands:
        return bands_beside(rim, picture.sharp, picture.marks, picture.direction, grain)

    bands = beside(fit.rim)
    found = _judged(fit, picture)
    if not bands.doubtful:
        return found
    within = []
    for depth in bands.inner:
        reach = max(REACHED * abs(depth), 6.0 * grain / min(fit.ellipse.a, fit.ellipse.b))
        try:
            start = inside_of(fit.rim, depth)
            inner = fit_scar(picture.sharp, start, picture.direction, shape, region, reach)
        except ValueError:
            continue
        if not beside(inner.rim).doubtful:
            within.append(_judged(inner, picture))
    if within:
        return max(within, key=_preference)
    return found[0], found[1], replace(found[2], single=0.0)


REACHED = 0.5
"""How far a line within a band is followed, over its distance from the band's outer edge."""
SURE, STANDS_OUT = 0.95, 4.5
"""Score and median edge strength of a traced oval from which another start on the same place is not tried."""


def _sure(found: Found) -> bool:
    fit, _, quality = found
    return quality.score >= SURE and float(np.median(fit.outline.strength)) >= STANDS_OUT


def _alike(one: Ellipse, other: Ellipse) -> bool:
    sizes = abs(np.log(one.a / other.a)), abs(np.log(one.b / other.b))
    return bool(max(sizes) < 0.15 and np.hypot(one.x - other.x, one.y - other.y) < 0.1 * other.b)


def _refused(
    score: float,
    reason: str,
    guess: Ellipse | None,
    outline: FloatArray,
    used: NDArray[np.bool_],
    shape: str = "",
) -> ScarReading:
    return ScarReading(
        accepted=False,
        score=score,
        reason=reason,
        length=None,
        width=None,
        length_uncertainty=None,
        width_uncertainty=None,
        ellipse_area=None,
        area=None,
        area_uncertainty=None,
        angle=None,
        roughness=None,
        ellipse=guess,
        outline=outline,
        used=used,
        shape=shape,
    )


def _accepted(
    found: Found,
    ellipse: Ellipse,
    outline: FloatArray,
    spread: FloatArray,
    scale: float,
    scale_uncertainty: float,
) -> ScarReading:
    """Turn points to metres; `scale` is that of the picture in which the fit was made."""
    fit, size, quality = found
    axes = np.array([size.length, size.width])
    relative = np.hypot(spread / axes, scale_uncertainty)
    # The axes share the scale, which adds linearly, and some of the rest.
    one, other = spread / axes
    of_area = np.hypot(np.sqrt(one**2 + other**2 + 2 * SHARED * one * other), 2 * scale_uncertainty)
    return ScarReading(
        accepted=True,
        score=quality.score,
        reason="",
        length=size.length * scale,
        width=size.width * scale,
        length_uncertainty=float(size.length * scale * relative[0]),
        width_uncertainty=float(size.width * scale * relative[1]),
        ellipse_area=fit.ellipse.area * scale**2,
        area=size.area * scale**2,
        area_uncertainty=float(size.area * scale**2 * of_area),
        angle=fit.ellipse.angle,
        roughness=float(np.sqrt(np.average(fit.away**2, weights=fit.weights))) * scale,
        ellipse=ellipse,
        outline=outline,
        used=fit.weights > 0,
        shape=shape_of(fit.rim),
    )
