"""The charts of a formulation study."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pinscar.decision.responses import Response
from pinscar.page import style
from pinscar.page.style import log_ticks, padded, set_log_axis
from pinscar.study.formulation.limits import Limit
from pinscar.study.formulation.model import BlendModel
from pinscar.study.formulation.series import Dot, Series
from pinscar.study.formulation.slices import Slice
from pinscar.study.formulation.thickness import Thickness, ThicknessLine
from pinscar.study.formulation.tradeoff import Tradeoff

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]
WIDE_MM = 120.0
DOWN = "v"
"""Mark of a run whose true value lies below."""
DASHES = {"straight": (0, (6, 2)), "saturating": (0, (2, 1.5)), "threshold": (0, (6, 1.5, 1.5, 1.5))}
_BLUE = style.ROLES["candidate"].colour
_TINT = style.ROLES["candidate"].tint


def dose_chart(series: Series, response: Response, limit: Limit | None, width_mm: float) -> Figure:
    """Draw a dose series: every run, the forms, the band of the likeliest, and the least dose."""
    factor = response.shown_factor
    wide = width_mm >= WIDE_MM
    with style.report_style():
        figure = style.new_figure(88.0 if wide else 78.0, width_mm=width_mm)
        axes = figure.subplots()
        seen = [value * factor for dot in series.dots for value in dot.values]
        seen += [limit.value * factor] if limit else []
        low, high = padded(seen, 0.10)
        span = series.doses[-1] - series.doses[0]
        axes.set_xlim(series.doses[0] - 0.06 * span, series.doses[-1] + (0.24 if wide else 0.34) * span)
        _vertical_log(axes, low, high)
        if series.band:
            ends = np.array(series.band)
            axes.fill_between(
                ends[:, 0], np.maximum(ends[:, 1] * factor, low), np.minimum(ends[:, 2] * factor, high),
                color=_TINT, linewidth=0.0, zorder=0,
            )  # fmt: skip
        _curves(axes, series, factor, low, high)
        for dot in series.dots:
            _dot(axes, dot, factor, 0.012 * span)
        if limit is not None:
            _limit(axes, series, limit, factor)
        axes.set_xlabel(f"{series.additive} [%]")
        axes.set_ylabel(f"{response.label} [{response.shown_unit}]{style.LOG}")
        axes.grid(axis="y", which="major")
    return figure


def _vertical_log(axes: Axes, low: float, high: float) -> None:
    axes.set_yscale("log")
    axes.set_ylim(low, high)
    ticks = log_ticks(low, high)
    axes.set_yticks(ticks, [f"{tick:,.6g}".replace(",", "\N{NARROW NO-BREAK SPACE}") for tick in ticks])
    axes.set_yticks([], minor=True)


def _curves(axes: Axes, series: Series, factor: float, low: float, high: float) -> None:
    doses = np.linspace(series.doses[0], series.doses[-1], 121)
    heights: list[float] = []
    for place, fit in enumerate(series.fits):
        values = np.exp(fit.at(doses)) * factor
        first = place == 0
        axes.plot(
            doses, values, color=_BLUE if first else style.MUTED, linewidth=1.8 if first else 1.0,
            linestyle="-" if first else DASHES[fit.form], zorder=2,
        )  # fmt: skip
        share = "under 1" if fit.weight < 0.005 else f"{100.0 * fit.weight:.0f}"
        end = float(np.clip(values[-1], low * 1.02, high / 1.02))
        gap = (high / low) ** 0.055
        while any(max(end / other, other / end) < gap for other in heights):
            end /= gap
        heights.append(end)
        axes.annotate(
            f"{fit.form} {share} %", (doses[-1], end), (5, 0), textcoords="offset points",
            va="center", fontsize=style.TEXT_SIZE - 0.5, color=_BLUE if first else style.MUTED,
            bbox={"facecolor": style.PAPER, "edgecolor": "none", "pad": 0.6},
        )  # fmt: skip


def _dot(axes: Axes, dot: Dot, factor: float, step: float) -> None:
    places = dot.dose + step * (np.arange(len(dot.values)) - 0.5 * (len(dot.values) - 1))
    for place, value, censored in zip(places, dot.values, dot.left_censored, strict=True):
        axes.plot(
            [place], [value * factor], marker=DOWN if censored else "o", markersize=5.5 if censored else 3.6,
            markerfacecolor="none" if censored else _BLUE, markeredgecolor=_BLUE, linestyle="none", zorder=4,
        )  # fmt: skip


def _limit(axes: Axes, series: Series, limit: Limit, factor: float) -> None:
    value = limit.value * factor
    axes.axhline(value, color=style.LIMIT, linewidth=1.0, zorder=1)
    # at the left end, away from the names of the forms
    axes.annotate(
        limit.text, (axes.get_xlim()[0], value), (3, 3), textcoords="offset points", ha="left", va="bottom",
        color=style.LIMIT, fontsize=style.TEXT_SIZE - 0.5,
        bbox={"facecolor": style.PAPER, "edgecolor": "none", "pad": 0.8}, zorder=3,
    )  # fmt: skip
    if not series.least:
        return
    least = series.least[0]
    if least.low is None and least.high is None:
        return
    ends = (
        series.doses[0] if least.low is None else least.low,
        series.doses[-1] if least.high is None else least.high,
    )
    axes.plot(ends, [value, value], color=style.LIMIT, linewidth=4.0, solid_capstyle="butt", zorder=5)
    if least.estimate is not None and not least.extrapolated:
        axes.plot(
            [least.estimate], [value], marker="D", markersize=6.0, color=style.LIMIT,
            markeredgecolor=style.PAPER, zorder=6,
        )  # fmt: skip


def effects_chart(model: BlendModel, width_mm: float) -> Figure:
    """Draw what each component does, with simultaneous intervals."""
    effects = list(reversed(model.effects))
    ends = [one for effect in effects for one in (effect.low, effect.high, effect.ratio) if one is not None]
    with style.report_style():
        figure = style.new_figure(min(11.0, 150.0 / len(effects)) * len(effects) + 24.0, width_mm=width_mm)
        axes = figure.subplots()
        low, high = padded([*ends, 1.0], 0.08)
        axes.axvline(1.0, color=style.MUTED, linewidth=1.0, zorder=1)
        for row, effect in enumerate(effects):
            if effect.low is not None and effect.high is not None:
                axes.plot(
                    [effect.low, effect.high], [row, row], color=_BLUE, linewidth=4.0, solid_capstyle="butt"
                )
            axes.plot(
                [effect.ratio], [row], marker="o", markersize=7.0, color=_BLUE, markeredgecolor=style.PAPER
            )
        labels = [
            f"{one.component}\n{100.0 * one.lowest:.3g} to {100.0 * one.highest:.3g} %" for one in effects
        ]
        axes.set_yticks(range(len(effects)), labels)
        axes.set_ylim(-0.6, len(effects) - 0.4)
        axes.tick_params(axis="y", length=0)
        axes.spines["left"].set_visible(False)
        axes.grid(axis="x", which="major")
        set_log_axis(axes, low, high)
        axes.set_xlabel(f"{model.runs.response.label}: ratio of highest to lowest share{style.LOG}")
    return figure


def ternary_chart(model: BlendModel, cut: Slice, width_mm: float) -> Figure:
    """Draw the prediction over a triangle of three components, with the blends tested on it."""
    from matplotlib.colors import ListedColormap
    from matplotlib.ticker import MaxNLocator
    from matplotlib.tri import Triangulation
    from scipy.spatial import ConvexHull, QhullError

    names, fit = [model.data.names[i] for i in cut.places], model.fit
    values = np.exp(fit.row(cut.shares(cut.grid)) @ fit.coefficients) * model.runs.response.shown_factor
    tested = cut.on_it(model.tested)
    xy, points = _flat(cut.grid), _flat(cut.parts(tested))
    wide = width_mm >= WIDE_MM
    with style.report_style():
        figure = style.new_figure(104.0 if wide else 84.0, width_mm=width_mm)
        axes = figure.subplots()
        tri = Triangulation(xy[:, 0], xy[:, 1])
        if cut.inside.size:
            among = values[cut.inside] if cut.inside.any() else values
        else:
            among = np.exp(fit.row(tested) @ fit.coefficients) * model.runs.response.shown_factor
        levels = MaxNLocator(7).tick_values(float(among.min()), float(among.max()))
        drawn = axes.tricontour(tri, values, levels=levels, colors=style.RULE, linewidths=1.0)
        blue = not cut.inside.size or bool(cut.inside[tri.triangles].all(axis=1).any())
        if cut.inside.size and blue:
            out = ~cut.inside[tri.triangles].all(axis=1)
            axes.tripcolor(
                Triangulation(xy[:, 0], xy[:, 1], tri.triangles, mask=out), np.zeros(len(xy)),
                cmap=ListedColormap([_TINT]), shading="flat", zorder=0, rasterized=False,
            )  # fmt: skip
            tri.set_mask(out)
        try:
            hull = ConvexHull(points if not cut.inside.size else xy[:0])
            axes.fill(
                *points[hull.vertices].T, facecolor=_TINT, edgecolor=style.MUTED, linewidth=0.8, zorder=0
            )
            centres = xy[tri.triangles].mean(axis=1)
            faces = centres @ hull.equations[:, :2].T + hull.equations[:, 2]
            tri.set_mask(np.any(faces > 0.0, axis=1))
        except (
            QhullError,
            ValueError,
        ):  # the blends tested lie on a line: everything beside it is extrapolation
            pass
        if blue:
            drawn = axes.tricontour(tri, values, levels=levels, colors=_BLUE, linewidths=1.4)
        axes.clabel(drawn, fmt="%.4g", fontsize=style.TEXT_SIZE - 0.5)
        axes.plot(*np.vstack([_flat(np.eye(3)), _flat(np.eye(3))[:1]]).T, color=style.MUTED, linewidth=1.0)
        if len(points):
            axes.plot(*points.T, "o", color=style.INK, markersize=4.5, zorder=5)
        _corners(axes, names, cut.low, cut.free)
        axes.set_aspect("equal")
        axes.set_xlim(-0.30, 1.30)
        axes.set_ylim(-0.14, 1.04)
        axes.axis("off")
    return figure


def _flat(shares: FloatArray) -> FloatArray:
    """Place shares in an equilateral triangle: the first component at the top."""
    return np.column_stack([shares[:, 2] + 0.5 * shares[:, 0], shares[:, 0] * np.sqrt(3.0) / 2.0])


def _corners(axes: Axes, names: Sequence[str], low: FloatArray, free: float) -> None:
    places = [(0.5, np.sqrt(3.0) / 2.0, "center", "bottom", 4), (0.0, 0.0, "right", "top", -4),
              (1.0, 0.0, "left", "top", -4)]  # fmt: skip
    for i, (x, y, across, up, shift) in enumerate(places):
        text = f"{names[i]}\n{100.0 * (low[i] + free):.3g} %"
        axes.annotate(
            text, (x, y), (0, shift), textcoords="offset points", ha=across, va=up, fontsize=style.TEXT_SIZE
        )


def tradeoff_chart(tradeoff: Tradeoff, width_mm: float) -> Figure:
    """Draw the blends in all respects, beside each other, with how sure it is that none beats them."""
    rows, respects = len(tradeoff.names), tradeoff.respects
    wide = width_mm >= WIDE_MM
    shown = respects if wide else respects[:2]
    with style.report_style():
        figure = style.new_figure(8.0 * rows + 30.0, width_mm=width_mm)
        grid = figure.subplots(1, len(shown), sharey=True, squeeze=False)[0]
        for axes, one in zip(grid, shown, strict=True):
            ends = [v for three in zip(one.lows, one.highs, one.estimates, strict=True) for v in three if v]
            for row in range(rows):
                colour = _BLUE if tradeoff.unbeaten[row] else style.MUTED
                low, high = one.lows[row], one.highs[row]
                if low is not None and high is not None:
                    axes.plot([low, high], [row, row], color=colour, linewidth=3.2, solid_capstyle="butt")
                axes.plot(
                    [one.estimates[row]], [row], marker="o", markersize=6.0, color=colour,
                    markerfacecolor=colour if tradeoff.unbeaten[row] else style.PAPER,
                )  # fmt: skip
            set_log_axis(axes, *padded(ends, 0.08), wanted=3)
            arrow = "more is better" if one.higher_is_better else "less is better"
            # one under the other, since four charts stand side by side
            axes.set_xlabel(f"{one.label}\n[{one.unit}]\n{arrow}")
            axes.grid(axis="x", which="major")
            axes.spines["left"].set_visible(False)
            axes.tick_params(axis="y", length=0)
        grid[0].set_yticks(range(rows), [name.replace(", ", "\n") for name in tradeoff.names])
        grid[0].set_ylim(rows - 0.4, -0.6)
        for row, chance in enumerate(tradeoff.chances):
            grid[-1].annotate(
                f"{100.0 * chance:.0f} %", (1.0, row), (6, 0), xycoords=("axes fraction", "data"),
                textcoords="offset points", va="center", fontsize=style.TEXT_SIZE - 0.5,
                annotation_clip=False,
            )  # fmt: skip
    return figure


def thickness_chart(model: BlendModel, thickness: Thickness, width_mm: float) -> Figure:
    """Draw the medians of the batches against viscosity, with the line through them."""
    factor, response = model.runs.response.shown_factor, model.runs.response
    known = [line for line in thickness.lines if line.log is not None]
    x = np.array([line.viscosity * 1e6 for line in known])
    y = np.array([float(np.exp(line.log or 0.0)) * factor for line in known])
    with style.report_style():
        figure = style.new_figure(80.0, width_mm=width_mm)
        axes = figure.subplots()
        across = np.geomspace(x.min(), x.max(), 40)
        line = np.exp(thickness.start + thickness.slope * np.log(across)) * factor
        axes.plot(across, line, color=style.MUTED, linewidth=1.2)
        axes.plot(x, y, "o", color=_BLUE, markersize=5.0)
        low, high = padded([*y.tolist(), *line.tolist()], 0.12)
        _vertical_log(axes, low, high)
        for one, a, b in _spread(known, x, y, (high / low) ** 0.045):
            axes.annotate(
                one, (a, b), (6, 0), textcoords="offset points", va="center", fontsize=style.TEXT_SIZE - 1.0
            )
        left, right = padded(x.tolist(), 0.08)
        set_log_axis(axes, left, right * 1.03)
        axes.set_xlabel(f"Kinematic viscosity at {thickness.temperature - 273.15:.0f} °C [mm²/s]{style.LOG}")
        axes.set_ylabel(f"{response.label} [{response.shown_unit}]{style.LOG}")
        axes.grid(which="major")
    return figure


def _spread(
    known: Sequence[ThicknessLine], x: FloatArray, y: FloatArray, gap: float
) -> list[tuple[str, float, float]]:
    """Place names beside their dots, moved apart where dots of one viscosity lie close."""
    placed: list[tuple[str, float, float]] = []
    for i in np.argsort(y):
        height = float(y[i])
        while any(
            abs(np.log(x[i] / a)) < 0.02 and height / b < gap for _, a, b in placed if b <= height * 1.0001
        ):
            height *= 1.005
        placed.append((known[i].name, float(x[i]), height))
    return placed
