"""Which sections a report has, in which order, how much of each, and working them out ahead of the kernel."""

from __future__ import annotations

import contextlib
import textwrap
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, cast, get_args

from markupsafe import Markup

from pinscar.campaign_report import methods, openers, results, sections, setting, standard
from pinscar.campaign_report import results as result_tables
from pinscar.campaign_report.experience import short_sentence
from pinscar.campaign_report.results import chosen
from pinscar.campaign_report.setting import one_line
from pinscar.decision.analysis import analyse, compare_ahead
from pinscar.decision.finding import Weight
from pinscar.decision.record import Analysis
from pinscar.errors import UsageError
from pinscar.page.markup import bullet_list, paragraph
from pinscar.page.outline import as_html
from pinscar.press.subject import read_one
from pinscar.wording import counted

if TYPE_CHECKING:
    from IPython.display import HTML


SEVERE = (
    "A short bench test ranks films under severe sliding. It doesn't measure service life, corrosion, "
    "fouling, low-temperature flow or what a contaminated joint does."
)
LIMITS = (
    "The intervals speak for repeats on this rig, with these pins, rings, batches and readers. Another rig "
    "or "
    "another batch may differ by more.",
    "A film pressure belongs to this speed, this dose and this warming of the contact. It isn't a material "
    "constant of the oil.",
    "Only planned repeats count as evidence. Adding runs until a difference shows makes every interval too "
    "narrow.",
    "A release, and any public claim, needs the review of a qualified person; public claims follow the local "
    "rules on advertising.",
)
BENCH = (
    "Local rules and qualified people come before anything written here. Pin, ring and oil get hot, the ring "
    "pulls in fingers, loose sleeves and hair, oil is flung, and smoke and solvent vapour harm. Guard the "
    "ring, wear eye protection, tie hair back, extract smoke, keep solvents from ignition sources and let "
    "parts cool."
)


def cautions_parts() -> list[Markup]:
    """Show what the evidence does not tell, and the dangers at the bench."""
    return [
        paragraph(SEVERE),
        bullet_list(LIMITS),
        Markup("<p><strong>Safety at the bench.</strong> {}</p>").format(BENCH),
    ]


MAIN = ("film_pressure", "scar_area")
MOST_ROWS, MOST_LIMITS = 8, 5
"""Most rows of a table on the second page."""
MOST_FINDINGS, FINDINGS_OF_A_TEST_REPORT, MOST_SIGNS = 5, 2, 95


def brief_second_page(analysis: Analysis) -> list[str]:
    """Give the parts of the second page."""
    parts: list[str] = [Markup("<h2>In numbers</h2>")]
    if analysis.criteria:
        parts.append(setting.criteria_table(analysis, most=MOST_LIMITS))
    responses = chosen(analysis, MAIN)
    if responses:
        told = "Film pressure and scar of each oil and load"
        parts.append(
            result_tables.summary_table(analysis, responses, caption=told, key="film", most=MOST_ROWS)
        )
    parts += [Markup("<h2>How far it carries</h2>"), paragraph(openers.fairness(analysis))]
    grave = [f for f in analysis.audited if f.severity is not Weight.NOTE]
    # A test report has its statements on this page, too.
    most = MOST_FINDINGS if analysis.campaign.file.report is None else FINDINGS_OF_A_TEST_REPORT
    shown = [
        textwrap.shorten(f"{one.severity.capitalize()}: {one.message}", MOST_SIGNS, placeholder=" …")
        for one in grave[:most]
    ]
    if len(grave) > most:
        more = counted(len(grave) - most, "further finding")
        shown.append(f"{more.capitalize()}: see the standard report.")
    parts += [bullet_list(shown)] if shown else []
    said = short_sentence(analysis)
    parts += [] if said is None else [paragraph(said)]
    parts += [
        paragraph(f"{SEVERE} {LIMITS[-1]}"),
        Markup("<p><strong>Safety at the bench.</strong> {}</p>").format(BENCH),
        paragraph(f"{one_line(analysis)} Everything else stands in the report of standard length.", "note"),
    ]
    return parts


Detail = Literal["brief", "standard", "full"]
Show = Callable[[Analysis], Sequence[str]]


