"""What the cells of the campaign report call: one function per section, each giving ready HTML."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pinscar.campaign_report import (
    answer,
    figures,
    openers,
    setting,
    tribology,
)
from pinscar.campaign_report import (
    results as result_tables,
)
from pinscar.campaign_report.experience import experience_parts
from pinscar.campaign_report.results import MAIN, SCAR_NUMBERS, WEAR_NUMBERS, chosen, first, measured_of
from pinscar.campaign_report.runs_table import observations_html, runs_table
from pinscar.campaign_report.setting import provenance_html
from pinscar.campaign_report.tribology import method_note
from pinscar.contact.chain import LIFTING
from pinscar.decision.analysis import analyse
from pinscar.decision.evaluate import with_table_values
from pinscar.decision.further import next_runs
from pinscar.decision.record import Analysis
from pinscar.decision.responses import Response
from pinscar.decision.results import results
from pinscar.decision.runs import when_run
from pinscar.decision.traces import FrictionPhase
from pinscar.page.markup import Markup, callout, finding, paragraph, table
from pinscar.page.outline import as_html
from pinscar.press.results import publish_results
from pinscar.press.subject import read_one
from pinscar.seen.sound import sound_parts
from pinscar.seen.traces import traces_parts
from pinscar.wording import load_text

if TYPE_CHECKING:
    from IPython.display import HTML


def friction_table(phases: tuple[FrictionPhase, ...]) -> Markup:
    """Tabulate the friction coefficient of each phase of each run that has a trace."""
    quiet = {one.run_id: one.start for one in phases if one.after_noise}
    rows = [
        [
            one.run_id,
            f"{one.lubricant} at {load_text(one.load)}",
            f"{one.start:.4g} to {one.end:.4g}",
            _words(one, quiet),
            f"{one.friction.mean:.3f}",
            f"{one.friction.low:.3f} to {one.friction.high:.3f}",
        ]
        for one in phases
    ]
    note = (
        "Friction force over load, mean over time; load steps are separate phases. The range is what the "
        "friction moved in, not an uncertainty of the mean."
    )
    if any(one.friction.low <= 0.0 for one in phases):
        note += (
            " A range that reaches zero shows a wrong sign or zero of the force: no heat is computed from it."
        )
    return table(
        ["Run", "Oil and load", ("Time", "s"), "Phase", "Friction coefficient", "5 to 95 % of the time"],
        rows,
        caption="Friction coefficient from the traces of the friction force",
        key="friction",
        number_columns=[2, 4, 5],
        note=note,
    )


def _words(one: FrictionPhase, quiet: dict[str, float]) -> str:
    if one.after_noise:
        return "after the noise stopped"
    if quiet.get(one.run_id) == one.end:
        return "until the noise stopped"
    return "end of the noise not noted" if one.is_last else "until the load was raised"


COMPARED = ("film_pressure", "scar_area", "wear_volume")
FLING = ("fling_mass", "fling_area")
WIDEST = 3
"""Most responses in one table of observations."""


def load(folder: str, confidence: float | None = None, responses: Sequence[str] | None = None) -> Analysis:
    """Read and evaluate the campaign that a report is about."""
    return analyse(read_one(Path(folder)), confidence, responses)


def front(analysis: Analysis, *, section: bool = True, kind: str = "full") -> HTML:
    """Show the decision: verdicts and limits in words, answer, audit, what to do next, one chart."""
    settings = analysis.campaign.file.campaign
    when = when_run(analysis.included)
    asked = settings.question or ""
    others = answer.others_sentences(analysis)
    main = first(analysis, MAIN)
    # Many oils with limits need the room for these and the chart; the sections have the sentences.
    crowded = main is not None and bool(analysis.criteria) and not figures.on_front(analysis, main)
    said = [*([] if crowded else [" ".join(openers.answer_sentences(analysis))]), " ".join(others)]
    said = [one for one in said if one]
    rows = 0 if main is None else figures.front_rows(analysis, main)
    steps = answer.steps_that_fit(analysis, said, rows, 2 if crowded else answer.MOST_STEPS)
    parts: list[str] = [
        Markup('<p class="lead {}">{} <span class="nowrap">({})</span></p>').format(kind, asked, when),
        *answer.verdict_parts(analysis),
        *[paragraph(one, "answer") for one in said],
        answer.audit_line(analysis, section=section),
        *answer.next_parts(analysis, steps),
    ]
    if main is not None:
        parts.append(figures.response_figure(analysis, main, key="answer", front=True))
    return as_html(parts)


def limits(analysis: Analysis) -> HTML:
    """Show the release limits with their verdicts, or say that there are none."""
    if not analysis.criteria:
        return as_html([finding("This campaign states no release limits, so there is no verdict.")])
    review = callout(
        "note",
        "a release needs a qualified person's review",
        "The verdicts follow from the runs and the limits as written. Whether these limits, this rig and "
        "these runs are enough for a release is for a qualified person to judge and to sign.",
    )
    return as_html([finding(openers.verdict_sentence(analysis)), setting.criteria_table(analysis), review])


def tested(analysis: Analysis) -> HTML:
    """Show what was tested and how."""
    return as_html(
        [
            finding(openers.tested(analysis)),
            setting.lubricants_table(analysis),
            setting.conditions(analysis),
        ]
    )


def fairness(analysis: Analysis) -> HTML:
    """Show the fairness audit and the warnings of the check."""
    parts: list[str] = [finding(openers.fairness(analysis))]
    if analysis.audited:
        parts.append(setting.findings_table(analysis))
    warnings = setting.problems_table(analysis)
    if warnings is not None:
        parts.append(warnings)
    return as_html(parts)


def film_and_scar(analysis: Analysis) -> HTML:
    """Show film pressure and scar area with every run."""
    found = chosen(analysis, SCAR_NUMBERS)
    if not found:
        return as_html(
            [finding("Neither film pressure nor scar area is among the responses of this report.")]
        )
    parts: list[str] = [finding(openers.response_levels(analysis, found[0]))]
    area = first(analysis, ("scar_area",))
    if area is not None and found[0] is not area:
        parts.append(paragraph(openers.response_levels(analysis, area)))
    parts.append(paragraph(openers.censoring(analysis)))
    parts.append(
        result_tables.summary_table(
            analysis, found, caption="Film pressure and scar of each oil and load", key="film"
        )
    )
    # The film pressure chart stands on page one already, or as much of it as fits there.
    main = first(analysis, MAIN)
    parts += [
        figure
        for r in found
        if r.name == "scar_area" or (r is main and not figures.on_front(analysis, r))
        for figure in figures.response_figures(analysis, r, key=r.name.replace("_", "-"))
    ]
    return as_html(parts)


def against_reference(analysis: Analysis) -> HTML:
    """Show every oil against the reference, as ratios."""
    compared = [r for r in analysis.responses if any(c.response is r for c in analysis.comparisons)]
    if not compared:
        return as_html([finding(openers.against_reference(analysis))])
    parts: list[str] = [finding(openers.against_reference(analysis))]
    area = first(analysis, ("scar_area",)) or compared[0]
    if area.scale == "log" and any(c.response is area and c.result.ratio for c in analysis.comparisons):
        parts.append(figures.ratio_figure(analysis, area, key="ratio"))
    parts += [
        result_tables.comparison_table(analysis, response)
        for response in compared
        if response.name in COMPARED
    ]
    rest = [response for response in compared if response.name not in COMPARED]
    # Three intervals and the head column are what a printed line holds.
    parts += [result_tables.comparison_matrix(analysis, rest[i : i + 3]) for i in range(0, len(rest), 3)]
    return as_html(parts)


def claims(analysis: Analysis) -> HTML:
    """Show which claims the data support."""
    if not analysis.claims:
        return as_html([finding("The campaign states no claims, so none was judged.")])
    reminder = callout(
        "note",
        "public claims need a qualified person's review",
        "A supported wording is what the runs can carry, not permission to print it. Public claims follow "
        "the local rules on advertising, and a qualified person reviews them first.",
    )
    return as_html([finding(openers.claims(analysis)), setting.claims_table(analysis), reminder])


def observations(analysis: Analysis) -> HTML:
    """Show what else was observed: quiet time, temperature, fling and the campaign's own columns."""
    known = {*SCAR_NUMBERS, *WEAR_NUMBERS}
    others = [response for response in analysis.responses if response.name not in known]
    if not others:
        unmeasured = finding("Quiet time, temperature and fling were not measured in this campaign.")
        return as_html([unmeasured, observations_html(analysis)])
    lead = " ".join(openers.response_levels(analysis, response) for response in others[:1])
    return as_html([finding(lead), *_observed_tables(analysis, others), observations_html(analysis)])


