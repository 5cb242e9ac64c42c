"""The laboratory's report around the results: letterhead, items, statements and their sentences."""

from __future__ import annotations

import base64
import datetime as dt
import textwrap
from typing import TYPE_CHECKING

from markupsafe import Markup

from pinscar.campaign.model import Lubricant
from pinscar.campaign.report_checks import LogoError, read_logo
from pinscar.campaign.report_section import ReportSection, Sample
from pinscar.decision.record import Analysis, oil_order
from pinscar.decision.responses import in_unit
from pinscar.decision.results_report import COVERAGE_FACTOR, Expanded, expanded_uncertainties
from pinscar.decision.runs import run_days
from pinscar.errors import InputError, Problem, Severity
from pinscar.page.markup import bullet_list, finding, key_value, table
from pinscar.page.outline import LETTERHEAD, as_html
from pinscar.shown import to_shown
from pinscar.wording import MONTHS, counted, date_range, load_text, percentage, sentence, with_uncertainty

if TYPE_CHECKING:
    from IPython.display import HTML


def day(date: dt.date) -> str:
    """Write a date.

    Examples
    --------
    >>> day(dt.date(2026, 4, 24))
    '24 April 2026'
    """
    return f"{date.day} {MONTHS[date.month - 1]} {date.year}"


def running_number(report: ReportSection) -> str:
    """Name the report at the head of each page.

    Examples
    --------
    >>> running_number(ReportSection(number="2026-014", revision=2))
    'Test report 2026-014, revision 2'
    """
    number = f"Test report {report.number}" if report.number else "Test report, not numbered"
    return f"{number}, revision {report.revision}" if report.revision else number


def end_mark(report: ReportSection) -> str:
    """Name the report at its end."""
    return f"End of {running_number(report).replace('Test', 'test', 1)}"


def covered(analysis: Analysis) -> str:
    """Say what the report is about."""
    oils = analysis.included["lubricant"].nunique()
    when = "." if not analysis.criteria else f", and {counted(len(analysis.criteria), 'release limit')}."
    return f"The report covers {counted(oils, 'item')} in {counted(len(analysis.included), 'run')}{when}"


def method(report: ReportSection) -> str | None:
    """Name the method and its edition."""
    if report.method is None or report.method.document is None:
        return None
    edition = report.method.edition
    return (
        f"{report.method.document}, {edition}"
        if edition
        else f"{report.method.document} (edition not stated)"
    )


def listed(items: tuple[str, ...] | None, none: str) -> str | None:
    """Put entries into one text; an empty list says that there is none.

    Examples
    --------
    >>> listed((), "none"), listed(("Ring B was reground.", "No quiet time on day 2"), "none")
    ('none', 'Ring B was reground. No quiet time on day 2.')
    """
    if items is None:
        return None
    return " ".join(sentence(one) for one in items) if items else none


def environment(analysis: Analysis, report: ReportSection) -> str | None:
    """Say what surrounded the bench: as measured in the runs, and as stated."""
    ambient = analysis.included["ambient_temperature"].dropna()
    parts = []
    if not ambient.empty:
        low, high = (f"{to_shown(float(end), '°C'):.3g}" for end in (ambient.min(), ambient.max()))
        span = f"{low} °C" if low == high else f"{low} to {high} °C"
        missing = len(analysis.included) - len(ambient)
        rest = f" (not noted in {counted(missing, 'run')})" if missing else ""
        parts.append(f"{span} at the runs{rest}")
    if report.environment:
        parts.append(report.environment)
    return "; ".join(parts) or None


UNCERTAINTY = (
    f"U = k u with k = {COVERAGE_FACTOR:g}, a coverage of about 95 % of a normal distribution; u is the "
    "standard uncertainty that the stated ones of load and reading give for one measurement (JCGM 100:2008, "
    "6.2 and 6.3.3, from memory). It is not the interval of a result: the intervals in this report hold the "
    "spread between runs, of which reading and load are part, and state their confidence themselves."
)
NO_UNCERTAINTY = (
    "Not stated: the rig's uncertainties of load and reading are not given, so none follows for a result."
)


