"""The tables of a formulation study."""

from __future__ import annotations

import math

from pinscar.page.markup import Markup, table
from pinscar.study.formulation.blends import WeighOut, percent
from pinscar.study.formulation.limits import KNOWN
from pinscar.study.formulation.model import BlendModel
from pinscar.study.formulation.proposals import Proposals
from pinscar.study.formulation.series import Series
from pinscar.study.formulation.study import FormulationStudy, blend_names
from pinscar.study.formulation.thickness import Thickness
from pinscar.study.formulation.tradeoff import Tradeoff
from pinscar.study.formulation.words import least_text
from pinscar.wording import fixed, listing, significant, with_interval

A_BOUND = (
    "Runs of the response that is modelled, at the load that is modelled. A bound is a run whose wear had "
    "not stopped: the film carries less than its value."
)
MOST_COLUMNS = 6
"""Components that have a column each; with more a page is not wide enough."""
NOTES = {
    "improvement": "Expected gain: over the best blend tested within the limits, losses counted as nothing. "
    "Chance of limits: of keeping all of them together, with what batches have in common between responses.",
    "D": "Mean variance less by: how much more certain predictions within the bounds become, with those "
    "above it on the list.",
    "I": "Mean variance less by: how much more certain predictions within the bounds become, with those "
    "above it on the list.",
}


def blends_table(study: FormulationStudy) -> Markup:
    """Tabulate the batches: what is in them, and what is stated of them."""
    blends, runs = study.blends, study.runs
    priced = any(one.price is not None for one in blends.batches)
    lossy = any(one.drive_loss is not None for one in blends.batches)
    head: list[str | tuple[str, str]] = ["Batch", "Campaigns"]
    head += _share_heads(blends.components)
    head += ["Runs", "of them bounds"]
    head += [("Price", f"{blends.currency}/kg")] if priced else []
    head += [("Drive loss", "W")] if lossy else []
    rows = []
    for place, one in enumerate(blends.batches):
        own = runs.batches == place
        row = [one.name, listing(list(one.campaigns))]
        row += _share_cells(blends.components, one.shares.tolist())
        row += [str(int(own.sum())), str(int((own & runs.left_censored).sum()))]
        row += ["not stated" if one.price is None else fixed(one.price, 2)] if priced else []
        row += ["not stated" if one.drive_loss is None else significant(one.drive_loss)] if lossy else []
        rows.append(row)
    return table(
        head, rows, caption="The batches and what is in them, by mass", key="batches",
        number_columns=range(2 if len(blends.components) <= MOST_COLUMNS else 3, len(head)),
        long=len(rows) > 20,
        note=A_BOUND if runs.left_censored.any() else None,
    )  # fmt: skip


def forms_table(study: FormulationStudy, series: Series, number: int) -> Markup:
    """Tabulate the forms of a series side by side."""
    factor = study.response.shown_factor
    head: list[str | tuple[str, str]] = [
        "Form",
        "AICc",
        ("Weight", "%"),
        ("At the lowest dose", study.response.shown_unit),
        ("At the highest dose", study.response.shown_unit),
        ("Bend", "%"),
    ]
    head += [f"Least dose for {study.limit.text}"] if series.least and study.limit else []
    rows = []
    for place, fit in enumerate(series.fits):
        ends = [math.exp(float(fit.at([dose])[0])) * factor for dose in (series.doses[0], series.doses[-1])]
        row = [
            fit.form.capitalize(),
            fixed(fit.aicc, 1) if math.isfinite(fit.aicc) else "too few runs",
            fixed(100.0 * fit.weight, 0) if fit.weight > 0.005 else "under 1",
            significant(ends[0]),
            significant(ends[1]),
            "none" if fit.form == "straight" else significant(fit.bend, 2),
        ]
        row += [least_text(series.least[place])] if series.least else []
        rows.append(row)
    return table(
        head, rows, caption=f"Forms of the curve of {series.additive}, the likeliest first",
        key=f"forms-{number}", number_columns=(1, 2, 3, 4, 5),
        note="Straight: ln y = a + b d. Saturating: ln y = a + b d / (K + d), with the bend K. Threshold: no "
        "effect up to the bend, then straight. Weight: how the AICc shares out among the forms fitted.",
    )  # fmt: skip


