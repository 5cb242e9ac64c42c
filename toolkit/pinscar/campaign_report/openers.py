"""The sentence that opens each section: its finding, with numbers.

The report's answer is here too: verdict in words, two sentences, and which oil and load they speak of.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pinscar.campaign_report.interval_chart import shown
from pinscar.decision import words
from pinscar.decision.finding import Weight
from pinscar.decision.judgements import (
    CriterionResult,
    LoadComparison,
    Summary,
    Support,
    Verdict,
    overall,
    spread_of,
)
from pinscar.decision.record import Analysis, asked_about
from pinscar.decision.responses import Response
from pinscar.decision.runs import run_days
from pinscar.decision.surrounding_states import Growth
from pinscar.decision.words import conclusion
from pinscar.shown import to_shown
from pinscar.wording import (
    change_range,
    counted,
    date_range,
    listing,
    load_text,
    percent_change,
    percentage,
    significant,
    with_interval,
    with_unit,
)


def tested(analysis: Analysis) -> str:
    """Say how much was tested."""
    runs = analysis.included
    days = run_days(runs)
    oils = _spelled(runs["lubricant"].nunique(), "oil")
    levels = listing([load_text(v) for v in sorted(runs["load_level"].dropna().unique())])
    sizes = runs.groupby(["lubricant", "load_level"]).size()
    each = (
        counted(int(sizes.min()), "repeat")
        if sizes.min() == sizes.max()
        else f"{sizes.min()} to {sizes.max()} repeats"
    )
    when = f" on {counted(len(days), 'day')} ({date_range(days)})" if days else ""
    left_out = len(analysis.runs) - len(runs)
    excluded = (
        f"; {counted(left_out, 'further run')} {'was' if left_out == 1 else 'were'} excluded"
        if left_out
        else ""
    )
    return (
        f"{oils} ran at {levels} in {counted(len(runs), 'run')}{when}, {each} of each oil and load{excluded}."
    )


def runs(analysis: Analysis) -> str:
    """Say how many runs are listed, count, and carry a remark."""
    listed, count = len(analysis.runs), len(analysis.included)
    remarked = sum(bool(flags) for flags in analysis.included["flags"])
    excluded = (
        "all are included"
        if count == listed
        else f"{count} are included, {listed - count} excluded with a reason"
    )
    return f"Of {counted(listed, 'run')}, {excluded}; {remarked} of the included runs carry a remark."


def response_levels(analysis: Analysis, response: Response) -> str:
    """Say which oil came out best and where the reference stands, at each load."""
    found = [s for s in analysis.summaries if s.response.name == response.name]
    parts = [
        _level_clause(analysis, level, [s for s in found if s.cell.load_level == level])
        for level in sorted({s.cell.load_level for s in found})
    ]
    if not parts:
        return f"{response.label} was not measured."
    return f"{response.label}: {'; '.join(parts)}."


def censoring(analysis: Analysis) -> str:
    """Say how many runs give a bound instead of a film pressure."""
    runs = analysis.included
    running = sum(state is False for state in runs["wear_stopped"])
    unjudged = sum(state is None for state in runs["wear_stopped"])
    if not running and not unjudged:
        return (
            "Wear had stopped in every run, so each final scar pressure is the pressure that the film "
            "carries."
        )
    still = f"wear was still running ({running})" if unjudged else "wear was still running"
    unknown = (
        f"whether it had stopped was not judged ({unjudged})" if running else "the end of wear was not judged"
    )
    why = " or ".join([still] * bool(running) + [unknown] * bool(unjudged))
    return (
        f"In {running + unjudged} of {counted(len(runs), 'run')} {why}: there the film carries less than the "
        "final pressure, and the run counts as a bound."
    )


def against_reference(analysis: Analysis) -> str:
    """Say which oils differ from the reference in scar area."""
    found = [c for c in analysis.comparisons if c.response.name == "scar_area"]
    if not found:
        return f"No oil shares a load with {analysis.reference}, so nothing is compared."
    separated = [c for c in found if c.separated]
    alike = [c for c in found if not c.separated and c.unlike is None and c.blocked is None]
    blocked = [c for c in found if c.blocked is not None]
    unlike = [c for c in found if c.unlike is not None]
    sentences = [f"{_where(c)} left a scar {conclusion(c)}." for c in separated]
    if alike:
        sentences.append(
            f"Not clearly different from {analysis.reference}: {listing([_where(c) for c in alike])}."
        )
    sentences += [f"{_where(c)} is not compared like for like: {c.blocked}." for c in blocked]
    if unlike:
        sentences.append(
            f"Run under unlike conditions and not tested: {listing([_where(c) for c in unlike])}."
        )
    return " ".join(sentences)


def _where(c: LoadComparison) -> str:
    return f"{c.result.subject} at {load_text(c.load_level)}"


def contact(analysis: Analysis) -> str:
    """Say how far the pressure fell from the first touch to the end."""
    runs = analysis.included
    final = to_shown(runs["scar_pressure"].dropna(), "MPa")
    hertz = to_shown(runs["hertz_peak_pressure"].dropna(), "GPa")
    volume = to_shown(runs["wear_volume"].dropna(), "mm³")
    worn = {"ball-on-disc": "balls", "block-on-ring": "blocks"}.get(
        analysis.campaign.file.rig.geometry, "pins"
    )
    ending = (
        f"the {worn} had lost {significant(float(volume.min()))} to {significant(float(volume.max()))} mm³ "
        f"and the pressure was {significant(float(final.min()))} to {significant(float(final.max()))} MPa"
    )
    if hertz.empty:
        return (
            f"At the end {ending}; the initial pressure is not computed, because an elastic constant is "
            "not stated."
        )
    start = _range(float(hertz.min()), float(hertz.max()))
    return f"The runs began at a peak pressure of {start} GPa by elastic contact; at the end {ending}."


def claims(analysis: Analysis) -> str:
    """Say how many claims the data support."""
    counts = {support: sum(c.support is support for c in analysis.claims) for support in Support}
    parts = [f"{n} {support}" for support, n in counts.items() if n]
    return f"Of {counted(len(analysis.claims), 'claim')}, {listing(parts)}."


def growth(curves: Sequence[Growth]) -> str:
    """Say when the scars stopped growing."""
    quiet = [curve.quiet_time for curve in curves]
    early = [float(np.interp(0.25 * c.time[-1], c.time, c.length)) / float(c.length[-1]) for c in curves]
    shares = (f"{100 * min(early):.0f}", f"{100 * max(early):.0f}")
    return (
        f"The rubbing noise stopped after {_ends(significant(min(quiet), 2), significant(max(quiet), 2))} s "
        f"(medians); by the model a scar has {_ends(*shares)} % of its final "
        "length after a quarter of the run."
    )


def fairness(analysis: Analysis, *, pictures: bool = True) -> str:
    """Say what the fairness audit found, with or without what the pictures of scars tell."""
    found = analysis.audited if pictures else analysis.findings
    counts = {weight: sum(f.severity is weight for f in found) for weight in Weight}
    if not any(counts.values()):
        return "The audit found nothing that makes the comparison unfair."
    blocks = counts[Weight.BLOCKS]
    blocking = (
        "nothing that blocks a comparison"
        if not blocks
        else f"{counted(blocks, 'finding')} that block{'s' * (blocks == 1)} a comparison"
    )
    return (
        f"The audit found {blocking}, {counted(counts[Weight.CAUTION], 'caution')} and "
        f"{counted(counts[Weight.NOTE], 'note')}."
    )


def spread(analysis: Analysis, response: Response, measured: dict[str, float]) -> str:
    """Say how the spread between runs compares with the uncertainty of one measurement."""
    spreads = [spread_of(s) for s in analysis.summaries if s.response.name == response.name]
    known = [value for value in spreads if value is not None]
    between = "unknown"
    if known:
        between = f"{_ends(significant(min(known), 2), significant(max(known), 2))} %"
    if not measured:
        return (
            f"Between repeats the {response.label.lower()} spreads by {between}; the uncertainty of one "
            "measurement is not computed, because the campaign states no load or reading uncertainty."
        )
    values = list(measured.values())
    return (
        f"Between repeats the {response.label.lower()} spreads by {between}; reading the scar and setting "
        f"the load contribute {_ends(significant(min(values), 2), significant(max(values), 2))} % (standard "
        "uncertainty of one run)."
    )


def _spelled(n: int, noun: str) -> str:
    # A sentence doesn't open with a figure.
    words = ("No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten")
    return f"{words[n] if n < len(words) else n} {noun}{'' if n == 1 else 's'}"


def _level_clause(analysis: Analysis, level: float, found: list[Summary]) -> str:
    measured = [s for s in found if s.estimate.estimate is not None]
    if not measured:
        bounds = [f"{s.cell.lubricant} {_numbers(s)}" for s in found]
        return f"at {load_text(level)} there are bounds only, {listing(bounds)}"
    best_is_high = measured[0].response.better == "higher"
    best = (max if best_is_high else min)(measured, key=lambda s: s.estimate.estimate or 0.0)
    word = "highest" if best_is_high else "lowest" if best.response.smaller == "lower" else "smallest"
    parts = [f"{word} with {best.cell.lubricant}, {_numbers(best)}"]
    base = next((s for s in found if s.cell.lubricant == analysis.reference), None)
    if base is not None and base is not best:
        parts.append(f"{analysis.reference} {_numbers(base)}")
    return f"at {load_text(level)} {', against '.join(parts)}"


def _numbers(summary: Summary) -> str:
    estimate = summary.estimate
    numbers = [shown(summary.response, value) for value in (estimate.estimate, estimate.low, estimate.high)]
    return with_unit(with_interval(*numbers), summary.response.shown_unit)


def _range(low: float, high: float) -> str:
    return _ends(significant(low), significant(high))


def _ends(low: str, high: str) -> str:
    return low if low == high else f"{low} to {high}"


MOST_SIGNS = 60
"""Most signs that names may take in the verdict."""
MOST_NAMED = 4
"""Most oils whose verdict a sentence names one by one."""


def verdict_sentence(analysis: Analysis) -> str:
    """Say what the release limits came to, for each oil that they are about."""
    by_oil: dict[str, list[CriterionResult]] = {name: [] for name in analysis.oils}
    for result in analysis.criteria:
        by_oil.setdefault(result.criterion.lubricant, []).append(result)
    limited = {name: found for name, found in by_oil.items() if found}
    if len(limited) <= MOST_NAMED and sum(map(len, limited)) <= 2 * MOST_SIGNS:
        unstated = [
            name
            for name in asked_about(analysis.campaign.file, analysis.included["lubricant"])
            if name not in limited
        ]
        said = [oil_verdict(name, found) for name, found in limited.items()]
        some = 0 < len(unstated) <= MOST_NAMED and sum(map(len, unstated)) <= MOST_SIGNS
        rest = f"; no limit is stated for {listing(unstated)}" if some else ""
        return f"{'; '.join(said)}{rest}."
    groups: dict[Verdict, list[str]] = {verdict: [] for verdict in Verdict}
    for name, found in limited.items():
        together = overall(one.verdict for one in found)
        assert together is not None  # an oil without a limit is not among them
        groups[together].append(name)
    phrases = {Verdict.MET: "meet all", Verdict.NOT_MET: "miss one or more", Verdict.UNDECIDED: "are open"}
    parts = [f"{_few(names)} {phrases[one]}" for one, names in groups.items() if names]
    return f"Of {counted(len(limited), 'oil')} with limits, {listing(parts)}."


def _few(names: Sequence[str]) -> str:
    short = len(names) <= MOST_NAMED and sum(map(len, names)) <= MOST_SIGNS
    return f"{len(names)} ({listing(names)})" if short else str(len(names))


def oil_verdict(name: str, results: Sequence[CriterionResult]) -> str:
    """Say what the limits of one oil came to, such as "H 1 meets all 3 limits"."""
    missed, undecided = (
        [f"{words.limit_name(one, oil=False)}" for one in results if one.verdict is verdict]
        for verdict in (Verdict.NOT_MET, Verdict.UNDECIDED)
    )
    total = {1: "its limit", 2: "both limits"}.get(len(results), f"all {len(results)} limits")
    if not missed and not undecided:
        return f"{name} meets {total}"
    of = "its only limit" if len(results) == 1 else f"of {len(results)} limits"
    still = f"{len(undecided)} {of}" if len(results) > 1 else of
    if not missed:
        are = "is" if len(undecided) == 1 else "are"
        return f"{name} is open: {still} {are} undecided ({_some(undecided)})"
    head = f"{name} misses {f'{len(missed)} {of}' if len(results) > 1 else of} ({_some(missed)})"
    are = "is" if len(undecided) == 1 else "are"
    return f"{head}, and {len(undecided)} {are} open ({_some(undecided)})" if undecided else head


def _some(names: Sequence[str]) -> str:
    return listing(names) if len(names) <= MOST_NAMED else f"{listing(names[:2])} and {len(names) - 2} more"


def subject(analysis: Analysis) -> str | None:
    """Name the oil that the question is about."""
    others = [name for name in dict.fromkeys(analysis.included["lubricant"]) if name != analysis.reference]
    limited = [
        result.criterion.lubricant for result in analysis.criteria if result.criterion.lubricant in others
    ]
    candidates = [name for name in others if analysis.campaign.file.role_of(name) == "candidate"]
    return next(iter((*limited, *candidates, *others)), None)


def answer_sentences(analysis: Analysis) -> tuple[str, str]:
    """Answer in two sentences: the scar against the reference, and the pressure that the film carries."""
    name = subject(analysis) or analysis.reference
    return _scar_sentence(analysis, name), _film_sentence(analysis, name)


def _scar_sentence(analysis: Analysis, name: str) -> str:
    found = [c for c in analysis.comparisons if c.result.subject == name and c.response.name == "scar_area"]
    if name == analysis.reference:
        return f"Only {name} was run, so there is nothing to compare it with."
    if not found:
        return f"{name} was not run at a load of {analysis.reference}, so nothing can be compared."
    kind = "simultaneous over the oils compared" if _simultaneous(found) else "across repeats"
    return (
        f"Against {found[0].result.reference}, {name} left {listing([_scar_clause(c) for c in found])}; "
        f"{percentage(analysis.confidence)} intervals, {kind}."
    )


def scar_short(analysis: Analysis, name: str) -> str:
    """Say in one sentence how an oil's scar lies against the reference's."""
    found = [c for c in analysis.comparisons if c.result.subject == name and c.response.name == "scar_area"]
    if not found:
        return f"{name} was not run at a load of {analysis.reference}, so its scar is not compared."
    return f"{name} left {listing([_scar_clause(c) for c in found])}."


def _scar_clause(c: LoadComparison) -> str:
    result, where = c.result, load_text(c.load_level)
    runs = f"n = {result.n} and {result.n_reference}"
    if c.unlike is not None:
        return f"a scar at {where} that can't be compared ({c.unlike})"
    if result.ratio is None:
        return f"a scar at {where} without a ratio ({result.note or result.method})"
    change = percent_change(result.ratio, "smaller", "larger")
    if result.low is None and result.high is None:
        return f"a scar {change} at {where} (no interval, {runs})"
    if result.low is None or result.high is None:
        end = (
            f"at most {significant(result.high)}"
            if result.low is None
            else f"at least {significant(result.low)}"
        )
        return f"a scar {change} at {where} (ratio {end}, {runs})"
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
