"""The body of a page: what cells show, and its order with numbers, contents and references."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from markupsafe import Markup, escape

from pinscar.decision.kept_results import kept_result
from pinscar.language.current import current_speaker
from pinscar.page import style
from pinscar.page.markup import tie_units

if TYPE_CHECKING:
    from IPython.display import HTML
    from matplotlib.figure import Figure


NARROW_MM = 92.0
"""Width of a figure for a phone."""


def as_html(parts: Sequence[str]) -> HTML:
    """Join pieces to the output of a cell."""
    from IPython.display import HTML

    return HTML(tie_units("\n".join(str(part) for part in parts)))


def figure_for_both(
    draw: Callable[[float], Figure],
    *,
    alt: str,
    caption: str | Markup,
    key: str,
    made_from: tuple[object, ...] | None = None,
) -> str:
    """Draw a figure for print and for a phone, or take it as drawn before from the same things.

    What it is made from begins with the name of the chart, and holds all that the chart is told.
    """
    # In another language drawing also notes what could not be said.
    keep = made_from is not None and current_speaker() is None

    def drawn(width: float) -> style.Drawn:
        if not keep:
            return style.drawn(draw(width))
        return kept_result("figure", (width, made_from), lambda: style.drawn(draw(width)))

    wide, narrow = drawn(style.PRINT_WIDTH_MM), drawn(NARROW_MM)
    return style.figure_html(wide, alt=alt, caption=caption, key=key, narrow=narrow)


_HEADING = re.compile(r"<h(?P<level>[1-6])(?P<attributes>[^>]*)>(?P<inner>.*?)</h(?P=level)>", re.DOTALL)
_COUNTED = re.compile(r'<span class="label" data-count="(?P<kind>\w+)" data-id="(?P<id>[^"]*)"></span>')
_REFERRED = re.compile(r'(?P<head><a class="reference" href="#[^"]*") data-refer="(?P<id>[^"]*)"></a>')
_TURNED = re.compile(r'<div class="table[^"]*\blandscape"')
_ID = re.compile(r'\sid="([^"]*)"')
LETTERHEAD = Markup(
    '<div class="letterhead" data-number="{}" data-laboratory="{}">{}</div><!-- end of the letterhead -->'
)
"""What stands over the title of a page, and what each further page has at its head.