def coefficients_table(model: BlendModel) -> Markup:
    """Tabulate the terms of the model that is used."""
    from pinscar.study.formulation.proposals import interval_factor

    fit = model.fit
    factor = interval_factor(model)
    prime = "′" if fit.is_pseudo else ""
    rows = []
    for i, term in enumerate(fit.terms):
        value, error = float(fit.coefficients[i]), float(fit.covariance[i, i]) ** 0.5
        half = None if factor is None else factor * error
        rows.append(
            [
                " × ".join(f"{fit.names[j]}{prime}" for j in term),
                fixed(value, 3) if half is None else with_interval(value, value - half, value + half),
                fixed(error, 3),
            ]
        )
    note = (
        f"On the natural logarithm of the {model.runs.response.label.lower()} in {model.runs.response.unit}."
    )
    if fit.is_pseudo:
        low = ", ".join(f"{percent(v)} % {n}" for n, v in zip(fit.names, fit.lowest, strict=True) if v > 0.0)
        note += (
            " The range is narrow, so the terms are those of pseudo-components (′), which start from "
            f"{low} and "
            "share out the rest; predictions are the same either way."
        )
    return table(
        ["Term", "Coefficient", "Standard error"], rows, caption="Terms of the mixture model", key="terms",
        number_columns=(1, 2), note=note,
    )  # fmt: skip


def effects_table(model: BlendModel) -> Markup:
    """Tabulate what each component does."""
    rows = [
        [
            one.component,
            percent(one.lowest),
            percent(one.highest),
            significant(one.ratio)
            if one.low is None or one.high is None
            else with_interval(one.ratio, one.low, one.high),
        ]
        for one in model.effects
    ]
    return table(
        ["Component", ("From", "%"), ("To", "%"), "Ratio"], rows,
        caption=f"What each component does to the {model.runs.response.label.lower()}", key="effects",
        number_columns=(1, 2, 3),
        note="The share of one component goes from the least to the most tested, the others keep their "
        f"proportions. {100.0 * model.confidence:g} % intervals that hold together (Bonferroni).",
    )  # fmt: skip


def left_out_table(model: BlendModel, study: FormulationStudy) -> Markup:
    """Tabulate each blend as predicted by the others."""
    factor = model.runs.response.shown_factor
    rows = []
    order = [batch.name for batch in study.blends.batches]
    named = [(blend_names(one, model, study), one) for one in model.left_out]
    for names, one in sorted(named, key=lambda pair: order.index(pair[0][0])):
        seen = None if one.observed is None else math.exp(one.observed) * factor
        ahead = None if one.predicted is None else math.exp(one.predicted) * factor
        off = "not computed" if seen is None or ahead is None else fixed(100.0 * (ahead / seen - 1.0), 1)
        inside = {True: "yes", False: "no", None: "not computed"}[one.inside]
        rows.append(
            [
                ", ".join(names),
                "bounds only" if seen is None else significant(seen),
                "a term hangs on it" if ahead is None else significant(ahead),
                off,
                inside,
            ]
        )
    unit = model.runs.response.shown_unit
    return table(
        ["Blend", ("Its own median", unit), ("By the others", unit), ("Off by", "%"), "Within the interval"],
        rows, caption="Each blend predicted by the others", key="left-out", number_columns=(1, 2, 3),
        note="Within the interval: that of the mean of one new batch.",
    )  # fmt: skip


def thickness_table(model: BlendModel, found: Thickness) -> Markup:
    """Tabulate the batches against the line of viscosity."""
    factor = model.runs.response.shown_factor
    rows = []
    for one in found.lines:
        if one.log is None or one.ratio is None:
            rows.append([one.name, significant(one.viscosity * 1e6), "bounds only", "not computed"])
            continue
        ratio = significant(one.ratio) if one.low is None else with_interval(one.ratio, one.low, one.high)
        rows.append(
            [one.name, significant(one.viscosity * 1e6), significant(math.exp(one.log) * factor), ratio]
        )
    return table(
        ["Batch", (f"Viscosity at {found.temperature - 273.15:.0f} °C", "mm²/s"),
         (f"Median {model.runs.response.label.lower()}", model.runs.response.shown_unit),
         "Ratio to the line of the others"], rows,
        caption="What is left once viscosity is taken out", key="viscosity", number_columns=(1, 2, 3),
        note="Viscosity by ASTM D341 from 40 and 100 °C. The ratio is chemistry, batch and scatter; its "
        "interval "
        "is that of a single batch.",
    )  # fmt: skip


def tradeoff_table(found: Tradeoff) -> Markup:
    """Tabulate the blends in all respects."""
    head: list[str | tuple[str, str]] = ["Blend"]
    head += [(one.label, one.unit) for one in found.respects]
    head += ["Unbeaten", ("Chance of that", "%")]
    rows = []
    for i, name in enumerate(found.names):
        row = [name]
        for one in found.respects:
            low, high = one.lows[i], one.highs[i]
            known = fixed(one.estimates[i], 2) if one.name == "price" else significant(one.estimates[i])
            row.append(known if low is None else with_interval(one.estimates[i], low, high))
        chance = found.chances[i]
        row += ["yes" if found.unbeaten[i] else "no"]
        row += ["under 1" if chance < 0.005 else "over 99" if chance > 0.995 else fixed(100.0 * chance, 0)]
        rows.append(row)
    return table(
        head, rows, caption="The blends in all respects", key="tradeoff",
        number_columns=range(1, len(head) - 2),
        note="Unbeaten: no other blend is at least as good in every respect and better in one. Chance: "
        "share of "
        f"{found.draws} draws of a parametric bootstrap in which that came out; the intervals are those of "
        "the "
        "batches as made, from the scatter between runs.",
    )  # fmt: skip


