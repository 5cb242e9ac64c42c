"""Tables of one kind joined, for the report of usual length: comparisons, film and heat, traces, spread."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pinscar.campaign_report.interval_chart import shown
from pinscar.campaign_report.results import (
    CONTACT,
    CONTACT_HEADS,
    NOT_MEASURED,
    WHOLE,
    by_cell,
    comparison_matrix,
    contact_cells,
    interval_cell,
)
from pinscar.decision.further import CONTENT, NextRuns, next_runs
from pinscar.decision.judgements import spread_of
from pinscar.decision.observations import Observation
from pinscar.decision.record import Analysis
from pinscar.decision.responses import Response
from pinscar.decision.surrounding_states import FilmState, HeatState
from pinscar.decision.traces import RunTrace
from pinscar.page.markup import Markup, table
from pinscar.seen.traces import traces_drawn
from pinscar.shown import to_shown
from pinscar.stats.estimates import Estimate
from pinscar.wording import (
    listing,
    load_text,
    p_value,
    percentage,
    significant,
    with_interval,
    with_uncertainty,
)

GROUPS = (("film_pressure", "scar_area", "scar_pressure"), ("wear_volume", "wear_coefficient"))
"""Responses that are compared in one table; the others follow, as many as a line holds."""
MOST = 4
CONTACT_SHOWN = (0, 1, 3)
"""What a line has room for beside the wear: pressures and depth, not how many times the pressure dropped."""


def comparison_tables(analysis: Analysis) -> list[Markup]:
    """Give one table of comparisons for each group of responses."""
    compared = [r for r in analysis.responses if any(c.response is r for c in analysis.comparisons)]
    by_name = {response.name: response for response in compared}
    groups = [[by_name[name] for name in group if name in by_name] for group in GROUPS]
    rest = [response for response in compared if not any(response.name in group for group in GROUPS)]
    groups += [rest[i : i + MOST] for i in range(0, len(rest), MOST)]
    shown_groups = [group for group in groups if group]
    return [comparison_matrix(analysis, g, counts=True, told=g is shown_groups[0]) for g in shown_groups]


def contact_and_wear_table(analysis: Analysis, wear: Sequence[Response]) -> Markup:
    """Tabulate the contact before and after wear, and the wear, of each oil and load in one row."""
    estimates = by_cell(analysis, wear)
    states = {(one.load_level, one.lubricant): one for one in analysis.context.contact}
    rows, classes = [], []
    for cell, state in states.items():
        found = estimates.get(cell, {})
        sizes = {summary.estimate.n for summary in found.values()}
        rows.append(
            [
                f"{state.lubricant} at {load_text(state.load_level)}",
                _to([str(one) for one in sorted(sizes)]) or "–",
                *(contact_cells(state)[place] for place in CONTACT_SHOWN),
                *[interval_cell(found.get(response.name)) for response in wear],
            ]
        )
        classes.append("reference" if state.lubricant == analysis.reference else "")
    return table(
        [
            "Oil and load",
            "n",
            *(CONTACT_HEADS[place] for place in CONTACT_SHOWN),
            *[(one.label, one.shown_unit) for one in wear],
        ],
        rows,
        caption=f"{CONTACT}; wear of each oil and load",
        key="wear",
        number_columns=range(1, 2 + len(CONTACT_SHOWN) + len(wear)),
        row_classes=classes,
        note=f"Estimate with {percentage(analysis.confidence)} interval across repeats. n: runs.",
        long=len(rows) > WHOLE,
    )


def film_and_heat_table(film: Sequence[FilmState], heat: Sequence[HeatState]) -> Markup | None:
    """Tabulate film and heat of each oil and load in one row."""
    states: list[FilmState | HeatState] = [*film, *heat]
    cells = dict.fromkeys([(s.lubricant, s.load_level) for s in states])
    if not cells:
        return None
    rows = []
    for name, level in cells:
        films = [s for s in film if (s.lubricant, s.load_level) == (name, level)]
        hot = next((s for s in heat if (s.lubricant, s.load_level) == (name, level)), None)
        rows.append([f"{name} at {load_text(level)}", *_film_cells(films), *_heat_cells(hot)])
    correlations = listing(sorted({s.correlation for s in film}))
    note = (
        f"Film between the unworn bodies, from the start to the hottest. Pressure-viscosity: {correlations}."
    )
    if any(not s.within_fit for s in film):
        note += " The ellipticity lies outside the formula's fitted range: the films are extrapolated."
    if any(s.measured for s in heat):
        note += " Friction from traces is marked *; else it is a range of common practice."
    return table(
        [
            "Oil and load",
            ("Temperature", "°C"),
            ("Least film", "µm"),
            "Lambda",
            "Friction coefficient",
            ("Friction power", "W"),
            ("Flash rise", "K"),
        ],
        rows,
        caption="Film and friction heat",
        key="lubrication",
        number_columns=range(1, 7),
        note=note if film else None,
    )


def _film_cells(films: Sequence[FilmState]) -> list[str]:
    if not films:
        return ["not computed"] * 3
    warm = [f"{to_shown(s.temperature, '°C'):.0f}" for s in films]
    thick = [significant(to_shown(s.minimum, "µm")) for s in films]
    ratios = ["not computed" if s.lambda_ratio is None else significant(s.lambda_ratio, 2) for s in films]
    return [_to(warm), _to(thick), _to(ratios)]


def _heat_cells(hot: HeatState | None) -> list[str]:
    if hot is None:
        return ["not computed"] * 3
    friction = _to([f"{one:.3f}" if hot.measured else f"{one:.2f}" for one in hot.friction])
    return [
        f"{friction}{' *' if hot.measured else ''}",
        _to([significant(one, 2) for one in hot.power]),
        _to([significant(one, 2) for one in hot.flash_rise]),
    ]


def _to(texts: Sequence[str]) -> str:
    return " to ".join(dict.fromkeys(texts))


def traces_table(analysis: Analysis) -> Markup | None:
    """Tabulate what each trace tells in one row."""
    rows = []
    for run in traces_drawn(analysis):
        told = run.told
        rows.append(
            [
                told.run_id,
                f"{told.lubricant} at {load_text(told.load)}",
                *_warm_cells(told),
                *_energy_cells(told, analysis.context.specific_energy_uncertainty),
                _friction(told),
            ]
        )
    if not rows:
        return None
    return table(
        [
            "Run",
            "Oil and load",
            ("Peak", "°C"),
            ("Rise", "K"),
            ("Friction energy", "kJ"),
            ("Over wear volume", "kJ/mm³"),
            "Friction at the end",
        ],
        rows,
        caption="What the traces tell",
        key="traces",
        number_columns=range(2, 7),
        note=(
            "±: standard uncertainty from the scatter of the readings, without calibration. Friction at "
            "the end: "
            "mean over the last phase. Phases, heating rates, zeros and gaps: results.json, or -p "
            "detail=full."
        ),
    )


def _warm_cells(told: RunTrace) -> list[str]:
    if told.warming is None:
        return [NOT_MEASURED] * 2
    rise = with_uncertainty(told.rise, told.rise_uncertainty)
    return [f"{to_shown(told.warming.peak, '°C'):.1f}", rise]


def _energy_cells(told: RunTrace, uncertainty: Mapping[str, float]) -> list[str]:
    energy = told.energy
    if energy is None:
        return [NOT_MEASURED] * 2
    least = "at least " if energy.missing else ""
    specific = told.specific_energy * 1e-12
    shown_energy = with_uncertainty(to_shown(energy.energy, "kJ"), to_shown(energy.uncertainty, "kJ"))
    if specific != specific:
        return [least + shown_energy, "scar not measured"]
    each = uncertainty.get(told.run_id, float("nan")) * 1e-12
    return [least + shown_energy, least + with_uncertainty(specific, each)]


def _friction(told: RunTrace) -> str:
    last = [one for one in told.phases if one.is_last] or list(told.phases[-1:])
    return f"{last[-1].friction.mean:.3f}" if last else NOT_MEASURED


def spread_and_next_table(analysis: Analysis, response: Response, measured: Mapping[str, float]) -> Markup:
    """Tabulate the spread between runs, the uncertainty of one, and where further runs will lie."""
    ahead = {
        (one.summary.cell.lubricant, one.summary.cell.load_level): one
        for one in next_runs(analysis.summaries, analysis.confidence)
    }
    rows = []
    for summary in (s for s in analysis.summaries if s.response.name == response.name):
        cell = f"{summary.cell.lubricant} at {load_text(summary.cell.load_level)}"
        spread = spread_of(summary)
        one = ahead.get((summary.cell.lubricant, summary.cell.load_level))
        rows.append(
            [
                cell,
                "single run" if spread is None else significant(spread, 2),
                significant(measured[cell], 2) if cell in measured else "not stated",
                *([_ends(one, "prediction"), _ends(one, "tolerance")] if ahead else []),
            ]
        )
    label = f"{response.label}: spread between runs and uncertainty of one measurement"
    unit = next(iter(ahead.values())).summary.response.shown_unit if ahead else ""
    beside = "; film pressure: where the next run and most runs lie" if ahead else ""
    note = (
        f"Next run: prediction interval, {percentage(analysis.confidence)}. {percentage(CONTENT)} of all "
        "runs: "
        f"tolerance interval with {percentage(analysis.confidence)} confidence. Not computed where runs "
        "give only "
        "bounds, or are too few."
    )
    return table(
        [
            "Oil and load",
            ("Between runs", "%"),
            ("Of one measurement", "%"),
            *([("Next run", unit), (f"{percentage(CONTENT)} of all runs", unit)] if ahead else []),
        ],
        rows,
        caption=label + beside,
        key="spread",
        number_columns=range(1, 5 if ahead else 3),
        note=note if ahead else None,
    )


def _ends(one: NextRuns | None, kind: str) -> str:
    found: Estimate | None = None if one is None else getattr(one, kind)
    if one is None or found is None or found.low is None or found.high is None:
        return "not computed"
    low, high = (significant(shown(one.summary.response, end)) for end in (found.low, found.high))
    return f"{low} to {high}"


def observations_table(analysis: Analysis) -> Markup | None:
    """Tabulate drips and smoke of each oil and load in one row."""
    found = [o for o in analysis.observations if o.kind != "words"]
    names = list(dict.fromkeys(o.name for o in found))
    if not found:
        return None
    cells = sorted({(o.load_level, analysis.oils.index(o.lubricant)) for o in found})
    rows = []
    for level, place in cells:
        oil = analysis.oils[place]
        own = {o.name: o for o in found if (o.load_level, o.lubricant) == (level, oil)}
        row = [f"{oil} at {load_text(level)}"]
        for name in names:
            row += _observed(analysis, own.get(name))
        rows.append(row)
    heads: list[str | tuple[str, str]] = ["Oil and load"]
    for name in names:
        heads += _observed_heads(next(o for o in found if o.name == name), analysis.reference)
    return table(
        heads,
        rows,
        caption=f"{listing([n.replace('_', ' ') for n in names]).capitalize()} of each oil and load",
        key="observed-drips",
        number_columns=[i for i in range(1, len(heads)) if i % 2],
        row_classes=["reference" if analysis.oils[place] == analysis.reference else "" for _, place in cells],
        note=(
            f"{percentage(analysis.confidence)} intervals: exact Poisson for counts, Clopper-Pearson for "
            "shares. "
            f"Against {analysis.reference}: Mann-Whitney test, p adjusted over the oils of a load (Holm). "
            "These "
            "intervals are of one oil each, and p is of the comparison."
        ),
    )


def _observed_heads(o: Observation, reference: str) -> list[str | tuple[str, str]]:
    label = o.name.replace("_", " ")
    first: str | tuple[str, str] = f"{label.capitalize()}, mean per run"
    if o.kind == "order":
        first = (f"Runs with {label}", "%")
    return [first, f"{label.capitalize()} against {reference}"]


def _observed(analysis: Analysis, o: Observation | None) -> list[str]:
    if o is None or o.rate is None:
        return [NOT_MEASURED, "not compared"]
    factor = 100.0 if o.kind == "order" else 1.0
    numbers = (o.rate.estimate * factor, o.rate.low * factor, o.rate.high * factor)
    if o.kind == "order":
        middle, low, high = (f"{one:.0f}" for one in numbers)
        told = f"{middle} ({low} to {high})"
    else:
        told = with_interval(*numbers)
    if o.lubricant == analysis.reference:
        return [told, "the reference"]
    if o.test is None:
        return [told, "not compared"]
    way = "as much" if o.test.superiority == 0.5 else "more" if o.test.superiority > 0.5 else "less"
    p = p_value(o.test.p, 1.0 - analysis.confidence)
    return [told, f"{way}, p {p if p[0] == '<' else f'= {p}'}"]
