"""What earlier campaigns add to the intervals: each with and without them, side by side."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from markupsafe import Markup

from pinscar.decision.experience import Experience
from pinscar.decision.judgements import LoadComparison, Summary
from pinscar.decision.record import Analysis
from pinscar.decision.responses import Response, in_unit
from pinscar.page.markup import table
from pinscar.stats.estimates import TOO_NARROW, TOO_WIDE
from pinscar.wording import listing, load_text, percentage, significant, with_interval

METHOD = (
    "A scaled F distribution fitted to the variances of logarithms within each oil and load of the earlier "
    "campaigns (Smyth, Stat. Appl. Genet. Mol. Biol. 3, 2004, article 3) gives a variance and the degrees of "
    "freedom that it is worth, the uncertainty of its centre included; the variance of each oil is moderated "
    "by it. Used only where the present scatter does not contradict it: F test, at {wide} for a wider and "
    "{narrow} for a narrower scatter. Its weight is the p of that test times its degrees of freedom (at most "
    "1.5 times the present ones), its variance the larger of 1.25 times the earlier and the present one. It "
    "assumes that rig, reader and handling are those of the earlier campaigns. Oils "
    "with bounds among their runs and ratios of means do without it."
)


def experience_parts(analysis: Analysis) -> list[Markup]:
    """Say what the laboratory's earlier campaigns tell, and show the intervals with and without them."""
    wanted = {response.name: response for response in analysis.responses}
    found = [one for one in analysis.experience if one.response in wanted]
    if not found:
        return []
    said = Markup("<p>{}</p>").format(_sentence(wanted, found))
    used = [wanted[one.response] for one in found if one.used]
    parts = [said, _prior_table(wanted, found)]
    return parts if not used else [*parts, _side_by_side(analysis, used)]


def short_sentence(analysis: Analysis) -> str | None:
    """Say in a line whether earlier campaigns count, and why not; None where none were asked for."""
    wanted = {response.name: response for response in analysis.responses}
    found = [one for one in analysis.experience if one.response in wanted]
    if not found:
        return None
    if any(one.used for one in found):
        return _sentence(wanted, found)
    names = listing(list(found[0].campaigns))
    reasons = list(dict.fromkeys(one.because for one in found))
    if len(reasons) > 1:
        return (
            f"The scatter of the earlier campaigns {names} is counted in for no response; the standard "
            "report says why."
        )
    return f"The scatter of the earlier campaigns {names} is counted in for no response: {reasons[0]}."


def _sentence(wanted: Mapping[str, Response], found: Sequence[Experience]) -> str:
    names = listing(list(found[0].campaigns))
    used = [wanted[one.response].label.lower() for one in found if one.used]
    if not used:
        return (
            f"The scatter of the earlier campaigns {names} is counted in for no response; the table says why."
        )
    return (
        f"The scatter of the earlier campaigns {names} is counted in for {listing(used)}: intervals, "
        "comparisons, limits and claims rest on it."
    )


def _prior_table(wanted: Mapping[str, Response], found: Sequence[Experience]) -> Markup:
    rows = []
    for one in found:
        prior, test = one.prior, one.test
        told = ["not known"] * 3
        if prior is not None:
            spread = significant(100.0 * math.sqrt(math.expm1(prior.variance)), 2)
            told = [spread, str(prior.groups), f"{prior.df:.1f}"]
        ratio = "not tested" if test is None else significant(test.f, 2)
        verdict = "yes" if one.used else f"no: {one.because}"
        weight = "0" if one.weighed is None else f"{one.weighed.df:.1f}"
        rows.append([wanted[one.response].label, *told, ratio, weight, verdict])
    return table(
        [
            "Response",
            ("Earlier spread", "%"),
            "Oils and loads",
            "Degrees of freedom",
            "Present variance over earlier",
            "Weight given",
            "Counted in",
        ],
        rows,
        caption="What earlier campaigns tell of the scatter of repeats",
        key="earlier-scatter",
        number_columns=[1, 2, 3, 4, 5],
        note=METHOD.format(wide=percentage(TOO_WIDE), narrow=percentage(TOO_NARROW)),
    )


def _side_by_side(analysis: Analysis, used: list[Response]) -> Markup:
    with_it: list[Summary | LoadComparison] = [*analysis.summaries, *analysis.comparisons]
    rows = []
    for response in used:
        alone = {_key(one): one for one in analysis.alone if one.response.name == response.name}
        for one in with_it:
            other = alone.get(_key(one))
            if one.response.name == response.name and other is not None and _has_interval(one):
                rows.append([_name(one), _shown(other), _shown(one)])
    return table(
        ["What", "These runs alone", "With earlier runs"],
        rows,
        caption="Intervals with and without the scatter of earlier campaigns",
        key="experience",
        number_columns=[1, 2],
        note="What is printed elsewhere in this report is the right-hand column.",
    )


def _key(one: Summary | LoadComparison) -> tuple[str, str, str, float]:
    if isinstance(one, Summary):
        return ("summary", one.response.name, one.cell.lubricant, one.cell.load_level)
    return ("comparison", one.response.name, one.result.subject, one.load_level)


def _has_interval(one: Summary | LoadComparison) -> bool:
    held = one.estimate if isinstance(one, Summary) else one.result
    return held.low is not None and held.high is not None


def _name(one: Summary | LoadComparison) -> str:
    if isinstance(one, Summary):
        unit = f", {one.response.shown_unit}" if one.response.shown_unit else ""
        place = f"{one.cell.lubricant} at {load_text(one.cell.load_level)}"
        return f"{one.response.label} of {place}{unit}"
    result = one.result
    place = load_text(one.load_level)
    return f"{one.response.label}, {result.subject} over {result.reference} at {place}"


def _shown(one: Summary | LoadComparison) -> str:
    if isinstance(one, Summary):
        found, factor = one.estimate, one.response.shown_factor
        numbers = [in_unit(one.response, x) for x in (found.estimate, found.low, found.high)]
        return with_interval(*(None if x is None else x * factor for x in numbers))
    return with_interval(one.result.ratio, one.result.low, one.result.high, equal=1.0)
