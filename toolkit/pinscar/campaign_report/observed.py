"""The section on what was counted, graded or put into words in the runs."""

from __future__ import annotations

from collections.abc import Sequence

from pinscar.decision.observations import GRADES, Observation
from pinscar.decision.record import Analysis
from pinscar.page.markup import Markup, finding, table
from pinscar.wording import counted, listing, load_text, p_value, percentage, sentence, with_interval

LABELS = {"drips": "Drips", "smoke": "Smoke"}


def observations_html(analysis: Analysis) -> Markup:
    """Show drips, smoke and words, each evaluated in its own way."""
    found = analysis.observations
    if not found:
        return Markup("<p>Drips and smoke were not recorded.</p>")
    parts: list[str] = []
    for own in _by_name(found):
        parts.append(finding(_sentence(analysis, own)))
        parts.append(_table(analysis, own))
    return Markup("\n").join(Markup(part) for part in parts)


def observation_sentences(analysis: Analysis) -> list[str]:
    """Say what was counted and graded, a sentence each."""
    return [
        sentence(_sentence(analysis, own))
        for own in _by_name(analysis.observations)
        if own[0].kind != "words"
    ]


def words_parts(analysis: Analysis) -> list[str]:
    """Show what was put into words, a table each."""
    parts: list[str] = []
    for own in _by_name([o for o in analysis.observations if o.kind == "words"]):
        parts += [finding(_sentence(analysis, own)), _table(analysis, own)]
    return parts


def _by_name(found: Sequence[Observation]) -> list[list[Observation]]:
    return [[o for o in found if o.name == name] for name in dict.fromkeys(o.name for o in found)]


def _label(o: Observation) -> str:
    return LABELS.get(o.name, o.name.replace("_", " ").capitalize())


def _sentence(analysis: Analysis, own: Sequence[Observation]) -> str:
    first, runs = own[0], sum(o.n for o in own)
    if first.kind == "count":
        total = sum(int(value) * k for o in own for value, k in o.classes.items())
        head = f"{_label(first)}: {total} in {counted(runs, 'run')}"
    elif first.kind == "order":
        least = GRADES[first.name][0]
        above = sum(k for o in own for entry, k in o.classes.items() if entry != least)
        head = f"{_label(first)}: seen in {above} of {counted(runs, 'run')}"
    else:
        return f"{_label(first)}: noted in {counted(runs, 'run')}; words have no order, so none is tested."
    level = 1.0 - analysis.confidence
    apart = [o for o in own if o.test is not None and o.test.p is not None and o.test.p < level]
    if not apart:
        return f"{head}; no oil differs clearly from {analysis.reference}."
    words = [
        f"{'more' if _more(o) else 'less'} with {o.lubricant} at {load_text(o.load_level)}" for o in apart
    ]
    return f"{head}; against {analysis.reference}, {listing(words)}."


def _more(o: Observation) -> bool:
    return o.test is not None and o.test.superiority > 0.5


def _table(analysis: Analysis, own: Sequence[Observation]) -> Markup:
    kind, sure = own[0].kind, percentage(analysis.confidence)
    entries = list(dict.fromkeys(entry for o in own for entry in o.classes))
    rows = [
        [
            f"{o.lubricant} at {load_text(o.load_level)}",
            str(o.n),
            *_numbers(o, entries),
            *_against(analysis, o),
        ]
        for o in own
    ]
    heads = _heads(own[0], entries)
    against = [] if kind == "words" else [f"Against {analysis.reference}"]
    return table(
        ["Oil and load", "Runs", *heads, *against],
        rows,
        caption=f"{_label(own[0])} of each oil and load",
        key=f"observed-{own[0].name.replace('_', '-').lower()}",
        number_columns=range(1, 2 + len(heads)),
        row_classes=["reference" if o.lubricant == analysis.reference else "" for o in own],
        note=_method(kind, sure, own, analysis.reference),
    )


def _heads(o: Observation, entries: Sequence[str]) -> list[str | tuple[str, str]]:
    words: list[str | tuple[str, str]] = [entry.capitalize() for entry in entries]
    if o.kind == "count":
        return [f"{_label(o)} in all", "Mean per run"]
    return [*words, (f"Runs with {o.name.replace('_', ' ')}", "%")] if o.kind == "order" else words


def _numbers(o: Observation, entries: Sequence[str]) -> list[str]:
    if o.kind == "count" and o.rate is not None:
        total = sum(int(value) * k for value, k in o.classes.items())
        return [str(total), with_interval(o.rate.estimate, o.rate.low, o.rate.high)]
    places = [str(o.classes.get(entry, 0)) for entry in entries]
    if o.rate is None:
        return places
    estimate, low, high = (f"{100.0 * value:.0f}" for value in (o.rate.estimate, o.rate.low, o.rate.high))
    return [*places, f"{estimate} ({low} to {high})"]


def _against(analysis: Analysis, o: Observation) -> list[str]:
    if o.kind == "words":
        return []
    if o.lubricant == analysis.reference:
        return ["The reference." if o.note is None else sentence(o.note)]
    if o.test is None:
        return [sentence(o.note or "not compared")]
    way = "more" if _more(o) else "less"
    share = o.test.superiority if _more(o) else 1.0 - o.test.superiority
    text = "as much" if o.test.superiority == 0.5 else f"{way} in {100.0 * share:.0f} % of pairs of runs"
    p = p_value(o.test.p, 1.0 - analysis.confidence)
    return [
        sentence("; ".join(part for part in (f"{text}, p {p if p[0] == '<' else f'= {p}'}", o.note) if part))
    ]


def _method(kind: str, sure: str, own: Sequence[Observation], reference: str) -> str | None:
    if kind == "words":
        return None
    interval = own[0].rate.method if own[0].rate is not None else ""
    tests = sorted({o.test.method for o in own if o.test is not None})
    test = (
        f" Against {reference}: {listing(tests)}, p adjusted over the oils of a load (Holm); equal runs "
        "count half in the share of pairs."
        if tests
        else ""
    )
    return f"{sure} intervals: {interval}.{test}"