@dataclass(frozen=True, slots=True)
class Section:
    """One section of the report.

    Attributes
    ----------
    key : str
        What the template's cell calls it.
    title : str
        Its heading; the numbers come by themselves.
    full : callable
        What the full report shows of it, notes on method included.
    standard : callable
        What the report of usual length shows; its notes on method stand in the appendix.
    absent : callable
        Why there is nothing to show, for the list of what was not measured; empty where there is something.
    """

    key: str
    title: str
    full: Show
    standard: Show
    absent: Callable[[Analysis], str] = lambda _: ""


def _data(show: Callable[[Analysis], HTML]) -> Show:
    return lambda analysis: [str(show(analysis).data)]


def _with_method(show: Callable[[Analysis], HTML], key: str) -> Show:
    return lambda analysis: [str(show(analysis).data), str(sections.method(analysis, key).data)]


def _without_limits(analysis: Analysis) -> str:
    return "" if analysis.criteria else "this campaign states no release limits, so there is no verdict"


def _without_scars(analysis: Analysis) -> str:
    none = "neither film pressure nor scar area is among the responses of this report"
    return "" if results.chosen(analysis, results.SCAR_NUMBERS) else none


def _without_comparisons(analysis: Analysis) -> str:
    if analysis.comparisons:
        return ""
    return f"no oil shares a load with {analysis.reference}, so nothing is compared"


def _without_claims(analysis: Analysis) -> str:
    return "" if analysis.claims else "the campaign states no claims, so none was judged"


def _without_observations(analysis: Analysis) -> str:
    known = {*results.SCAR_NUMBERS, *results.WEAR_NUMBERS}
    others = [response for response in analysis.responses if response.name not in known]
    if others or analysis.observations or analysis.evidence.cards:
        return ""
    return "quiet time, temperature, fling, drips and smoke were not measured"


def _without_micrographs(analysis: Analysis) -> str:
    none = "no micrographs are in the campaign folder; the scar axes are those typed in"
    return "" if analysis.evidence.micrographs else none


def _without_growth(analysis: Analysis) -> str:
    return "" if analysis.context.growth else "the wear-arrest model needs crossed cylinders and quiet times"


def _without_sound(analysis: Analysis) -> str:
    return "" if analysis.evidence.recordings else "the folder sound holds no recording of an included run"


def _without_surroundings(analysis: Analysis) -> str:
    context = analysis.context
    if context.film or context.heat or analysis.evidence.traces:
        return ""
    said = [f"film thickness is not computed: {context.no_film}"]
    return "; ".join([*said, f"flash temperature is not computed: {context.no_heat}"])


def _without_service(analysis: Analysis) -> str:
    none = "campaign.toml has no [service] section that describes the chain's duty"
    stated = analysis.campaign.file.service is not None and analysis.context.joint is not None
    return "" if stated else none


def _without_spread(analysis: Analysis) -> str:
    none = "no response computed from a scar is among those of this report"
    return "" if results.first(analysis, ("scar_pressure", "scar_area")) else none


def _compared(analysis: Analysis) -> Sequence[str]:
    shown = str(sections.against_reference(analysis).data)
    note = methods.compared_note(analysis, " under its table")
    return [shown, Markup('<p class="method">{}</p>').format(note)]


def _audited(analysis: Analysis) -> Sequence[str]:
    note = Markup('<p class="method">{}</p>').format(methods.AUDIT)
    return [str(sections.fairness(analysis).data), note]


def _served(analysis: Analysis) -> Sequence[str]:
    note = Markup('<p class="method">{}</p>').format(methods.joint_note())
    return [str(sections.service(analysis).data), note]


def _observed(analysis: Analysis) -> Sequence[str]:
    return [str(sections.observations(analysis).data), str(sections.fling_cards(analysis).data)]


def _nothing(_: Analysis) -> Sequence[str]:
    return []


