"""The answer first: verdict in words, two sentences with numbers, and which oil and load they speak of."""

from __future__ import annotations

from collections.abc import Sequence

from pinscar.decision.analysis import Analysis
from pinscar.decision.comparisons import LoadComparison
from pinscar.decision.summaries import Summary
from pinscar.decision.verdict import Verdict
from pinscar.decision.wording import (
    change_range,
    counted,
    listing,
    load_text,
    percent_change,
    percentage,
    with_interval,
)
from pinscar.report.interval_chart import shown


def verdict_sentence(analysis: Analysis) -> str:
    """Say what the release limits came to.

    Parameters
    ----------
    analysis : Analysis
        The evaluation; it has at least one criterion.

    Returns
    -------
    str
        One sentence.
    """
    by_verdict = {
        verdict: [result.criterion.id for result in analysis.criteria if result.verdict is verdict]
        for verdict in Verdict
    }
    total = len(analysis.criteria)
    parts = [
        f"{len(ids)} {verdict} ({listing(ids)})"
        for verdict, ids in by_verdict.items()
        if ids and verdict is not Verdict.MET
    ]
    met = len(by_verdict[Verdict.MET])
    if not parts:
        return (
            f"All {counted(total, 'release limit')} are met."
            if total > 1
            else "The only release limit is met."
        )
    return f"Of {counted(total, 'release limit')}, {met} {'is' if met == 1 else 'are'} met, {listing(parts)}."


def subject(analysis: Analysis) -> str | None:
    """Name the oil that the question is about.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.

    Returns
    -------
    str or None
        The oil of the first criterion, else the first candidate, else the first oil that isn't the reference.
    """
    others = [name for name in dict.fromkeys(analysis.included["lubricant"]) if name != analysis.reference]
    limited = [
        result.criterion.lubricant for result in analysis.criteria if result.criterion.lubricant in others
    ]
    candidates = [name for name in others if analysis.campaign.file.role_of(name) == "candidate"]
    return next(iter((*limited, *candidates, *others)), None)


def answer_sentences(analysis: Analysis) -> tuple[str, str]:
    """Answer in two sentences: the scar against the reference, and the pressure that the film carries.

    Parameters
    ----------
    analysis : Analysis
        The evaluation.

    Returns
    -------
    tuple of str
        Two sentences with numbers.
    """
    name = subject(analysis) or analysis.reference
    return _scar_sentence(analysis, name), _film_sentence(analysis, name)


def _scar_sentence(analysis: Analysis, name: str) -> str:
    found = [c for c in analysis.comparisons if c.result.subject == name and c.response.name == "scar_area"]
    if not found:
        return f"{name} was not run at a load of {analysis.reference}, so nothing can be compared."
    kind = "simultaneous over the oils compared" if _simultaneous(found) else "across repeats"
    return (
        f"Against {found[0].result.reference}, {name} left {listing([_scar_clause(c) for c in found])}; "
        f"{percentage(analysis.confidence)} intervals, {kind}."
    )


def _scar_clause(c: LoadComparison) -> str:
    result, where = c.result, load_text(c.load_level)
    runs = f"n = {result.n} and {result.n_reference}"
    if c.unlike is not None:
        return f"a scar at {where} that can't be compared ({c.unlike})"
    if result.ratio is None:
        return f"a scar at {where} without a ratio ({result.note or result.method})"
    change = percent_change(result.ratio, "smaller", "larger")
    if result.low is None or result.high is None:
        return f"a scar {change} at {where} (no interval, {runs})"
    interval = change_range(result.ratio, result.low, result.high)
    if c.blocked is not None:
        return f"a scar {change} at {where} ({interval}, {runs}), but not like for like ({c.blocked})"
    if c.separated:
        return f"a scar {change} at {where} ({interval}, {runs})"
    return f"a scar not clearly different at {where} ({change}, {interval}, {runs})"


def _simultaneous(found: Sequence[LoadComparison]) -> bool:
    # Every method for several oils gives intervals that hold together; the family counts them.
    return any(c.family > 1 for c in found)


def _film_sentence(analysis: Analysis, name: str) -> str:
    parts = [
        _film_clause(analysis, summary, name)
        for summary in analysis.summaries
        if summary.response.name == "film_pressure" and summary.cell.lubricant == name
    ]
    if not parts:
        return f"The film pressure of {name} was not evaluated."
    return f"Its film carries {listing(parts)}."


def _film_clause(analysis: Analysis, summary: Summary, name: str) -> str:
    estimate, level = summary.estimate, summary.cell.load_level
    numbers = [shown(summary.response, value) for value in (estimate.estimate, estimate.low, estimate.high)]
    text = f"{with_interval(*numbers)} MPa at {load_text(level)}"
    base = next(
        (
            other
            for other in analysis.summaries
            if other.response.name == "film_pressure"
            and other.cell.lubricant == analysis.reference
            and other.cell.load_level == level
        ),
        None,
    )
    if base is None or name == analysis.reference:
        return text
    values = [
        shown(base.response, v) for v in (base.estimate.estimate, base.estimate.low, base.estimate.high)
    ]
    return f"{text} against {with_interval(*values)} MPa for {analysis.reference}"
