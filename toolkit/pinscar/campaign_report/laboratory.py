"""The laboratory's report around the results: letterhead, items, statements, end mark.

Without ``[report]`` in campaign.toml each of these shows nothing.
"""

from __future__ import annotations

import base64
import textwrap
from typing import TYPE_CHECKING

from pinscar.campaign.logo import LogoError, read_logo
from pinscar.campaign.model import Lubricant
from pinscar.campaign.report_section import ReportSection, Sample
from pinscar.campaign_report import laboratory_words as words
from pinscar.decision.expanded_uncertainty import Expanded, expanded_uncertainties
from pinscar.decision.oils import oil_order
from pinscar.decision.record import Analysis
from pinscar.decision.responses import in_unit
from pinscar.decision.runs import run_days
from pinscar.errors import InputError
from pinscar.page.cell import as_html
from pinscar.page.markup import Markup, bullet_list, finding, key_value, table
from pinscar.page.outline import LETTERHEAD
from pinscar.problems import Problem, Severity
from pinscar.wording import date_range, load_text, sentence, with_uncertainty

if TYPE_CHECKING:
    from IPython.display import HTML

LOGO_MM = (42.0, 15.0)
"""Most width and height of a logo on paper."""
NOT_SAID = Markup('<span class="unknown">not stated</span>')


def letterhead(analysis: Analysis) -> HTML:
    """Show laboratory, customer and number over the title of the page."""
    report = analysis.campaign.file.report
    if report is None:
        return as_html([])
    who = Markup("<div>{}<p><strong>{}</strong>{}</p></div>").format(
        _logo(analysis, report), report.laboratory or NOT_SAID, _below(report.address)
    )
    customer, *address = report.customer or ("",)
    whom = Markup('<div><p><span class="label">Customer</span><br><strong>{}</strong>{}</p>{}</div>').format(
        customer or NOT_SAID, _below(address), _pair("Order", report.order)
    )
    rows = [
        Markup('<p class="report-number"><strong>Test report</strong> {}</p>').format(
            Markup('<strong class="number-of-report">{}</strong>').format(report.number or "not numbered")
        ),
        _pair("Revision", report.revision) if report.revision else Markup(""),
        _pair("Replaces", report.replaces) if report.replaces else Markup(""),
        _pair("Issued", None if report.issued is None else words.day(report.issued)),
        _pair("Author", report.author),
        _pair("Approved by", report.approver),
    ]
    body = Markup("").join([who, whom, Markup("<div>{}</div>").format(Markup("").join(rows))])
    return as_html([LETTERHEAD.format(words.running_number(report), report.laboratory or "", body)])


def _below(lines: tuple[str, ...] | list[str] | None) -> Markup:
    return Markup("").join(Markup("<br>{}").format(one) for one in lines or ())


def _pair(name: str, value: str | None) -> Markup:
    return Markup('<p><span class="label">{}</span> {}</p>').format(name, value or NOT_SAID)


def _logo(analysis: Analysis, report: ReportSection) -> Markup:
    if report.logo is None:
        return Markup("")
    try:
        logo = read_logo(analysis.campaign.folder / report.logo)
    except LogoError as wrong:
        problem = Problem(
            code="logo-unusable",
            severity=Severity.ERROR,
            file="campaign.toml",
            message=wrong.message,
            mend=wrong.mend,
            column="report.logo",
            value=report.logo,
        )
        raise InputError([problem]) from None
    height = min(LOGO_MM[1], LOGO_MM[0] / logo.shape)
    address = f"data:{logo.media};base64,{base64.b64encode(logo.data).decode('ascii')}"
    return Markup(
        '<p class="logo"><img alt="Logo of {}" style="width: {}mm; height: {}mm" src="{}"></p>'
    ).format(
        report.laboratory or "the laboratory", f"{height * logo.shape:.1f}", f"{height:.1f}", Markup(address)
    )


def statements(analysis: Analysis, detail: str = "standard") -> HTML:
    """Show what a test report must say beside its results, each once; in a brief report the least of it."""
    report = analysis.campaign.file.report
    if report is None:
        return as_html([])
    if detail == "brief":
        return as_html([_in_short(analysis, report)])
    expanded = expanded_uncertainties(analysis)
    parts = [
        Markup("<h2>Items, method and statements of this test report</h2>"),
        finding(words.covered(analysis)),
        _items(analysis),
        key_value(_facts(analysis, report)),
        Markup("<h3>Measurement uncertainty</h3>"),
        *_uncertainty(expanded),
    ]
    parts.append(Markup('<div class="statements">{}</div>').format(_stated(analysis, report)))
    return as_html(parts)


MOST_ITEMS, MOST_SIGNS = 5, 120
"""Items that a brief report tells of one by one, and signs of a fact; the standard report has the rest."""


