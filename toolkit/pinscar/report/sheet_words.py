"""The words of the comparison sheet: what came out best, how, when, and what speaks for caution."""

from __future__ import annotations

import re

import pandas as pd

from pinscar.decision.analysis import Analysis
from pinscar.decision.finding import Finding, Weight
from pinscar.decision.ranking import Ranking
from pinscar.decision.results import conclusion
from pinscar.decision.summaries import Summary
from pinscar.decision.wording import listing, load_text, percentage, with_interval, with_unit
from pinscar.report.interval_chart import shown
from pinscar.report.run_dates import when_run


def runs_of(analysis: Analysis, ranking: Ranking) -> pd.DataFrame:
    """Give the runs that the sheet shows.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    ranking : Ranking
        The oils at one load.

    Returns
    -------
    DataFrame
        Evaluated, included runs.
    """
    ids = {run for s in ranking.summaries for run in s.cell.run_ids}
    return analysis.included[analysis.included["run_id"].isin(ids)]


def when(analysis: Analysis, ranking: Ranking) -> str:
    """Say when the runs were made.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    ranking : Ranking
        The oils at one load.

    Returns
    -------
    str
        A few words.
    """
    return when_run(runs_of(analysis, ranking))


def best(analysis: Analysis, ranking: Ranking) -> str:
    """Say which oil came out best, with numbers.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    ranking : Ranking
        The oils at one load.

    Returns
    -------
    str
        One sentence.
    """
    label = ranking.response.label.lower()
    top = next((s for s in ranking.summaries if s.estimate.estimate is not None), None)
    if top is None:
        return f"No oil has more than a bound on its {label} at this load."
    text = f"{top.cell.lubricant} has the {_best_word(ranking)} {label}, {_numbers(ranking, top)}"
    against = ranking.comparisons.get(top.cell.lubricant)
    if against is not None and against.separated:
        return f"{text}: {conclusion(against)}."
    base = next((s for s in ranking.summaries if s.cell.lubricant == analysis.reference), None)
    if base is None or base is top:
        return f"{text}."
    return f"{text}, against {_numbers(ranking, base)} for {analysis.reference}."


def caption(analysis: Analysis, ranking: Ranking) -> str:
    """Say what the chart shows.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    ranking : Ranking
        The oils at one load.

    Returns
    -------
    str
        The caption.
    """
    sure = percentage(analysis.confidence)
    parts = [
        f"{ranking.response.label} at {load_text(ranking.load_level)}: estimate and {sure} interval (bar), "
        "every run (dots), best at the top"
    ]
    if ranking.letters:
        parts.append(
            f"oils that share a letter are not separated ({sure} confidence over all pairs together)"
        )
    if any(s.estimate.n_censored for s in ranking.summaries):
        parts.append("an open arrow is a run that gives only a bound")
    return "; ".join(parts) + "."


def left_out(ranking: Ranking) -> str | None:
    """Say which oils carry no letter, and why.

    Parameters
    ----------
    ranking : Ranking
        The oils at one load.

    Returns
    -------
    str or None
        One sentence; None where all carry one.
    """
    if not ranking.left_out:
        return None
    reasons = "; ".join(f"{name}: {reason}" for name, reason in ranking.left_out.items())
    head = "Without a letter, and why" if ranking.letters else "No letter groups, because"
    return f"{head}: {reasons}."


def statistics(ranking: Ranking) -> str:
    """Say how the oils were compared.

    Parameters
    ----------
    ranking : Ranking
        The oils at one load.

    Returns
    -------
    str
        A clause.
    """
    # The numbers in brackets stand in results.json; here they would crowd out the method.
    methods = (c.result.method for c in ranking.comparisons.values() if c.unlike is None)
    tests = sorted({re.sub(r" \([^)]*\)", "", method) for method in methods})
    parts = [f"against the reference: {listing(tests)}"] if tests else []
    parts.append(f"letters: {ranking.method}" if ranking.letters else ranking.method)
    return "; ".join(parts)


def audit_sentences(analysis: Analysis, ranking: Ranking) -> list[str]:
    """Say what the fairness audit has against the runs shown.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.
    ranking : Ranking
        The oils at one load.

    Returns
    -------
    list of str
        One or two sentences.
    """
    ids = set(runs_of(analysis, ranking)["run_id"])
    concerned = [f for f in analysis.findings if not f.runs or ids & set(f.runs)]
    parts = []
    for weight, words in ((Weight.BLOCKS, "blocks a comparison"), (Weight.CAUTION, "asks for caution")):
        names = _names([f for f in concerned if f.severity is weight])
        if names:
            parts.append(f"The fairness audit {words}: {listing(names)}.")
    return parts or ["The fairness audit found nothing against these runs."]


def _best_word(ranking: Ranking) -> str:
    if ranking.response.better == "higher":
        return "highest"
    return "smallest" if ranking.response.smaller == "smaller" else "lowest"


def _numbers(ranking: Ranking, summary: Summary) -> str:
    e = summary.estimate
    numbers = (shown(ranking.response, value) for value in (e.estimate, e.low, e.high))
    return with_unit(with_interval(*numbers), ranking.response.shown_unit)


def _names(findings: list[Finding]) -> list[str]:
    return list(dict.fromkeys(f.id.replace("-", " ") for f in findings))