def decision_rule(analysis: Analysis) -> list[str]:
    """Say by which rule results are held against limits, and how often that is wrong."""
    risk = percentage((1.0 - analysis.confidence) / 2.0)
    number = len(analysis.criteria)
    said = [
        "Rule: guarded acceptance and guarded rejection (JCGM 106:2012, 8.3, from memory). A release limit "
        "is Met only if the whole interval lies on its right side, Not met only if the whole interval lies "
        "on its wrong side, and else Undecided, which states neither.",
        "Guard band: the distance from the estimate to the end of its two-sided interval, of "
        f"{percentage(analysis.confidence)} confidence or more.",
        "Risk: where the true value of the items lies on the limit, Met is wrong by design in at most "
        f"{risk} of such campaigns, and so is Not met. Further away from the limit the risk is smaller.",
        "This holds as far as the assumptions of the intervals do (repeats independent and as planned, the "
        "distribution named with each method), and for the items as received, not for later batches.",
    ]
    if any(one.learned for one in analysis.criteria):
        said.append(
            "Earlier campaigns are counted in, with less weight the less their scatter agrees with this "
            "one's; simulation at the limit found no more wrong Met with them than without, within its error."
        )
    if number > 1:
        said.append(
            f"Over all {number} limits: the verdict is Met only if each is, so its risk of a wrong Met is no "
            f"larger than that of one limit; the risk of at least one wrong Not met is at most {number} "
            "times as large."
        )
    return said


def rule_in_short(analysis: Analysis) -> str:
    """Name the decision rule with its risk in one sentence."""
    risk = percentage((1.0 - analysis.confidence) / 2.0)
    return (
        "guarded acceptance and guarded rejection (JCGM 106:2012, 8.3, from memory): the whole interval lies "
        "on one side of the limit. Where the true value lies on the limit, Met is wrong in at most "
        f"{risk} of such campaigns, and so is Not met."
    )


SIMPLIFIED = (
    "This is a simplified report (ISO/IEC 17025:2017, 7.8.1.3, from memory). What it leaves out, "
    "measurement uncertainty included, stands in the report of standard length. What to do next is an "
    "opinion."
)

OPINIONS = (
    "These are opinions and interpretations, and no results: what further runs are likely to settle, what "
    "to do next, the strongest wording of a claim, growth of scars by the model, film thickness, friction "
    "heat, and the bench held against service. They rest on the runs of this report and on the equations "
    "named with them."
)


def validity(report: ReportSection) -> list[str]:
    """Say what the report holds for, who answers for what, and that it goes about whole."""
    laboratory = report.laboratory or "the laboratory"
    said = [
        "The results relate only to the items tested, as received.",
        f"This report shall not be reproduced except in full without written approval of {laboratory}.",
    ]
    if report.supplied_by_customer:
        said.append(
            f"What the customer supplied is marked so above. It can affect the validity of the results, and "
            f"{laboratory} does not answer for it."
        )
    if report.replaces:
        said.append(f"This report replaces {report.replaces}, which is no longer valid.")
    return said


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
        _pair("Issued", None if report.issued is None else day(report.issued)),
        _pair("Author", report.author),
        _pair("Approved by", report.approver),
    ]
    body = Markup("").join([who, whom, Markup("<div>{}</div>").format(Markup("").join(rows))])
    return as_html([LETTERHEAD.format(running_number(report), report.laboratory or "", body)])


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
        finding(covered(analysis)),
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
        parts.append(Markup("<strong>Decision rule:</strong> {}").format(rule_in_short(analysis)))
    parts.append(Markup("{}").format(" ".join([*validity(report), SIMPLIFIED])))
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
            bullet_list(decision_rule(analysis)),
        ]
    parts += [
        Markup("<h3>Opinions and interpretations</h3>"),
        Markup("<p>{}</p>").format(OPINIONS),
        *([bullet_list(report.opinions)] if report.opinions else []),
        Markup("<h3>Validity</h3>"),
        bullet_list(validity(report)),
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
    dates = [None if one is None else day(one) for one in (sample.taken, sample.received)]
    return [one or NOT_SAID for one in (description, batch, sample.condition, *dates)]


def _facts(analysis: Analysis, report: ReportSection) -> dict[str, str | Markup]:
    days = run_days(analysis.included)
    told = {
        "Tests made at": report.place,
        "Tests made on": date_range(days) if days else None,
        "Method": method(report),
        "Deviations from the method": listed(report.deviations, "none"),
        "Ambient conditions": environment(analysis, report),
        "Samples taken": report.sampling,
        "Results from others": listed(report.external, "none"),
        "Supplied by the customer": listed(report.supplied_by_customer, "nothing"),
    }
    if report.reason:
        told["Changed in this revision"] = report.reason
    return {name: sentence(value) if value else NOT_SAID for name, value in told.items()}


def _uncertainty(found: tuple[Expanded, ...]) -> list[Markup]:
    if not found:
        return [finding(NO_UNCERTAINTY)]
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
            note=UNCERTAINTY,
        )
    ]


def _shown(one: Expanded, value: float) -> float:
    return in_unit(one.response, value) or 0.0


def end(analysis: Analysis) -> HTML:
    """Show the mark after which nothing of the report follows."""
    report = analysis.campaign.file.report
    if report is None:
        return as_html([])
    return as_html([Markup('<p class="end-mark">{}</p>').format(end_mark(report))])