def _in_short(analysis: Analysis, report: ReportSection) -> Markup:
    """Put items, method, uncertainty, decision rule and validity into a few lines."""
    facts = _facts(analysis, report)
    told = [
        Markup("<strong>{}:</strong> {}").format(name, _shortened(value))
        for name, value in {"Items tested": _items_in_short(analysis), **facts}.items()
    ]
    parts = [Markup(" ").join(told)]
    if analysis.criteria:
        parts.append(Markup("<strong>Decision rule:</strong> {}").format(words.rule_in_short(analysis)))
    parts.append(Markup("{}").format(" ".join([*words.validity(report), words.SIMPLIFIED])))
    body = Markup("").join(Markup("<p>{}</p>").format(part) for part in parts)
    return Markup('<div class="statements">{}</div>').format(body)


def _shortened(value: str | Markup) -> str | Markup:
    return value if isinstance(value, Markup) else textwrap.shorten(value, MOST_SIGNS, placeholder=" …")


def _items_in_short(analysis: Analysis) -> Markup | str:
    declared = {one.id: one for one in analysis.campaign.file.lubricants}
    seen = set(analysis.included["lubricant"])
    names = [name for name in oil_order(analysis.campaign.file, seen) if name in seen]
    if len(names) > MOST_ITEMS:
        return f"{len(names)}, listed in the report of standard length."
    items = []
    for name in names:
        description, batch, condition, _, received = _sample(declared.get(name))
        items.append(
            Markup("{} ({}, batch {}, {}, received {})").format(name, description, batch, condition, received)
        )
    return Markup("; ").join(items) + "."


def _stated(analysis: Analysis, report: ReportSection) -> Markup:
    parts = []
    if analysis.criteria:
        parts += [
            Markup("<h3>Decision rule, and its risk</h3>"),
            bullet_list(words.decision_rule(analysis)),
        ]
    parts += [
        Markup("<h3>Opinions and interpretations</h3>"),
        Markup("<p>{}</p>").format(words.OPINIONS),
        *([bullet_list(report.opinions)] if report.opinions else []),
        Markup("<h3>Validity</h3>"),
        bullet_list(words.validity(report)),
    ]
    return Markup("\n").join(parts)


def _items(analysis: Analysis) -> Markup:
    declared = {one.id: one for one in analysis.campaign.file.lubricants}
    runs = analysis.included
    rows = []
    tested_oils = set(runs["lubricant"])
    for name in oil_order(analysis.campaign.file, runs["lubricant"]):
        if name not in tested_oils:
            continue
        days = run_days(runs[runs["lubricant"] == name])
        tested = date_range(days) if days else NOT_SAID
        rows.append([name, *_sample(declared.get(name)), tested])
    return table(
        ["Oil", "Description", "Batch", "Condition on receipt", "Taken", "Received", "Tested"],
        rows,
        caption="Items tested",
        key="items",
        long=len(rows) > 8,
    )


def _sample(oil: Lubricant | None) -> list[str | Markup]:
    sample = (oil.sample if oil else None) or Sample()
    batch = sample.batch or (oil.batch if oil else None)
    description = sample.description or (oil.name if oil else None)
    dates = [None if one is None else words.day(one) for one in (sample.taken, sample.received)]
    return [one or NOT_SAID for one in (description, batch, sample.condition, *dates)]


def _facts(analysis: Analysis, report: ReportSection) -> dict[str, str | Markup]:
    days = run_days(analysis.included)
    told = {
        "Tests made at": report.place,
        "Tests made on": date_range(days) if days else None,
        "Method": words.method(report),
        "Deviations from the method": words.listed(report.deviations, "none"),
        "Ambient conditions": words.environment(analysis, report),
        "Samples taken": report.sampling,
        "Results from others": words.listed(report.external, "none"),
        "Supplied by the customer": words.listed(report.supplied_by_customer, "nothing"),
    }
    if report.reason:
        told["Changed in this revision"] = report.reason
    return {name: sentence(value) if value else NOT_SAID for name, value in told.items()}


def _uncertainty(found: tuple[Expanded, ...]) -> list[Markup]:
    if not found:
        return [finding(words.NO_UNCERTAINTY)]
    responses = list(dict.fromkeys(one.response for one in found))
    cells: dict[tuple[str, float], dict[str, str]] = {(one.lubricant, one.load_level): {} for one in found}
    for one in found:
        factor = one.response.shown_factor
        cells[one.lubricant, one.load_level][one.response.name] = with_uncertainty(
            _shown(one, one.value) * factor, _shown(one, one.uncertainty) * factor
        )
    rows = [
        [
            f"{oil} at {load_text(load)}",
            *[told.get(response.name, "not computed") for response in responses],
        ]
        for (oil, load), told in cells.items()
    ]
    return [
        table(
            ["Oil and load", *[(response.label, response.shown_unit) for response in responses]],
            rows,
            caption="One measurement (the median of the runs) with its expanded uncertainty, k = 2",
            key="expanded",
            number_columns=range(1, 1 + len(responses)),
            note=words.UNCERTAINTY,
        )
    ]


def _shown(one: Expanded, value: float) -> float:
    return in_unit(one.response, value) or 0.0


def end(analysis: Analysis) -> HTML:
    """Show the mark after which nothing of the report follows."""
    report = analysis.campaign.file.report
    if report is None:
        return as_html([])
    return as_html([Markup('<p class="end-mark">{}</p>').format(words.end_mark(report))])
