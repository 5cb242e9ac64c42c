"""What the cells of the plan call: one function a section, each giving ready HTML."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pinscar.campaign.settings import read_settings
from pinscar.decision.pilot import read_pilot
from pinscar.decision.plan import Plan, make_plan
from pinscar.decision.plan_results import plan_results
from pinscar.decision.wanted import wanted_of
from pinscar.report import plan_tables as tables
from pinscar.report import plan_words as words
from pinscar.report import study_page as page
from pinscar.report.cautions import BENCH
from pinscar.report.markup import Markup, finding
from pinscar.report.plan_chart import power_chart
from pinscar.report.results_file import publish_results
from pinscar.report.subject import input_hashes, read_several
from pinscar.report.trace import trace_of
from pinscar.units import UnitError, parse_quantity

if TYPE_CHECKING:
    from IPython.display import HTML


@dataclass(frozen=True, slots=True)
class PlanReport:
    """A plan with what its report needs beside.

    Parameters
    ----------
    plan : Plan
        The plan.
    inputs : mapping of str to str
        SHA-256 of each file read.
    """

    plan: Plan
    inputs: Mapping[str, str]


def load(
    folder: str,
    pilot: str | None = None,
    log_sd: float | None = None,
    ratio: float = 0.8,
    power: float = 0.8,
    lubricants: Sequence[str] | None = None,
    loads: Sequence[str] | None = None,
    days: int = 2,
    repeats: int | None = None,
    censored: float | None = None,
    duration: str | None = None,
    response: str = "scar_area",
    confidence: float | None = None,
    seed: int = 1,
) -> PlanReport:
    """Plan a campaign.

    Parameters
    ----------
    folder : str
        The campaign folder; it needs a campaign.toml.
    pilot : str, optional
        Folder of an earlier campaign, relative to it, that tells the spread.
    log_sd : float, optional
        Standard deviation of the logarithms, in place of a pilot.
    ratio, power : float
        Ratio to be shown, and the wanted chance of showing it.
    lubricants, loads : sequence of str, optional
        Oils and loads; those of campaign.toml and its criteria where not given.
    days : int
        Days that the runs are spread over.
    repeats : int, optional
        Runs of each oil at each load, in place of those that the power takes.
    censored : float, optional
        Share of the reference's runs expected to be still wearing at their end.
    duration : str, optional
        Duration of a run with its unit; the pilot's where not given.
    response : str
        What will be compared.
    confidence : float, optional
        Confidence of the comparison; the campaign's where not given.
    seed : int
        Seed of the order and of the simulations.

    Returns
    -------
    PlanReport
        The plan.

    Raises
    ------
    UsageError
        For anything out of range or missing.
    InputError
        For errors in campaign.toml or in the pilot.
    """
    file = read_settings(folder)
    wanted = wanted_of(
        file,
        ratio=ratio,
        power=power,
        response=response,
        lubricants=lubricants,
        loads=loads,
        days=days,
        seed=seed,
        confidence=confidence,
    )
    earlier = read_pilot(read_several(Path(folder), [pilot])[0], response) if pilot else None
    plan = make_plan(
        file,
        wanted,
        pilot=earlier,
        log_sd=log_sd,
        repeats=repeats,
        censored=censored,
        duration=_seconds(duration),
    )
    return PlanReport(plan, input_hashes(Path(folder), {"folder": folder, "pilot": pilot}))


def _seconds(duration: str | None) -> float | None:
    from pinscar.errors import UsageError

    if duration is None:
        return None
    try:
        seconds = parse_quantity(duration, "time")
    except UnitError as error:
        raise UsageError(f"the duration cannot be read: {error.message}; {error.mend}") from error
    if not seconds > 0.0:
        raise UsageError("the duration must be over 0 s")
    return seconds


def front(report: PlanReport) -> HTML:
    """Show the question, the number of repeats and what it rests on.

    Parameters
    ----------
    report : PlanReport
        The plan.

    Returns
    -------
    HTML
        Everything above the first section.
    """
    plan = report.plan
    question = plan.file.campaign.question
    lead = [Markup('<p class="lead">{}</p>').format(question)] if question else []
    answer = Markup('<p class="answer">{} {}</p>').format(
        words.size_sentence(plan), words.spread_sentence(plan)
    )
    return page.as_html([*lead, finding(words.answer_sentence(plan)), answer, _chart(plan)])


def repeats(report: PlanReport) -> HTML:
    """Show what more or fewer repeats give, and the spread of the pilot.

    Parameters
    ----------
    report : PlanReport
        The plan.

    Returns
    -------
    HTML
        The section.
    """
    plan = report.plan
    pilot = tables.pilot_table(plan)
    return page.as_html(
        [
            finding(words.detectable_sentence(plan)),
            tables.steps_table(plan),
            *([] if pilot is None else [pilot]),
        ]
    )


def censoring(report: PlanReport) -> HTML:
    """Show what runs still wearing cost.

    Parameters
    ----------
    report : PlanReport
        The plan.

    Returns
    -------
    HTML
        The section.
    """
    detail = words.censored_detail(report.plan)
    more = [Markup("<p>{}</p>").format(detail)] if detail else []
    return page.as_html([finding(words.censored_sentence(report.plan)), *more])


def looking(report: PlanReport) -> HTML:
    """Show what it costs to look and add repeats.

    Parameters
    ----------
    report : PlanReport
        The plan.

    Returns
    -------
    HTML
        The section.
    """
    return page.as_html([finding(words.look_sentence(report.plan))])


def order(report: PlanReport) -> HTML:
    """Show how the runs are spread over the days.

    Parameters
    ----------
    report : PlanReport
        The plan.

    Returns
    -------
    HTML
        The section.
    """
    plan = report.plan
    return page.as_html([finding(words.order_sentence(plan)), tables.days_table(plan)])


def sheet(report: PlanReport) -> HTML:
    """Show the run sheet.

    Parameters
    ----------
    report : PlanReport
        The plan.

    Returns
    -------
    HTML
        The section.
    """
    caution = Markup('<p class="caution"><strong>Safety first.</strong> {}</p>').format(BENCH)
    return page.as_html([part for sheet in tables.run_sheet(report.plan) for part in (caution, sheet)])


def trace(report: PlanReport) -> HTML:
    """Show from which files and with which versions the plan was made.

    Parameters
    ----------
    report : PlanReport
        The plan.

    Returns
    -------
    HTML
        The section.
    """
    return page.as_html([trace_of(report.inputs)])


def publish(report: PlanReport) -> None:
    """Hand the machine-readable results to the report, without showing them.

    Parameters
    ----------
    report : PlanReport
        The plan.
    """
    publish_results(plan_results(report.plan))


def _chart(plan: Plan) -> str:
    grey = " Grey: with the spread as the pilot found it." if plan.pilot else ""
    return page.figure_for_both(
        lambda width: power_chart(plan, width_mm=width),
        alt=words.answer_sentence(plan),
        caption=(
            f"Chance to show a {words.aim(plan)} at one load, against the repeats. Blue: with the spread "
            f"planned with.{grey}"
        ),
        key="power",
    )