def _observed_tables(analysis: Analysis, chosen: Sequence[Response]) -> list[Markup]:
    """Give one table, or fling a table of its own where one would be too wide."""
    fling = [response for response in chosen if response.name in FLING]
    others = [response for response in chosen if response.name not in FLING]
    apart = len(chosen) > WIDEST and len(fling) == len(FLING)
    parts = [(others, "Other observations of each oil and load", "observed")] if apart else []
    parts += [(fling, "Fling of each oil and load", "observed-fling")] if apart else []
    parts = parts or [(list(chosen), "Other observations of each oil and load", "observed")]
    return [result_tables.summary_table(analysis, part, caption=told, key=key) for part, told, key in parts]


def runs(analysis: Analysis) -> HTML:
    """Show every run."""
    return as_html([finding(openers.runs(analysis)), runs_table(analysis)])


def micrographs(analysis: Analysis) -> HTML:
    """Show the scars as read from their micrographs, beside what was typed."""
    from pinscar.seen.micrographs import seen_html

    return as_html([seen_html(analysis.evidence.micrographs)])


def fling_cards(analysis: Analysis) -> HTML:
    """Show the drops on the fling cards, beside the areas that were typed."""
    from pinscar.seen.cards import HEAD, seen_html

    cards = analysis.evidence.cards
    return as_html([HEAD, seen_html(cards)] if cards else [])


