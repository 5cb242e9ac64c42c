"""Small pieces of the page as HTML: tables, paragraphs, notes, callouts; every plain text is escaped.

Numbers of a table column line up on the decimal mark, by spaces as wide as a figure. A number stays on one
line with its unit, n with its count, and so does a date and the name of an oil or run.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from markupsafe import Markup, escape

from pinscar.wording import MONTHS

FIGURE_SPACE = "\u2007"  # as wide as a tabular figure and as a sign
POINT_SPACE = "\u2008"  # as wide as the decimal mark
THIN_SPACE = "\u202f"  # between groups of three figures
MINUS = "\u2212"

_NUMBER = re.compile(
    r"(?P<lead>(?:[<>≤≥≈]\s?)?)(?P<sign>[-+−±]?)(?P<whole>\d[\d\u202f]*)(?P<fraction>\.\d+)?(?P<rest>(?![\d.:/-]).*)",
    re.DOTALL,
)


_SPACES = (FIGURE_SPACE, POINT_SPACE, THIN_SPACE)
_BLANK = "".join(_SPACES)


@dataclass(frozen=True, slots=True)
class _Parts:
    before: str
    fraction: str
    rest: str

    def spaces(self, space: str) -> int:
        """Count the signs before the decimal mark that are as wide as a space."""
        narrow = self.before.count(POINT_SPACE), self.before.count(THIN_SPACE)
        counts = dict(zip((POINT_SPACE, THIN_SPACE), narrow, strict=True))
        return counts.get(space, len(self.before) - sum(narrow))


def align_on_decimal_mark(cells: Sequence[str]) -> list[str]:
    """Pad the cells of one column so that their decimal marks stand under one another.

    The first number of a cell counts; what follows it (an interval, a power of ten) starts at one place too.
    A cell that does not start with a number ("not measured") is left as it is. Right only with tabular
    figures of a face whose U+2007 and U+2008 are as wide as its figure and its decimal mark; the bundled
    face is one, and a test measures it.

    Examples
    --------
    >>> for cell in align_on_decimal_mark(["9.25", "118 (104 to 134)"]):
    ...     print(cell.replace(FIGURE_SPACE, "_").replace(POINT_SPACE, ","))
    __9.25
    118,__ (104 to 134)
    """
    parts = [_split(cell) for cell in cells]
    numbers = [part for part in parts if part is not None]
    before = {space: max((part.spaces(space) for part in numbers), default=0) for space in _SPACES}
    digits = max((len(part.fraction) for part in numbers), default=0)
    return [
        cell if part is None else _padded(part, before, digits)
        for cell, part in zip(cells, parts, strict=True)
    ]


def grouped(number: str) -> str:
    """Set groups of three figures apart by a narrow space that doesn't break.

    Examples
    --------
    >>> grouped(f"{12000:,}").replace(THIN_SPACE, "_")
    '12_000'
    """
    return number.replace(",", THIN_SPACE)


def starts_with_number(cell: str) -> bool:
    """Say whether a cell's text starts with a number that can be aligned.

    Examples
    --------
    >>> starts_with_number("< 0.0001"), starts_with_number("not measured"), starts_with_number("2024-05-02")
    (True, False, False)
    """
    return _split(cell) is not None


def _split(cell: str) -> _Parts | None:
    match = _NUMBER.fullmatch(cell)
    if match is None:
        return None
    sign = match["sign"].replace("-", MINUS)
    lead = re.sub(r"\s", POINT_SPACE, match["lead"])
    return _Parts(lead + sign + match["whole"], match["fraction"] or "", match["rest"])


def _padded(part: _Parts, before: Mapping[str, int], digits: int) -> str:
    left = "".join(space * (before[space] - part.spaces(space)) for space in _SPACES)
    if part.fraction or not digits:
        right = FIGURE_SPACE * (digits - len(part.fraction))
    else:
        right = POINT_SPACE + FIGURE_SPACE * (digits - 1)
    return f"{left}{part.before}{part.fraction}{right}{part.rest}"


__all__ = [
    "CALLOUTS",
    "Caption",
    "Markup",
    "all_rows",
    "bullet_list",
    "callout",
    "caption_html",
    "escape",
    "finding",
    "key_value",
    "method_note",
    "paragraph",
    "reference",
    "table",
    "tag",
    "verdict",
]

# Kind of callout: the word that is always printed and the mark beside it.
CALLOUTS = MappingProxyType(
    {
        "met": ("Met", "✓"),
        "not met": ("Not met", "✗"),
        "undecided": ("Undecided", "?"),
        "blocks": ("Blocks the conclusion", "■"),
        "caution": ("Caution", "▲"),
        "note": ("Note", "○"),
    }
)
_SHORT = 16  # a column with no longer cell than this is never broken over lines
_LONG = (
    48  # a row head with more characters than this is broken over lines, so that no column leaves the page
)
_FEW = 60  # a table of up to four columns and no more characters than this a row is set narrower
_KINDS = MappingProxyType({"figure": "Figure", "table": "Table"})


@dataclass(frozen=True, slots=True)
class Caption:
    """A caption with its label, and the id that goes on the captioned element.

    Attributes
    ----------
    html : Markup
        ``<span class="label">Table 3.</span> text``.
    attribute : Markup
        `` id="table-3"`` with its leading space.
    """

    html: Markup
    attribute: Markup


def caption_html(
    kind: str, caption: str | Markup, *, number: int | None = None, key: str | None = None
) -> Caption:
    """Return a numbered caption; without a number the page counts figures and tables in their order.

    Examples
    --------
    >>> print(caption_html("table", "Runs <all>", number=3).html)
    <span class="label">Table 3.</span> Runs &lt;all&gt;
    """
    word = _KINDS[kind]
    identity = f"{kind}-{key if key is not None else number}" if (key, number) != (None, None) else ""
    shown = (
        Markup('<span class="label" data-count="{}" data-id="{}"></span>').format(kind, identity)
        if number is None
        else Markup('<span class="label">{} {}.</span>').format(word, number)
    )
    attribute = Markup(' id="{}"').format(identity) if identity else Markup("")
    return Caption(shown + " " + escape(caption), attribute)


def reference(kind: str, key: str) -> Markup:
    """Return a link that reads "Table 3" to the figure, table or section with that key.

    The page fills in the number. The key of a section is its anchor.

    Examples
    --------
    >>> print(reference("table", "runs"))
    <a class="reference" href="#table-runs" data-refer="table-runs"></a>
    >>> print(reference("section", "every-run"))
    <a class="reference" href="#every-run" data-refer="section-every-run"></a>
    """
    identity = f"{kind}-{key}"
    place = key if kind == "section" else identity
    return Markup('<a class="reference" href="#{}" data-refer="{}"></a>').format(place, identity)


def table(
    headers: Sequence[str | tuple[str, str]],
    rows: Sequence[Sequence[object]],
    *,
    caption: str | Markup,
    number: int | None = None,
    key: str | None = None,
    number_columns: Sequence[int] = (),
    row_classes: Sequence[str] | None = None,
    row_heads: bool = True,
    note: str | Markup | None = None,
    long: bool = False,
    landscape: bool = False,
    sortable: bool = False,
    beside: str = "",
) -> Markup:
    """Return a table with caption, scoped heads and numbers aligned on the decimal mark.

    What stands beside it, as `all_rows`, comes after its box.

    Examples
    --------
    >>> html = table(["Oil", ("Load", "N")], [["R-10", "450"]], caption="Loads", number=1, number_columns=[1])
    >>> 'scope="row" class="short">R-10</th>' in html, '<span class="unit">[N]</span>' in html
    (True, True)
    """
    texts = _checked([[_text(cell) for cell in row] for row in rows], len(headers))
    columns = _columns(texts, number_columns)
    classes = _column_classes(texts, len(headers), number_columns)
    head = Markup("").join(
        _head_cell(header, column_class) for header, column_class in zip(headers, classes, strict=True)
    )
    names = row_classes if row_classes is not None else [""] * len(texts)
    body = Markup("\n").join(
        _row(cells, classes, name, row_heads)
        for cells, name in zip(zip(*columns, strict=True), names, strict=True)
    )
    label = caption_html("table", caption, number=number, key=key)
    return Markup(
        '<div class="{kind}"{identity}><div class="box" role="group" tabindex="0" aria-label="{name}">'
        '<table{sortable}><caption><div class="caption">{caption}</div></caption>'
        "<thead><tr>{head}</tr></thead>\n<tbody>{body}</tbody></table></div>{beside}{note}</div>"
    ).format(
        kind=_table_kind(texts, long, landscape),
        identity=label.attribute,
        name=escape(caption).striptags(),
        sortable=_class_attribute("sortable" if sortable else ""),
        caption=label.html,
        head=head,
        body=body,
        beside=Markup(beside),
        note=Markup("") if note is None else paragraph(note, "note"),
    )


def all_rows(
    rows: Sequence[Sequence[str]],
    row_classes: Sequence[str],
    *,
    number_columns: Sequence[int] = (),
    names: Sequence[int] = (),
) -> Markup:
    """Return all rows of a table that shows but some, as one block of data that the page's script reads.

    Words, which another language says otherwise, stand once, in a list; columns of names and all that starts
    with a number stand as they are.

    Examples
    --------
    >>> print(all_rows([["r1", "no"], ["r2", "no"]], ["", ""], names=[0]))  # doctest: +NORMALIZE_WHITESPACE
    <ul hidden><li>no</li></ul><script type="application/json"
    class="all-rows">{"kinds":[""],"rows":[[0,"r1",0],[0,"r2",0]]}</script>
    """
    columns = [
        align_on_decimal_mark(column) if j in number_columns else column
        for j, column in enumerate(zip(*rows, strict=True))
    ]
    words: dict[str, int] = {}
    kinds: dict[str, int] = {}
    coded = [
        [
            kinds.setdefault(kind, len(kinds)),
            *(
                cell if j in names or cell.strip(_BLANK)[:1].isdigit() else words.setdefault(cell, len(words))
                for j, cell in enumerate(cells)
            ),
        ]
        for kind, cells in zip(row_classes, zip(*columns, strict=True), strict=True)
    ]
    data = json.dumps({"kinds": list(kinds), "rows": coded}, ensure_ascii=False, separators=(",", ":"))
    # No text of a campaign can end the block.
    safe = Markup(data.replace("<", "\\u003c").replace("&", "\\u0026"))
    told = Markup("").join(Markup("<li>{}</li>").format(word) for word in words)
    return Markup('<ul hidden>{}</ul><script type="application/json" class="all-rows">{}</script>').format(
        told, safe
    )


def _table_kind(rows: list[list[str]], long: bool, landscape: bool) -> str:
    widest = sum(max(map(_length, column)) for column in zip(*rows, strict=True))
    parts = [
        "table",
        "few" if len(rows[0]) <= 4 and widest <= _FEW else "",
        "long" if long else "",
        "landscape" if landscape else "",
    ]
    return " ".join(filter(None, parts))


def _text(cell: object) -> str:
    return cell if isinstance(cell, str) else str(cell)


def _checked(rows: list[list[str]], width: int) -> list[list[str]]:
    if not rows:
        raise ValueError("a table without rows: say in a sentence that there is nothing to list")
    for i, row in enumerate(rows):
        if len(row) != width:
            raise ValueError(f"row {i} has {len(row)} cells, the head has {width}")
        for j, cell in enumerate(row):
            if not cell.strip():
                raise ValueError(f"cell {j} of row {i} is empty: say what is unknown in words")
    return rows


def _columns(rows: list[list[str]], number_columns: Sequence[int]) -> list[list[Markup]]:
    """Turn rows to columns, align the numbers as plain text, then escape what is not markup."""
    columns = list(zip(*rows, strict=True))
    shown = [align_on_decimal_mark(c) if j in number_columns else c for j, c in enumerate(columns)]
    return [
        [Markup(text) if isinstance(cell, Markup) else escape(text) for cell, text in zip(*pair, strict=True)]
        for pair in zip(columns, shown, strict=True)
    ]


def _column_classes(rows: list[list[str]], width: int, number_columns: Sequence[int]) -> list[str]:
    classes = [_column_class([row[j] for row in rows], j in number_columns) for j in range(width)]
    if not classes[0] and any(_length(row[0]) > _LONG for row in rows):
        classes[0] = "long-name"
    return classes


def _column_class(cells: list[str], numeric: bool) -> str:
    if numeric:
        return "interval" if any(map(_has_more, cells)) else "number"
    return "short" if all(_length(cell) <= _SHORT for cell in cells) else ""


def _length(cell: str) -> int:
    return len(cell.striptags() if isinstance(cell, Markup) else cell)


def _has_more(cell: str) -> bool:
    return starts_with_number(cell) and cell[-1] not in "0123456789"


def _class_attribute(name: str) -> Markup:
    return Markup(' class="{}"').format(name) if name else Markup("")


def _head_cell(header: str | tuple[str, str], column_class: str) -> Markup:
    label, unit = header if isinstance(header, tuple) else (header, "")
    shown = Markup(' <span class="unit">[{}]</span>').format(unit) if unit else Markup("")
    return Markup('<th scope="col"{}>{}{}</th>').format(_class_attribute(column_class), label, shown)


def _row(cells: Sequence[Markup], classes: list[str], name: str, row_heads: bool) -> Markup:
    parts = [
        Markup('<th scope="row"{}>{}</th>').format(_class_attribute(column_class), cell)
        if row_heads and j == 0
        else Markup("<td{}>{}</td>").format(_class_attribute(column_class), cell)
        for j, (cell, column_class) in enumerate(zip(cells, classes, strict=True))
    ]
    return Markup("<tr{}>{}</tr>").format(_class_attribute(name), Markup("").join(parts))


def paragraph(text: str | Markup, kind: str = "") -> Markup:
    """Return a paragraph.

    Examples
    --------
    >>> print(paragraph("2 < 3", "note"))
    <p class="note">2 &lt; 3</p>
    """
    return Markup("<p{}>{}</p>").format(_class_attribute(kind), text)


def bullet_list(sentences: Sequence[str]) -> Markup:
    """Give sentences as a list."""
    return Markup("<ul>{}</ul>").format(
        Markup("").join(Markup("<li>{}</li>").format(sentence) for sentence in sentences)
    )


def finding(text: str | Markup) -> Markup:
    """Return the sentence that opens a section: its finding, with numbers.

    Examples
    --------
    >>> print(finding("About 36 % smaller scar."))
    <p class="finding">About 36 % smaller scar.</p>
    """
    return paragraph(text, "finding")


def method_note(text: str | Markup) -> Markup:
    """Return the note on method and source that follows a finding, in smaller type.

    Examples
    --------
    >>> print(method_note("Pooled t interval."))
    <p class="method">Pooled t interval.</p>
    """
    return paragraph(text, "method")


def key_value(items: Mapping[str, object]) -> Markup:
    """Return names and values as a two-column list (a table: PDF tags of definition lists are unreliable).

    Examples
    --------
    >>> print(key_value({"Rig": "crossed cylinders"}))
    <table class="facts"><tbody><tr><th scope="row">Rig</th><td>crossed cylinders</td></tr></tbody></table>
    """
    rows = Markup("").join(
        Markup('<tr><th scope="row">{}</th><td>{}</td></tr>').format(name, value)
        for name, value in items.items()
    )
    return Markup('<table class="facts"><tbody>{}</tbody></table>').format(rows)


def key_value_halves(items: Mapping[str, object]) -> Markup:
    """Return names and values as two such lists side by side, where the page is wide enough.

    Examples
    --------
    >>> key_value_halves({"Rig": "crossed cylinders", "Days": "3 days", "Rings": "G-31"}).count("<table")
    2
    """
    told = list(items.items())
    half = -(-len(told) // 2)
    return Markup('<div class="two halves"><div>{}</div><div>{}</div></div>').format(
        key_value(dict(told[:half])), key_value(dict(told[half:]))
    )


def callout(kind: str, title: str | Markup, text: str | Markup) -> Markup:
    """Return a set-off remark whose kind is told by a word and a mark, with colour only as a third sign.

    Examples
    --------
    >>> "Caution" in callout("caution", "order of the runs", "all C-21 runs came last")
    True
    """
    word, mark = CALLOUTS[kind]
    return Markup(
        '<div class="callout {}"><span class="mark" aria-hidden="true">{}</span><div>'
        '<p class="title"><strong>{}:</strong> {}</p><p>{}</p></div></div>'
    ).format(_css_class(kind), mark, word, title, text)


def verdict(kind: str, text: str | Markup) -> Markup:
    """Return the verdict of the campaign or of a criterion, in large type.

    Examples
    --------
    >>> "<strong>Not met.</strong>" in verdict("not met", "C-21 carries less than 120 MPa.")
    True
    """
    word, mark = CALLOUTS[kind]
    return Markup(
        '<div class="verdict {}"><span class="mark" aria-hidden="true">{}</span>'
        "<p><strong>{}.</strong> {}</p></div>"
    ).format(_css_class(kind), mark, word, text)


def tag(kind: str, text: str | None = None) -> Markup:
    """Return a word with its mark for use inside a table cell or a sentence.

    Examples
    --------
    >>> print(tag("met"))
    <span class="tag kind-met"><span class="mark" aria-hidden="true">✓</span> Met</span>
    """
    word, mark = CALLOUTS[kind]
    return Markup('<span class="tag {}"><span class="mark" aria-hidden="true">{}</span> {}</span>').format(
        _css_class(kind), mark, word if text is None else text
    )


def _css_class(kind: str) -> str:
    return f"kind-{kind.replace(' ', '-')}"


NO_BREAK = "\N{NO-BREAK SPACE}"
_UNIT = re.compile(r"(?<=\d) (?=(?:%|°C|N|MPa|GPa|mm²|mm³|mm|µm|m/s|s|K|mg|W|rpm|runs?|oils?)(?![\w/]))")
_COUNT = re.compile(r"\b(n|p) (=|<) (?=\d)")
_DAY = rf"\d{{1,2}} (?:{'|'.join(MONTHS)})"
_DATE = re.compile(rf"(?<![\d:.-])(?:(?:{_DAY}(?: \d{{4}})?|\d{{1,2}}) to )?{_DAY} \d{{4}}(?!\d)")
_TEXT = re.compile(r">[^<]+<")
# Short names such as R-10, C-21, c07-09 and film-450; a longer word may break at its hyphen. No date and no
# number of a standard starts with a letter.
_NAME = re.compile(r"(?<![\w.&-])[A-Za-z][A-Za-z0-9]{0,5}-\d{1,4}(?![\w-])")
_PART = re.compile(
    r"<(?P<kept>style|script|title)\b.*?</(?P=kept)>|<(?P<tag>[^>]*)>|(?P<text>[^<]+)", re.DOTALL
)
_WHOLE = re.compile(r'\bclass="(?:short|number|interval|nowrap)"')  # these are never broken anyway


def tie_units(html: str) -> str:
    """Put no-break spaces into dates and between numbers and units in the text of HTML, not in its tags.

    Examples
    --------
    >>> tie_units("<p title='6 N'>at 450 N, n = 6</p>").replace(chr(160), "~")
    "<p title='6 N'>at 450~N, n~=~6</p>"
    >>> tie_units("<p>14 to 16 April 2026</p>").replace(chr(160), "~")
    '<p>14~to~16~April~2026</p>'
    """
    return _TEXT.sub(lambda match: _tie(match[0]), html)


def _tie(text: str) -> str:
    text = _DATE.sub(lambda match: match[0].replace(" ", NO_BREAK), text)
    return _COUNT.sub(rf"\1{NO_BREAK}\2{NO_BREAK}", _UNIT.sub(NO_BREAK, text))


def tie_names(html: str) -> str:
    """Keep names with a hyphen, as R-10, on one line; the text that is copied and searched stays the same.

    Examples
    --------
    >>> tie_names('<p title="R-10">R-10 on 2026-04-16</p><td class="short">R-10</td>')
    '<p title="R-10"><span class="nowrap">R-10</span> on 2026-04-16</p><td class="short">R-10</td>'
    """
    tag = ""

    def tied(match: re.Match[str]) -> str:
        nonlocal tag
        if match["text"] is None:
            tag = match["tag"] or ""
            return match[0]
        return match[0] if _WHOLE.search(tag) else _NAME.sub(r'<span class="nowrap">\g<0></span>', match[0])

    return _PART.sub(tied, html)