Text of the campaign is escaped, so it can't hold the end of it.
"""
_LETTERHEAD = re.compile(r'<div class="letterhead".*?</div><!-- end of the letterhead -->', re.DOTALL)
_CLASSES = re.compile(r'<[a-z][^<>]*?\sclass="([^"]*)"')
KINDS = ("standard", "brief", "full", "sheet", "record")
"""Classes by which a front says which kind of page it opens, and which print.css looks for."""
_WORDS = {"figure": "Figure", "table": "Table"}


@dataclass(frozen=True, slots=True)
class Section:
    """One heading of the page.

    Attributes
    ----------
    level : int
        2 for a section, 3 for a part of one, and so on.
    number : str
        ``"2"`` or ``"2.1"``.
    title : str
        Plain text of the heading.
    anchor : str
        Its id.
    """

    level: int
    number: str
    title: str
    anchor: str


@dataclass(frozen=True, slots=True)
class PageParts:
    """The body of a page, taken apart.

    Attributes
    ----------
    heading : str or None
        Plain text of the notebook's own level 1 heading, which is taken out of the body.
    front : str
        HTML before the first section.
    rest : str
        HTML from the first section on.
    sections : tuple of Section
        The sections and their parts in order.
    letterhead : str
        HTML that stands over the title, taken out of the body; blank where there is none.
    """

    heading: str | None
    front: str
    rest: str
    sections: tuple[Section, ...]
    letterhead: str = ""


def page_parts(body: str) -> PageParts:
    """Put numbers into a page body and take it apart.

    Examples
    --------
    >>> parts = page_parts("<p>Met.</p><h2>Runs</h2><h3>Left out</h3>")
    >>> parts.front, [(section.number, section.anchor) for section in parts.sections]
    ('<p>Met.</p>', [('1', 'runs'), ('1.1', 'left-out')])
    """
    found = _LETTERHEAD.search(body)
    letterhead = found[0] if found else ""
    body, heading = _without_top_heading(body.replace(letterhead, "", 1) if found else body)
    sections = tuple(_sections(body))
    numbered = iter(sections)
    named = {f"section-{section.anchor}": f"section {section.number}" for section in sections}
    body = _HEADING.sub(lambda match: _numbered_heading(match, next(numbered)), _with_numbers(body, named))
    _check_ids(body)
    cuts = [match.start() for match in _HEADING.finditer(body) if match["level"] == "2"]
    ends = [*cuts, len(body)]
    rest = "".join(_section(body[start:end]) for start, end in itertools.pairwise(ends))
    return PageParts(heading, body[: ends[0]], rest, sections, letterhead)


def held_kinds(front: str) -> str:
    """Say by classes which kinds of page a front opens, so that rules of style need not search for them.

    Examples
    --------
    >>> held_kinds('<p class="lead standard">Met.</p>'), held_kinds("<p>standard</p>")
    ('with-standard', '')
    """
    classes = {name for match in _CLASSES.finditer(front) for name in match[1].split()}
    return " ".join(f"with-{kind}" for kind in KINDS if kind in classes)


def second_half(sections: Sequence[Section]) -> str | None:
    """Return the anchor of the section that opens the second of two even columns of contents.

    Examples
    --------
    >>> parts = page_parts("<h2>Runs</h2><h3>Left out</h3><h2>Film</h2><h2>Heat</h2>")
    >>> second_half(parts.sections)
    'heat'
    """
    printed = [section.anchor for section in sections if section.level == 2]
    return printed[-(-len(printed) // 2)] if len(printed) > 1 else None


def plain_text(html: str) -> str:
    """Return the text of a piece of HTML, without tags and with the alternative text of its images.

    Examples
    --------
    >>> plain_text('Load <img alt="F" src="x"> &amp; <em>speed</em>')
    'Load F & speed'
    """
    return str(Markup(re.sub(r'<img\b[^>]*?\balt="([^"]*)"[^>]*>', r"\1", html)).striptags())


def _section(html: str) -> str:
    """Wrap a section; one with a table across a turned page is turned as a whole, heading and all."""
    turned = ' class="turned"' if _TURNED.search(html) else ""
    return f"<section{turned}>{html}</section>"


def _without_top_heading(body: str) -> tuple[str, str | None]:
    found = [match for match in _HEADING.finditer(body) if match["level"] == "1"]
    if len(found) > 1:
        raise ValueError("the template has more than one level 1 heading; a page has one title")
    if not found:
        return body, None
    return body[: found[0].start()] + body[found[0].end() :], plain_text(found[0]["inner"])


def _sections(body: str) -> Iterator[Section]:
    counts: list[int] = []
    anchors: set[str] = set()
    for match in _HEADING.finditer(body):
        depth = int(match["level"]) - 1
        title = plain_text(match["inner"])
        if depth > len(counts) + 1:
            raise ValueError(f"the heading {title!r} skips a level")
        counts = [*counts[: depth - 1], (counts[depth - 1] if depth <= len(counts) else 0) + 1]
        given = _ID.search(match["attributes"])
        anchor = given[1] if given else _free_anchor(title, anchors)
        anchors.add(anchor)
        yield Section(depth + 1, ".".join(map(str, counts)), title, anchor)


def _free_anchor(title: str, taken: set[str]) -> str:
    word = re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-") or "section"
    tries = [word, *(f"{word}-{i}" for i in range(2, len(taken) + 3))]
    return next(anchor for anchor in tries if anchor not in taken)


def _numbered_heading(match: re.Match[str], section: Section) -> str:
    attributes = _ID.sub("", match["attributes"])
    return (
        f'<h{section.level} id="{escape(section.anchor)}"{attributes}>'
        f'<span class="section-number">{section.number}</span> {match["inner"]}'
        f'<a class="anchor screen-only" href="#{escape(section.anchor)}" '
        f'aria-label="Link to section {section.number}">#</a></h{section.level}>'
    )


def _with_numbers(body: str, sections: Mapping[str, str]) -> str:
    counts = dict.fromkeys(_WORDS, 0)
    names = dict(sections) | {
        identity: f"{_WORDS[identity.split('-')[0]]} {number}"
        for identity, number in re.findall(
            r'id="((?:figure|table)-\d+)"[^>]*>.*?<span class="label">\w+ (\d+)\.</span>', body, re.DOTALL
        )
    }

    def label(match: re.Match[str]) -> str:
        counts[match["kind"]] += 1
        name = f"{_WORDS[match['kind']]} {counts[match['kind']]}"
        names[match["id"]] = name
        return f'<span class="label">{name}.</span>'

    def link(match: re.Match[str]) -> str:
        if match["id"] not in names:
            raise ValueError(
                f"a reference names {match['id']!r}, and no figure, table or section has that key"
            )
        return f"{match['head']}>{names[match['id']]}</a>"

    return _REFERRED.sub(link, _COUNTED.sub(label, body))


def _check_ids(body: str) -> None:
    found = re.findall(r'<[a-z][^<>]*?\sid="([^"]*)"', body)
    twice = sorted({name for name in found if found.count(name) > 1})
    if twice:
        raise ValueError(f"two parts of the page have the same id: {', '.join(twice)}")
