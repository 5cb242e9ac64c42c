"""What page one says: verdict of each oil asked about, limits in words, the audit, what to do next."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from pinscar.campaign_report import openers
from pinscar.decision import words
from pinscar.decision.finding import Weight
from pinscar.decision.judgements import CriterionReason, CriterionResult, Summary, Verdict
from pinscar.decision.record import Analysis, asked_about
from pinscar.decision.runs import by_cell
from pinscar.page.markup import Markup, bullet_list, paragraph, reference, tag, verdict
from pinscar.wording import counted, listing, load_text, sentence

MOST_LIMITS, LINE, MOST_NAMED = 8, 95, 3
"""Lines that page one has for limits, signs in a line, and limits that one sentence names."""
MOST_SCARS = 4
"""Most scars of oils beside the first that page one tells in sentences."""
MOST_OILS = 4
MOST_STEPS = 4
FAIRNESS = "how-fair-the-comparison-is"
"""Anchor of the section on the audit."""
REVIEW = "A release, and any public claim, needs the review of a qualified person."
LATER = {Verdict.NOT_MET: 0, Verdict.UNDECIDED: 1, Verdict.MET: 2}


def verdict_parts(analysis: Analysis) -> list[Markup]:
    """Show the verdict, what it is for each oil asked about, and each limit with its numbers."""
    if analysis.verdict is None:
        return []
    return [
        verdict(str(analysis.verdict), openers.verdict_sentence(analysis)),
        _limit_list(analysis.criteria),
    ]


def _limit_list(results: Sequence[CriterionResult]) -> Markup:
    """List the limits in words, those that aren't met first."""
    ordered = sorted(results, key=lambda one: LATER[one.verdict])
    several = len({one.criterion.lubricant for one in results}) > 1
    told = [_told(one, several=several) for one in ordered]
    spelled = ordered[: _that_fit(told)]
    items = [
        Markup("<li>{} {}: <strong>{}</strong></li>").format(
            tag(str(one.verdict), ""), _told(one, several=several), one.verdict
        )
        for one in spelled
    ]
    rest = ordered[len(spelled) :]
    if rest:
        counts = {verdict: sum(one.verdict is verdict for one in rest) for verdict in Verdict}
        parts = [f"{n} {verdict}" for verdict, n in counts.items() if n]
        items.append(
            Markup("<li>Of {}, {}: {}</li>").format(
                counted(len(rest), "further limit"), listing(parts), reference("table", "criteria")
            )
        )
    return Markup('<ul class="limits">{}</ul>').format(Markup("").join(items))


def _that_fit(told: Sequence[str]) -> int:
    """Count the limits that page one has lines for; where not all fit, the last line is for the rest."""
    lines = [len(textwrap.wrap(one, LINE)) for one in told]
    if sum(lines) <= MOST_LIMITS:
        return len(told)
    return max(1, sum(sum(lines[: place + 1]) < MOST_LIMITS for place in range(len(lines))))


def _told(one: CriterionResult, *, several: bool) -> str:
    told = words.limit_told(one)
    return f"{one.criterion.lubricant}, {told}" if several else sentence(told).rstrip(".")


def others_sentences(analysis: Analysis) -> list[str]:
    """Tell of every oil that was asked about beside the first one."""
    first = openers.subject(analysis)
    seen = set(analysis.included["lubricant"])
    names = [name for name in asked_about(analysis.campaign.file, seen) if name != first]
    run = [name for name in names if name in seen]
    absent = [name for name in names if name not in seen]
    loads = analysis.included["load_level"].nunique()
    if len(run) * loads <= MOST_SCARS:
        said = [openers.scar_short(analysis, name) for name in run]
    else:
        said = [f"Asked about too: {listing(run)}; the comparisons have their numbers."]
    if absent:
        said.append(f"There is no included run of {listing(absent)}.")
    return said


def audit_line(analysis: Analysis, *, section: bool) -> Markup:
    """Tell in one line what the audit found, and where it stands."""
    counts = {weight: sum(f.severity is weight for f in analysis.audited) for weight in Weight}
    blocks, cautions, notes = (counts[w] for w in (Weight.BLOCKS, Weight.CAUTION, Weight.NOTE))
    if not any(counts.values()):
        told = "nothing found that makes the comparison unfair"
    else:
        verb = "block" if blocks > 1 else "blocks"
        first = (
            f"{counted(blocks, 'finding')} {verb} a comparison" if blocks else "nothing blocks a comparison"
        )
        told = ", ".join(
            [first, *(counted(n, word) for n, word in ((cautions, "caution"), (notes, "note")) if n)]
        )
    where = Markup(": {}").format(reference("section", FAIRNESS)) if section else Markup("")
    return Markup('<p class="audit-line"><strong>Fairness audit:</strong> {}{}.</p>').format(told, where)


