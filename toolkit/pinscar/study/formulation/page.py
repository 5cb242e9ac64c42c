"""What the cells of the formulation report call: one function a section, each giving ready HTML."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pinscar.campaign_report.setting import inputs_html
from pinscar.errors import UsageError
from pinscar.page.markup import Markup, bullet_list, callout, finding, method_note
from pinscar.page.outline import as_html, figure_for_both
from pinscar.press.results import publish_results
from pinscar.study import page as shared
from pinscar.study.formulation import charts, tables, words
from pinscar.study.formulation.blends import WeighOut, percent, weigh_out
from pinscar.study.formulation.proposals import Aim, Proposals
from pinscar.study.formulation.results import formulation_results, weigh_out_results
from pinscar.study.formulation.series import Series
from pinscar.study.formulation.slices import Slice, slices_of
from pinscar.study.formulation.study import Asked, FormulationStudy, study_formulation
from pinscar.study.page import campaign_entries, campaigns_table, inputs_of, read_folders
from pinscar.units import UnitError, parse_quantity
from pinscar.wording import listing, load_text, percentage

if TYPE_CHECKING:
    from IPython.display import HTML

CAUTION = (
    "The tool knows nothing of solubility, of reactions between components, of hazards, or of what a blend "
    "does "
    "to seals, paint and skin. Read the safety data sheets and ask a qualified chemist before anything is "
    "mixed; "
    "local rules come first."
)


@dataclass(frozen=True, slots=True)
class FormulationReport:
    """A formulation study with what its report needs beside.

    Attributes
    ----------
    study : FormulationStudy
        The study.
    inputs : mapping of str to str
        SHA-256 of each file read.
    batch_size, balance_resolution : float
        Mass of a batch to weigh out, and step of the balance [kg].
    """

    study: FormulationStudy
    inputs: Mapping[str, str]
    batch_size: float
    balance_resolution: float


def load(
    folders: Sequence[str],
    response: str = "film_pressure",
    others: Sequence[str] | None = None,
    reference: str | None = None,
    load: str | None = None,
    limits: Sequence[str] = (),
    contact_temperature: str | None = None,
    aim: Aim = "improvement",
    count: int = 3,
    batch_size: str = "500 g",
    balance_resolution: str = "0.01 g",
    confidence: float | None = None,
    seed: int = 1,
) -> FormulationReport:
    """Read campaigns and study their blends."""
    campaigns = read_folders(folders)
    asked = Asked(
        response=response,
        others=None if others is None else tuple(others),
        reference=reference,
        load=load,
        limits=tuple(limits),
        contact_temperature=contact_temperature,
        aim=aim,
        count=count,
        confidence=confidence,
        seed=seed,
    )
    masses = [_mass(text, name) for text, name in
              ((batch_size, "batch_size"), (balance_resolution, "balance_resolution"))]  # fmt: skip
    if not 0.0 < masses[1] <= masses[0] / 100.0:
        raise UsageError("batch_size must be at least a hundred times balance_resolution")
    return FormulationReport(study_formulation(campaigns, asked), inputs_of(campaigns), masses[0], masses[1])


def _mass(text: str, name: str) -> float:
    try:
        return parse_quantity(text, "mass")
    except UnitError as wrong:
        raise UsageError(f"{name}: {wrong.message}; {wrong.mend}") from wrong


def front(report: FormulationReport) -> HTML:
    """Show the answer: what does it, how much is enough, what to make next, and the first chart."""
    study = report.study
    lead = Markup('<p class="lead">{}</p>').format(
        "Which component does it, how much of it is enough, and which blend is made next?"
    )
    if study.model.fits:
        head = words.effect_sentence(study.model)
    else:
        head = f"No model of the {study.response.label.lower()} could be made: {study.model.reason}."
    said = [words.series_sentence(study, one) for one in study.series[:1]]
    said += [words.proposal_sentence(study, study.proposals)] if study.proposals else [study.no_proposals]
    parts: list[str] = [lead, finding(head), Markup('<p class="answer">{}</p>').format(" ".join(said))]
    if study.series and study.series[0].fits:
        parts.append(_dose_chart(study, study.series[0], 1))
    elif study.model.fits:
        parts.append(_effects_chart(study))
    return as_html(parts)


def doses(report: FormulationReport) -> HTML:
    """Show each dose series with its forms and the least dose."""
    study = report.study
    parts: list[str] = []
    for number, one in enumerate(study.series, 1):
        parts.append(finding(words.series_sentence(study, one)))
        if one.fits:
            parts += [_dose_chart(study, one, number)] if number > 1 else []
            parts.append(tables.forms_table(study, one, number))
            told = [words.scatter_sentence(one), words.campaigns_sentence(one)]
            parts.append(Markup("<p>{}</p>").format(" ".join(filter(None, told))))
            parts += (
                [Markup("<p>Not fitted: {}.</p>").format("; ".join(one.not_fitted))] if one.not_fitted else []
            )
    parts += [finding(words.no_series_sentence(study.no_series))] if study.no_series else []
    if not study.series:
        return as_html(parts)
    parts.append(
        method_note(
            "Maximum likelihood on the logarithms with a random effect of each batch and, from three "
            "campaigns on, of each campaign; two have a fixed shift. Runs whose wear had not stopped count "
            "as upper bounds. Forms are "
            "shared out by AICc (Hurvich and Tsai 1989), in which repeats on one batch count for what they "
            "tell (design effect, Kish 1965). The interval of the least dose holds all doses whose curve "
            "through the limit the data do not speak against (Fieller 1954; Bates and Watts 1988, section "
            "6.1), judged by the scatter of batches about the curve; it is looked for within the doses "
            f"tested, and an open end reads “{words.NOT_DETERMINED}”. It holds for the form named: read the "
            "forms side by side."
        )
    )
    return as_html(parts)


def components(report: FormulationReport) -> HTML:
    """Show the mixture model: effects, ternary chart, terms, lack of fit, each blend by the others."""
    study, model = report.study, report.study.model
    if not model.fits:
        return as_html([finding(f"No mixture model: {model.reason}.")])
    parts: list[str] = [
        finding(words.effect_sentence(model)),
        # without a dose series it stands on the first page
        *([_effects_chart(study)] if study.series and study.series[0].fits else []),
        tables.effects_table(model),
    ]
    parts += [_ternary(study, cut, number) for number, cut in enumerate(slices_of(model, study.blends), 1)]
    parts += [finding(words.model_sentence(model)), Markup("<p>{}</p>").format(words.fit_sentence(model))]
    parts += [Markup("<p>{}</p>").format(model.joined)] if model.joined else []
    if model.fit.inestimable:
        parts.append(
            callout("caution", "Terms that these blends do not tell", "; ".join(model.fit.inestimable) + ".")
        )
    parts += [tables.coefficients_table(model), tables.left_out_table(model, study)]
    parts.append(
        method_note(
            f"Scheffé's model of the logarithm (NIST/SEMATECH e-Handbook 5.5.4), by {model.fit.method}. "
            f"Degrees of freedom: {max(model.fit.df, 0)}, counted by batches. Effects on Cox's line (Cox "
            "1971)."
        )
    )
    return as_html(parts)


def viscosity(report: FormulationReport) -> HTML:
    """Show how much is viscosity and how much chemistry."""
    study = report.study
    found = study.thickness
    if found is None:
        return as_html([finding(study.no_thickness)])
    parts: list[str] = [finding(words.thickness_sentence(study, found))]
    parts += [callout("caution", "Viscosity and a component move together", found.tied)] if found.tied else []
    parts.append(
        figure_for_both(
            lambda width: charts.thickness_chart(study.model, found, width),
            alt=words.thickness_sentence(study, found),
            caption="Median of each batch against viscosity at the contact temperature, both axes "
            "logarithmic. Line: regression of the batches. n = "
            f"{sum(one.log is not None for one in found.lines)} batches.",
            key="viscosity",
        )
    )
    parts.append(tables.thickness_table(study.model, found))
    return as_html(parts)


def tradeoff(report: FormulationReport) -> HTML:
    """Show the blends in all respects together."""
    found = report.study.tradeoff
    if found is None:
        return as_html([finding(report.study.no_tradeoff)])
    chart = figure_for_both(
        lambda width: charts.tradeoff_chart(found, width),
        alt=words.tradeoff_sentence(found),
        caption=f"Each blend in each respect with {percentage(report.study.confidence)} intervals. Filled: "
        "no "
        "other beats it in all; at the right margin how often that came out. What is stated and not "
        "measured has "
        "no interval.",
        key="tradeoff",
    )
    parts: list[str] = [finding(words.tradeoff_sentence(found)), chart, tables.tradeoff_table(found)]
    parts += [bullet_list(found.left_out)] if found.left_out else []
    parts.append(
        Markup("<p>No score adds the respects up: what a gram less fling is worth is yours to say.</p>")
    )
    return as_html(parts)


def next_blends(report: FormulationReport) -> HTML:
    """Show the blends to make next, with their weigh-out."""
    study = report.study
    found = study.proposals
    caution = callout("caution", "Before anything is mixed", CAUTION)
    if found is None:
        return as_html([finding(study.no_proposals), caution])
    sheets = _sheets(report, found)
    bounds = "; ".join(
        f"{name} {percent(low)} to {percent(high)} %"
        + (f" in steps of {percent(step)} %" if step else ", the balance")
        for name, low, high, step in found.bounds
    )
    parts: list[str] = [
        finding(words.proposal_sentence(study, found)),
        caution,
        *(Markup("<p>{}</p>").format(one) for one in found.remarks),
        tables.proposals_table(study, found),
        tables.foreseen_table(found),
        tables.weigh_out_table(sheets, 1e3 * report.batch_size, 1e3 * report.balance_resolution),
        Markup("<p>Looked for among {} blends: {}.</p>").format(found.candidates, bounds),
        Markup("<p>Write them as a campaign: <code>pinscar plan NEW --blends CAMPAIGN</code>.</p>"),
        method_note(
            "Improvement: expected gain over the best blend tested, with Student's t for the model's error "
            "(Jones, "
            "Schonlau and Welch 1998), times the chance of keeping the limits; each further blend as if "
            "those "
            "before it had come out as foreseen. D and I: exchange algorithm (Fedorov 1972)."
        ),
    ]
    return as_html(parts)


def made(report: FormulationReport) -> HTML:
    """Show the batches, the campaigns, and what was left out."""
    study = report.study
    return as_html(
        [
            finding(words.size_sentence(study)),
            tables.blends_table(study),
            campaigns_table(study.campaigns, study.reference, "Campaigns given"),
            *shared.left_out_parts(study.left_out),
        ]
    )


def provenance(report: FormulationReport) -> HTML:
    """Show from which files and with which versions the report was made."""
    return as_html([inputs_html(report.inputs)])


def publish(report: FormulationReport) -> None:
    """Hand the machine-readable results to the report, without showing them."""
    campaigns = campaign_entries(report.study.campaigns, report.study.reference)
    sheets = [] if report.study.proposals is None else _sheets(report, report.study.proposals)
    weighed = {"weigh_out": weigh_out_results(sheets)}
    publish_results(formulation_results(report.study) | {"campaigns": campaigns} | weighed)


def _sheets(report: FormulationReport, found: Proposals) -> list[WeighOut]:
    names = report.study.blends.components
    return [
        weigh_out(names, one.shares, report.batch_size, report.balance_resolution) for one in found.blends
    ]


def _dose_chart(study: FormulationStudy, series: Series, number: int) -> str:
    bounds = " Open triangle: a bound, the film carries less." if series.censored else ""
    least = ""
    if study.limit and series.least and (series.least[0].low is not None or series.least[0].high is not None):
        least = " Thick bar on the limit: interval of the least dose."
    shifted = (
        " Runs are drawn at the mean height of the campaigns."
        if len({dot.campaign for dot in series.dots}) > 1
        else ""
    )
    return figure_for_both(
        lambda width: charts.dose_chart(series, study.response, study.limit, width),
        alt=words.series_sentence(study, series),
        caption=f"{study.response.label} at {load_text(study.runs.load_level)} over the share of "
        f"{series.additive}: every run, the forms with their weights, and the "
        f"{percentage(study.confidence)} band of "
        f"the likeliest.{bounds}{least}{shifted} n = {series.runs} runs of {series.batches} batches.",
        key=f"dose-{number}",
    )


def _effects_chart(study: FormulationStudy) -> str:
    model = study.model
    return figure_for_both(
        lambda width: charts.effects_chart(model, width),
        alt=words.effect_sentence(model),
        caption=f"{study.response.label}: ratio of the highest to the lowest share tested of each "
        "component, the "
        f"others in proportion, with {percentage(study.confidence)} intervals that hold together. n = "
        f"{model.fit.n} runs of {model.fit.batches} batches.",
        key="effects",
    )


def _ternary(study: FormulationStudy, cut: Slice, number: int) -> str:
    model = study.model
    label = study.response.label
    three = [model.data.names[i] for i in cut.places]
    held = [
        f"{percent(round(float(cut.held[i]), 5))} % {name}"
        for i, name in enumerate(model.data.names)
        if i not in cut.places
    ]
    beside = f" The others are held at {listing(held)}, {cut.name}." if held else ""
    count = len(cut.on_it(model.tested))
    dots = (
        f"Dots: the {count} blends tested."
        if not held
        else "No blend tested has just these shares of them."
        if not count
        else f"Dots: of the {len(model.tested)} blends tested, those with these shares ({count})."
    )
    return figure_for_both(
        lambda width: charts.ternary_chart(model, cut, width),
        alt=f"Contours of the {label.lower()} over the shares of {listing(three)}.{beside} "
        f"{words.effect_sentence(model)}",
        caption=f"{label} [{study.response.shown_unit}] predicted over the triangle of {listing(three)}, "
        f"each corner at the share written there.{beside} {dots} Blue: what can be mixed from the blends "
        "tested; grey contours outside are extrapolation.",
        key="triangle" if number == 1 else f"triangle-{number}",
    )
