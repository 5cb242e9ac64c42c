"""The notes on method: each once, with a number that tables refer to."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pinscar.campaign_report.tribology import method_note
from pinscar.decision.evaluate import with_table_values
from pinscar.decision.judgements import LoadComparison
from pinscar.decision.record import Analysis
from pinscar.page.formula import replace_formulas
from pinscar.page.markup import Markup
from pinscar.seen import cards, micrographs
from pinscar.seen.sound import sound_method
from pinscar.seen.traces import trace_method
from pinscar.wording import listing, load_text, lower_first

AUDIT = (
    "The audit looks at load, duration, speed, load history, timer, pin preparation, dose, shaking, days, "
    "rings, order of the runs, drift of the reference, runs that fit another oil or load, outliers, scar "
    "geometry, wear still running, repeats, blind reading and notes. A finding that blocks stops the "
    "comparison from being called like for like."
)
COMPARED = (
    "Ratios of geometric means (of medians, where runs are censored) at the same load, with intervals "
    "that hold together for all oils compared at that load. The method of each comparison is "
    "named{where}: each oil with its own spread by Welch's $t$ (Biometrika 34, 1947), guarded by quadrature "
    "against unlike spreads, with Šidák's inequality for several oils, within the blocks that the campaign "
    "names; one spread for all only where the campaign says so; censored log-normal regression where a film "
    "pressure is a bound. Limits and p come "
    "from the same distribution with the same adjustment, so that p is below {level} exactly where the "
    "interval leaves out equality. Different loads or durations are never tested against each other."
)
JOINT = (
    r"Joint pressure $T / (d\,b)$; sliding speed in the joint $\omega d / 2$ while a link swings through "
    r"$2 \pi / z$ (rigid sprocket, common practice); pitch diameter $P / \sin(\pi / z)$. The bench is far "
    r"more "
    "severe in pressure and speed on purpose: it ranks films in a minute. It doesn't predict chain life."
)
CLAIMED = (
    "Confidence {sure} holds for all claims together (Bonferroni), so that the interval of a claim differs "
    "from that of the comparison of the same two oils, which holds for the oils of one load."
)


_FIRST = re.compile(r"^\s*<p[^>]*>")
_OWN_NUMBERS = re.compile(
    r" \([^)]*\)| (?:for|over) \d+ comparisons| at the (?:Bonferroni )?level of [\d.]+| times \d+"
)


@dataclass(frozen=True, slots=True)
class Note:
    """One note on method.

    Attributes
    ----------
    section : str
        Key of the section that it belongs to.
    title : str
        What it is about.
    html : Markup
        The note.
    """

    section: str
    title: str
    html: Markup


def texts(analysis: Analysis) -> Mapping[str, Sequence[tuple[str, Markup]]]:
    """Give the notes of every section, with their titles."""
    rig = with_table_values(analysis.campaign.file.rig)

    def by_geometry(key: str) -> Markup:
        return method_note(key, rig)

    found: dict[str, Sequence[tuple[str, Markup]]] = {
        "tested": [("Bench and conditions", by_geometry("tested"))],
        "fairness": [("Fairness audit", Markup("<p>{}</p>").format(AUDIT))],
        "film": [("Scar, film pressure and their intervals", by_geometry("film"))],
        "against": [(f"Comparisons with {analysis.reference}", _compared(analysis))],
        "micrographs": [("Scars from pictures", Markup("<p>{}</p>").format(micrographs.METHOD))],
        "observed": [("Fling cards", Markup("<p>{}</p>").format(cards.METHOD))],
        "contact": [("Contact and wear", by_geometry("contact"))],
        "growth": [("Growth of the scar", by_geometry("growth"))],
        "sound": [("Recordings", sound_method(analysis.confidence))],
        "surround": [
            ("Film and heat", by_geometry("surround")),
            ("Traces", trace_method(analysis.confidence)),
        ],
        "service": [("Chain joint", Markup("<p>{}</p>").format(joint_note()))],
        "spread": [("Spread and uncertainty", by_geometry("spread"))],
    }
    if not analysis.evidence.cards:
        found["observed"] = []
    if not analysis.evidence.traces:
        found["surround"] = found["surround"][:1]
    return found


def notes(analysis: Analysis, shown: Sequence[str]) -> tuple[Note, ...]:
    """List the notes of the sections that are shown, in their order."""
    known = texts(analysis)
    return tuple(
        Note(key, title, html) for key in shown for title, html in known.get(key, ()) if html.striptags()
    )


def refer(html: str, key: str, found: Sequence[Note]) -> str:
    """Let each table of a section refer to the section's notes by their numbers."""
    numbers = [place for place, note in enumerate(found, 1) if note.section == key]
    if not numbers:
        return html
    links = Markup(", ").join(
        Markup('<a class="reference" href="#method-{0}">Method {0}</a>').format(n) for n in numbers
    )
    return html.replace("</div></caption>", f' <span class="method-number">{links}</span></div></caption>')


def appendix(found: Sequence[Note]) -> Markup:
    """Show the notes, numbered."""
    items = Markup("\n").join(
        Markup('<div class="method-note" id="method-{}">{}</div>').format(place, _headed(note, place))
        for place, note in enumerate(found, 1)
    )
    return Markup('<div class="methods">{}</div>').format(items)


def _headed(note: Note, place: int) -> Markup:
    """Let a note begin with its number and title, in its first line."""
    head = Markup("<strong>Method {}. {}.</strong> ").format(place, note.title)
    return Markup(_FIRST.sub(lambda match: match[0] + str(head), note.html, count=1))


def joint_note() -> Markup:
    """Tell how the chain joint is computed."""
    return Markup(replace_formulas(JOINT))


def compared_note(analysis: Analysis, where: str) -> Markup:
    """Tell how oils are compared with the reference."""
    level = f"{1.0 - analysis.confidence:.3g}"
    return Markup(replace_formulas(COMPARED.format(where=where, level=level)))


def _compared(analysis: Analysis) -> Markup:
    kinds: dict[str, dict[str, list[str]]] = {}
    for c in analysis.comparisons:
        place = kinds.setdefault(_kind(c), {})
        place.setdefault(load_text(c.load_level), []).append(lower_first(c.response.label))
    items = Markup("").join(
        Markup("<li>{}: {}.</li>").format(kind[:1].upper() + kind[1:], _places(places))
        for kind, places in kinds.items()
    )
    general = Markup("<p>{}</p>").format(compared_note(analysis, " below, its numbers in results.json"))
    return general + (Markup("<ul>{}</ul>").format(items) if items else Markup(""))


def _kind(c: LoadComparison) -> str:
    """Name a method without the numbers of the one comparison, which stand in results.json."""
    if c.unlike is not None:
        return f"not tested, {c.unlike}"
    said = c.result.method + (f"; {c.result.note}" if c.result.note else "")
    return _OWN_NUMBERS.sub("", said).rstrip(".")


def _places(places: Mapping[str, Sequence[str]]) -> str:
    """Write responses and loads, those of all loads together first."""
    loads: dict[str, list[str]] = {}
    for load, labels in places.items():
        for label in dict.fromkeys(labels):
            loads.setdefault(label, []).append(load)
    groups: dict[tuple[str, ...], list[str]] = {}
    for label, where in loads.items():
        groups.setdefault(tuple(where), []).append(label)
    return "; ".join(f"{listing(labels)} at {listing(list(where))}" for where, labels in groups.items())