ROOM_UNDER_A_LETTERHEAD, ROOM, FULL_CHART = 21, 25, 8
"""Lines of text that page one has beside a chart of so many rows; a row less is a line more."""
WIDTH = 100
"""Signs in a line of its paragraphs."""


def steps_that_fit(analysis: Analysis, paragraphs: Sequence[str], rows: int, most: int = MOST_STEPS) -> int:
    """Count the next steps that page one has room for beside its chart; one is always told."""
    headed = analysis.campaign.file.report is not None
    limits = sum(_lines(words.limit_told(one)) for one in analysis.criteria)
    taken = min(limits, MOST_LIMITS) + sum(map(_lines, paragraphs)) + 3  # audit, heading, review
    room = (ROOM_UNDER_A_LETTERHEAD if headed else ROOM) + FULL_CHART - rows - taken
    lengths = [_lines(step) for step in next_steps(analysis)]
    fitting = [
        count
        for count in range(1, min(most, len(lengths)) + 1)
        if sum(lengths[:count]) + (count < len(lengths)) <= room
    ]
    return max(fitting, default=1)


def _lines(text: str) -> int:
    return len(textwrap.wrap(text, WIDTH))


def next_parts(analysis: Analysis, most: int = MOST_STEPS) -> list[Markup]:
    """List what to do next, the first so many."""
    steps = list(next_steps(analysis))
    more = len(steps) - most
    shown = steps[:most] + ([f"The tables of limits and audit name {more} more."] if more > 0 else [])
    return [paragraph(Markup("<strong>What to do next</strong>"), "next"), bullet_list([*shown, REVIEW])]


def next_steps(analysis: Analysis) -> Iterator[str]:
    """Say what the limits and the audit ask for, the gravest first."""
    ordered = sorted(analysis.criteria, key=lambda one: LATER[one.verdict])
    missed = [one for one in ordered if one.verdict is Verdict.NOT_MET]
    if missed:
        yield _after_missed(missed)
    yield from (_after_limit(one) for one in ordered if one.verdict is Verdict.UNDECIDED)
    for finding in analysis.audited:
        if finding.severity is Weight.BLOCKS:
            message = finding.message.rstrip(".")
            yield f"{message}: repeat these runs like those of {analysis.reference} before comparing them."
    if not analysis.criteria:
        yield (
            "No release limits are stated: write them into campaign.toml if this campaign is to decide a "
            "release."
        )
    seen = set(analysis.included["lubricant"])
    if seen == {analysis.reference}:
        yield f"Run another oil beside {analysis.reference}: one oil alone can't be compared."
    absent = [name for name in asked_about(analysis.campaign.file, seen) if name not in seen]
    if absent and not any(one.criterion.lubricant in absent for one in analysis.criteria):
        yield f"Run {listing(absent)}, which the campaign names."
    single = _single(analysis)
    if single:
        yield f"Repeat {listing(single)}: a single run gives no interval."


def _after_missed(missed: Sequence[CriterionResult]) -> str:
    names = [words.limit_name(one) for one in missed]
    more = [f"{len(names) - MOST_NAMED} more"] if len(names) > MOST_NAMED else []
    listed = sentence(listing([*names[:MOST_NAMED], *more])).rstrip(".")
    end = "which more runs will hardly change: the oil has to change, or the limit has to be reviewed."
    if len(names) == 1:
        return f"{listed} is beyond its limit with its whole interval, {end}"
    return f"{listed} are beyond their limits with their whole intervals, {end}"


def _after_limit(one: CriterionResult) -> str:
    name, oil = sentence(words.limit_name(one)).rstrip("."), one.criterion.lubricant
    if one.evidence is None:
        return f"{name}: make the runs that its limit needs."
    if one.reason is CriterionReason.BLOCKED or one.reason is CriterionReason.UNLIKE:
        return f"{name}: repeat the runs under the conditions of the reference, then judge again."
    if one.reason in (CriterionReason.BOUND_OPEN, CriterionReason.UNSURE_BOUND):
        return f"{name}: all its runs give bounds only; run {oil} longer, until wear has stopped."
    if one.reason is CriterionReason.NO_INTERVAL:
        return f"{name}: repeat the runs; there is no interval to judge."
    each = "" if isinstance(one.evidence, Summary) else " and of the reference"
    if one.further_repeats is None:
        return (
            f"{name}: more than 50 further runs would be needed, or their number is unknown; review the "
            "limit."
        )
    runs = counted(one.further_repeats, "further run")
    return (
        f"{name}: {runs} of {oil}{each} would settle it with a chance of about 80 %, if estimate and spread "
        "stay as they are."
    )


def _single(analysis: Analysis) -> list[str]:
    found = by_cell(analysis.included)
    return [f"{name} at {load_text(level)}" for level, name, runs in found if len(runs) == 1][:MOST_OILS]
