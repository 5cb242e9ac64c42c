"""The sentences of a laboratory's report: what it covers, its decision rule, what it holds for."""

from __future__ import annotations

import datetime as dt

from pinscar.campaign.report_section import ReportSection
from pinscar.decision.expanded_uncertainty import COVERAGE_FACTOR
from pinscar.decision.record import Analysis
from pinscar.shown import to_shown
from pinscar.wording import MONTHS, counted, percentage, sentence


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