def proposals_table(study: FormulationStudy, found: Proposals) -> Markup:
    """Tabulate the blends to make next: what is in them, and why."""
    first, names = found.blends[0], study.blends.components
    head: list[str | tuple[str, str]] = ["Rank", *_share_heads(names)]
    priced = first.price is not None
    head += [("Price", f"{study.blends.currency}/kg")] if priced else []
    limited = any(one.name not in KNOWN or one.name == "price" for one in found.limits)
    head += [("Chance of limits", "%")] if limited else []
    gain = "Expected gain" if found.aim == "improvement" else "Mean variance less by"
    head += [(gain, "%"), "Place"]
    rows = []
    for one in found.blends:
        row = [str(one.rank), *_share_cells(names, one.shares.tolist())]
        row += ["unknown" if one.price is None else fixed(one.price, 2)] if priced else []
        row += [fixed(100.0 * one.chance, 0)] if limited else []
        row += [significant(100.0 * one.gain, 2), "among those tested" if one.inside else "extrapolated"]
        rows.append(row)
    numbers = range(1, len(head) - 1) if len(names) <= MOST_COLUMNS else range(2, len(head) - 1)
    return table(
        head, rows, caption="Blends to make next", key="next", number_columns=numbers, note=NOTES[found.aim]
    )


def foreseen_table(found: Proposals) -> Markup:
    """Tabulate what is foreseen of the blends to make next."""
    head: list[str | tuple[str, str]] = ["Rank"]
    head += [(one.label, one.unit) for one in found.blends[0].foreseen]
    rows = [
        [
            str(one.rank),
            *(with_interval(f.value, f.low, f.high) if f.low else significant(f.value) for f in one.foreseen),
        ]
        for one in found.blends
    ]
    return table(
        head, rows, caption="What is foreseen of them", key="foreseen", number_columns=range(1, len(head)),
        note="The median, and the interval of the mean of one new batch of four runs.",
    )  # fmt: skip


def _share_heads(names: tuple[str, ...]) -> list[str | tuple[str, str]]:
    """Head the columns of shares; of many components there is one column of words."""
    return [(name, "%") for name in names] if len(names) <= MOST_COLUMNS else ["In it"]


def _share_cells(names: tuple[str, ...], shares: list[float]) -> list[str]:
    if len(names) <= MOST_COLUMNS:
        return [percent(share) for share in shares]
    return [", ".join(f"{percent(x)} % {name}" for name, x in zip(names, shares, strict=True) if x > 0.0)]


def weigh_out_table(sheets: list[WeighOut], batch_g: float, resolution_g: float) -> Markup:
    """Tabulate what to put on the balance."""
    decimals = max(0, -math.floor(math.log10(resolution_g) + 1e-9))
    if len(sheets[0].names) > MOST_COLUMNS:
        return _long_weigh_out(sheets, batch_g, resolution_g, decimals)
    rows = [
        [
            str(rank),
            *(fixed(1e3 * mass, decimals) for mass in one.masses),
            listing(list(one.coarse)) if one.coarse else "none",
        ]
        for rank, one in enumerate(sheets, 1)
    ]
    return table(
        ["Rank", *((name, "g") for name in sheets[0].names), "Coarse on this balance"], rows,
        caption=f"Weigh-out of one batch of {batch_g:g} g, to {resolution_g:g} g", key="weigh-out",
        number_columns=range(1, len(sheets[0].names) + 1),
        note="Coarse: one step of the balance is over 1 % of the mass; make a premix, or a larger batch.",
    )  # fmt: skip


def _long_weigh_out(sheets: list[WeighOut], batch_g: float, resolution_g: float, decimals: int) -> Markup:
    """Put the components one under the other, since they are too many for columns."""
    rows = [
        [name, *(fixed(1e3 * one.masses[place], decimals) if one.masses[place] else "none" for one in sheets)]
        for place, name in enumerate(sheets[0].names)
    ]
    coarse = [
        f"blend {rank}: {listing(list(one.coarse))}" for rank, one in enumerate(sheets, 1) if one.coarse
    ]
    return table(
        ["Component", *((f"Blend {rank}", "g") for rank in range(1, len(sheets) + 1))], rows,
        caption=f"Weigh-out of one batch of {batch_g:g} g, to {resolution_g:g} g", key="weigh-out",
        number_columns=range(1, len(sheets) + 1), long=len(rows) > 20,
        note="Coarse on this balance, so that a premix is better: " + ("; ".join(coarse) or "none") + ".",
    )  # fmt: skip