SECTIONS = (
    Section("limits", "Release limits", _data(sections.limits), standard.limits, _without_limits),
    Section("tested", "What was tested, and how", _with_method(sections.tested, "tested"), standard.tested),
    Section("fairness", "How fair the comparison is", _audited, standard.fairness),
    Section(
        "film",
        "Film pressure and scar",
        _with_method(sections.film_and_scar, "film"),
        standard.film,
        _without_scars,
    ),
    Section("against", "Against the reference", _compared, standard.against_reference, _without_comparisons),
    Section("claims", "Claims", _data(sections.claims), standard.claims, _without_claims),
    Section("observed", "What else was observed", _observed, standard.observed, _without_observations),
    Section("runs", "Every run", _data(sections.runs), standard.runs),
    Section(
        "micrographs",
        "Scars under the microscope",
        _data(sections.micrographs),
        standard.scars,
        _without_micrographs,
    ),
    Section(
        "contact",
        "The contact, from first touch to final scar",
        _with_method(sections.contact, "contact"),
        standard.contact,
    ),
    Section(
        "growth",
        "How the scars grew",
        _with_method(sections.growth, "growth"),
        standard.growth,
        _without_growth,
    ),
    Section("sound", "What the recordings tell", _data(sections.sound), standard.sound, _without_sound),
    Section(
        "surround",
        "Film, lambda and heat",
        _with_method(sections.film_and_heat, "surround"),
        standard.surround,
        _without_surroundings,
    ),
    Section("service", "Bench against service", _served, standard.service, _without_service),
    Section(
        "spread",
        "Spread between runs, and measurement uncertainty",
        _with_method(sections.spread, "spread"),
        standard.spread,
        _without_spread,
    ),
    Section(
        "cautions",
        "Limits of this evidence, and cautions",
        lambda _: cautions_parts(),
        lambda _: cautions_parts(),
    ),
    Section("methods", "Notes on method", _nothing, lambda analysis: [methods.appendix(_notes(analysis))]),
    Section("trace", "Trace and methods", _data(sections.provenance), standard.trace),
)
"""The sections in their order; a new one is a line here and a cell of the template that calls `section`."""
ABSENT = "Not measured, or not computed"


def checked(detail: str) -> Detail:
    """Refuse a detail that is none."""
    known = get_args(Detail)
    if detail not in known:
        raise UsageError(f"detail must be brief, standard or full, not {detail!r}")
    return cast("Detail", detail)


def front(analysis: Analysis, detail: Detail) -> HTML:
    """Show page one: the decision."""
    return sections.front(analysis, section=detail != "brief", kind=detail)


def section(analysis: Analysis, key: str, detail: Detail) -> HTML:
    """Show a section with its heading, as far as the detail has it and there is something to show."""
    one = next(one for one in SECTIONS if one.key == key)
    if detail == "brief":
        return as_html([])
    if detail == "full":
        parts = one.full(analysis)
        return as_html([_heading(one.title), *parts] if parts else [])
    if one.absent(analysis):
        return as_html([])
    shown = "\n".join(str(part) for part in one.standard(analysis))
    return as_html([_heading(one.title), methods.refer(shown, key, _notes(analysis))])


def absent(analysis: Analysis, detail: Detail) -> HTML:
    """List the sections that have nothing to show; the full report says so in each of them."""
    lines = [(one.title, why) for one in SECTIONS if (why := one.absent(analysis))]
    if detail != "standard" or not lines:
        return as_html([])
    return as_html([_heading(ABSENT), *standard.absent_list(lines)])


def second_page(analysis: Analysis, detail: Detail) -> HTML:
    """Show the second and last page of a brief report."""
    return as_html(brief_second_page(analysis) if detail == "brief" else [])


def _notes(analysis: Analysis) -> tuple[methods.Note, ...]:
    return methods.notes(analysis, [one.key for one in SECTIONS if not one.absent(analysis)])


def _heading(title: str) -> Markup:
    return Markup("<h2>{}</h2>").format(title)


MOST_RUNS = 2000
"""Runs of the largest campaign that is evaluated twice: of a larger one the tables take longer than the
charts, and memory counts."""


def work_ahead(parameters: Mapping[str, Any]) -> None:
    """Work out what the template with these parameters will ask for, from its end."""
    campaign = read_one(Path(parameters["folder"]))
    if len(campaign.runs) > MOST_RUNS:
        return
    confidence = parameters.get("confidence")
    compare_ahead(campaign, confidence)
    analysis = analyse(campaign, confidence, parameters.get("responses"))
    detail = checked(parameters.get("detail", "standard"))
    for one in reversed(SECTIONS):
        # Whatever is wrong with a section, the kernel meets it again and says so in its place.
        with contextlib.suppress(Exception):
            section(analysis, one.key, detail)