def contact(analysis: Analysis) -> HTML:
    """Show the contact before and after wear, wear volume and wear coefficient."""
    parts: list[str] = [finding(openers.contact(analysis)), result_tables.contact_table(analysis)]
    if analysis.included["hertz_peak_pressure"].notna().any():
        parts.append(figures.contact_figure(analysis, key="contact"))
    wear = chosen(analysis, WEAR_NUMBERS)
    if wear:
        parts.append(
            result_tables.summary_table(analysis, wear, caption="Wear of each oil and load", key="wear")
        )
    return as_html(parts)


def growth(analysis: Analysis) -> HTML:
    """Show how the scars grew, where quiet times tell."""
    curves = analysis.context.growth
    if not curves:
        return as_html(
            [finding("Not computed: the wear-arrest model needs crossed cylinders and quiet times.")]
        )
    sentence = openers.growth(curves)
    return as_html(
        [
            finding(sentence),
            figures.growth_figure(analysis, curves, sentence=sentence, key="growth"),
            result_tables.growth_table(curves),
        ]
    )


def sound(analysis: Analysis) -> HTML:
    """Show what the recordings tell: typed against heard quiet times, and each level against time."""
    return as_html(sound_parts(analysis))


def film_and_heat(analysis: Analysis) -> HTML:
    """Show film thickness, lambda and friction heat, or why they are left out."""
    return as_html([*_film_parts(analysis), *_heat_parts(analysis)])


def service(analysis: Analysis) -> HTML:
    """Show the bench against the chain joint that the oil is for."""
    stated, joint, bench = analysis.campaign.file.service, analysis.context.joint, analysis.context.bench
    if stated is None or joint is None:
        return as_html(
            [finding("Not computed: campaign.toml has no [service] section that describes the chain's duty.")]
        )
    sentence = tribology.duty_sentence(stated, joint, bench)
    return as_html(
        [
            finding(sentence),
            paragraph(LIFTING),
            tribology.joint_facts(stated, joint),
            figures.duty_figure(joint, bench, sentence=sentence, key="duty"),
            tribology.duty_table(joint, bench),
        ]
    )


def spread(analysis: Analysis) -> HTML:
    """Show the spread between runs beside the uncertainty of one measurement."""
    response = first(analysis, ("scar_pressure", "scar_area"))
    if response is None:
        none = finding("No response computed from a scar is among those of this report.")
        return as_html([none, *experience_parts(analysis)])
    measured = measured_of(analysis, response)
    single = list(next_runs(analysis.summaries, analysis.confidence))
    return as_html(
        [
            finding(openers.spread(analysis, response, measured)),
            result_tables.spread_table(analysis, response, measured),
            *([result_tables.next_runs_table(single, analysis.confidence)] if single else []),
            *experience_parts(analysis),
        ]
    )


def provenance(analysis: Analysis) -> HTML:
    """Show from which files and with which versions the report was made."""
    return as_html([provenance_html(analysis)])


def method(analysis: Analysis, section: str) -> HTML:
    """Tell the method of a section, as far as it depends on the rig's geometry."""
    return as_html([method_note(section, with_table_values(analysis.campaign.file.rig))])


def publish(analysis: Analysis, *, files: bool = True, more: Mapping[str, Any] | None = None) -> None:
    """Hand the machine-readable results to the report, without showing them."""
    publish_results({**results(analysis, files=files), **(more or {})})


def _film_parts(analysis: Analysis) -> list[str]:
    context = analysis.context
    if not context.film:
        return [finding(f"Film thickness is not computed: {context.no_film}.")]
    return [finding(tribology.film_sentence(context.film)), tribology.film_table(context.film)]


def _heat_parts(analysis: Analysis) -> list[str]:
    context = analysis.context
    phases = tuple(phase for told in analysis.evidence.traces for phase in told.phases)
    told = [*traces_parts(analysis), *([friction_table(phases)] if phases else [])]
    if context.no_heat:
        return [finding(f"Flash temperature is not computed: {context.no_heat}."), *told]
    return [finding(tribology.heat_sentence(context.heat)), tribology.heat_table(context.heat), *told]
