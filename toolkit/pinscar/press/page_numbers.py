"""Whether the numbers that a page shows, in whichever language, are those of results.json."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

from pinscar.language.messages import locale_of, read_catalogue
from pinscar.language.speaker import Speaker
from pinscar.shipped import OWN, languages
from pinscar.wording import load_text

_LANGUAGE = re.compile(r'<html lang="([a-z]{2,3})"')
HEADS = (
    *(
        "Limit",
        "Verdict",
        "Required",
        "Because",
        "Oil and load",
        "In words",
        "Run",
        "Load",
        "Length",
        "Width",
    ),
    *("Area", "Pressure", "Volume"),
)
"""Heads of the columns that are compared, without their units."""
_NAMED = ("lubricant", "reference", "run_id", "id", "ring", "operator")
_SAID = ("verdict", "requirement", "because", "conclusion")
_KINDS = ("criteria", "summaries", "comparisons", "runs")


def language_of_page(html: str) -> str:
    """Tell the language of a page.

    Examples
    --------
    >>> language_of_page('<html lang="de">'), language_of_page("<p>Met.</p>")
    ('de', 'en')
    """
    found = _LANGUAGE.search(html[:1000])
    return found[1] if found and found[1] in languages() else OWN


def reader_of(language: str, results: Mapping[str, Any], key: Callable[[str], str]) -> Callable[[str], str]:
    """Give what turns a text of the page into the English one; `key` brings texts to a common form."""
    speaker = Speaker(catalogue=read_catalogue(language), names=frozenset(_names(results)))
    mark = re.escape(locale_of(language).number_symbols["latn"]["decimal"])
    said = {key(speaker.say(text)): text for text in _expected(results)}

    def read(text: str) -> str:
        label, bracket, unit = text.partition(" [")
        if bracket and key(label) in said:
            return f"{said[key(label)]} [{unit}"
        return said.get(key(text)) or re.sub(rf"(?<=\d){mark}(?=\d)", ".", text)

    return read


def _catalogue_entries(results: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    for kind in _KINDS:
        found = results.get(kind)
        if isinstance(found, Sequence):
            yield from (one for one in found if isinstance(one, Mapping))


def _names(results: Mapping[str, Any]) -> Iterator[str]:
    for one in _catalogue_entries(results):
        yield from (one[key] for key in _NAMED if isinstance(one.get(key), str) and one[key].strip())


def _expected(results: Mapping[str, Any]) -> Iterator[str]:
    yield from HEADS
    yield from ("met", "not met", "undecided")
    for one in _catalogue_entries(results):
        yield from (one[key] for key in _SAID if isinstance(one.get(key), str))
        if isinstance(one.get("response"), str):
            yield one["response"].replace("_", " ").capitalize()
        if isinstance(one.get("reference"), str):
            yield f"Ratio to {one['reference']}"
        if isinstance(one.get("load_N"), (int, float)):
            yield f"{one.get('lubricant')} at {load_text(float(one['load_N']))}"


RUN_COLUMNS = {
    "Load [N]": "load_N",
    "Length [mm]": "scar_length_mm",
    "Width [mm]": "scar_width_mm",
    "Area [mm²]": "scar_area_mm2",
    "Pressure [MPa]": "scar_pressure_MPa",
    "Volume [mm³]": "wear_volume_mm3",
}
"""Columns of the table of runs, and the entry of results.json that each shows."""

SUMMARIES = ("table-film", "table-wear")
"""Tables of estimates, a row an oil and load, a column a response."""

_NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?(?: × 10[⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+)?")
_POWERS = str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789")


@dataclass(frozen=True, slots=True)
class Unlike:
    """A number or word of the page that is not that of results.json.

    Attributes
    ----------
    where : str
        What it is of, such as ``run c07-01, Area [mm²]``.
    shown : str
        What the page shows.
    exact : str
        What results.json has.
    """

    where: str
    shown: str
    exact: str


@dataclass
class ShownTable:
    """A table of a page as text.

    Attributes
    ----------
    headers : list of str
        Heads of its columns.
    rows : list of list of str
        Its cells.
    more : list of list of str
        Cells of all its rows, where the page shows but some and pages through these.
    """

    headers: list[str] = field(default_factory=list)
    rows: list[list[str]] = field(default_factory=list)
    more: list[list[str]] = field(default_factory=list)


class _Tables(HTMLParser):
    """Collects the tables of a page by their id, and the verdict at its top."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tables: dict[str, ShownTable] = {}
        self.verdict = ""
        self._name = ""
        self._table: ShownTable | None = None
        self._cell: list[str] | None = None
        self._in_head = False
        self._verdict_depth = 0
        self._last: ShownTable | None = None
        self._words: list[str] | None = None
        self._data: list[str] | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        words = (given.get("class") or "").split()
        if tag == "div" and self._verdict_depth:
            self._verdict_depth += 1
        if tag == "div" and "verdict" in words and not self.verdict:
            self._verdict_depth = 1
        if tag == "div" and "table" in words:
            self._name = given.get("id") or ""
        if tag == "table" and self._name:
            self._last = self._table = self.tables.setdefault(self._name, ShownTable())
            self._name = ""
        elif tag == "thead":
            self._in_head = True
        elif tag == "tr" and self._table is not None and not self._in_head:
            self._table.rows.append([])
        elif tag in ("th", "td") and self._table is not None:
            self._cell = []
        elif tag == "ul" and "hidden" in given:
            self._words = []
        elif tag == "li" and self._words is not None:
            self._words.append("")
        elif tag == "script" and "all-rows" in words:
            self._data = []

    def handle_endtag(self, tag: str) -> None:
        if tag == "div" and self._verdict_depth:
            self._verdict_depth -= 1
        if tag == "thead":
            self._in_head = False
        elif tag == "table":
            self._table = None
        elif tag in ("th", "td") and self._cell is not None and self._table is not None:
            text = " ".join("".join(self._cell).split())
            (self._table.headers if self._in_head else self._table.rows[-1]).append(text)
            self._cell = None
        elif tag == "script" and self._data is not None:
            if self._last is not None:
                self._last.more = _decoded("".join(self._data), self._words or [])
            self._data = self._words = None

    def handle_data(self, data: str) -> None:
        if self._data is not None:
            self._data.append(data)
        elif self._words:
            self._words[-1] += data
        if self._cell is not None:
            self._cell.append(data)
        if self._verdict_depth:
            self.verdict += data


def _decoded(data: str, words: Sequence[str]) -> list[list[str]]:
    """Read the block of all rows as `markup.all_rows` writes it; nothing where it is no such block.

    Examples
    --------
    >>> _decoded('{"kinds":[""],"rows":[[0,"r1",0]]}', ["no"]), _decoded("{", [])
    ([['r1', 'no']], [])
    """
    try:
        return [
            [cell if isinstance(cell, str) else words[cell] for cell in row[1:]]
            for row in json.loads(data)["rows"]
        ]
    except (ValueError, TypeError, KeyError, IndexError, RecursionError):
        return []


def unlike_numbers(html: str, results: Mapping[str, Any]) -> Iterator[Unlike]:
    """List what a page shows otherwise than results.json has it.

    Compared are the verdict, the release limits with their reasons, every run, the estimates of film, scar
    and wear, and every comparison with the reference: a number agrees where the exact one rounds to it.

    Examples
    --------
    >>> page = ('<div class="table" id="table-runs"><table><thead><tr><th>Run</th><th>Area [mm²]</th></tr>'
    ...         '</thead><tbody><tr><td>1</td><td>6.13</td></tr></tbody></table></div>')
    >>> list(unlike_numbers(page, {"runs": [{"run_id": "1", "scar_area_mm2": 6.0267}]}))
    [Unlike(where='run 1, Area [mm²]', shown='6.13', exact='6.0267')]
    """
    read = _Tables()
    read.feed(html)
    language = language_of_page(html)
    if language != OWN:
        _in_english(read, reader_of(language, results, _words))
    yield from _verdict(read.verdict, results)
    tables = read.tables
    if "table-criteria" in tables:
        yield from _criteria(tables["table-criteria"], _entries(results, "criteria"))
    for name in SUMMARIES:
        if name in tables:
            yield from _summaries(tables[name], _entries(results, "summaries"))
    for name, table in tables.items():
        if name.startswith("table-against-") and "In words" in table.headers:
            response = name.removeprefix("table-against-").replace("-", "_")
            found = [one for one in _entries(results, "comparisons") if one.get("response") == response]
            yield from _comparisons(table, found)
        elif name.startswith("table-against-"):
            yield from _ratios(table, _entries(results, "comparisons"))
    if "table-runs" in tables:
        yield from _runs(tables["table-runs"], _entries(results, "runs"))


def _in_english(read: _Tables, english: Callable[[str], str]) -> None:
    """Turn what was read of a page in another language into English, as far as it is compared."""
    first, stop, rest = plain(read.verdict).lstrip("✓✗? ").partition(".")
    read.verdict = english(first) + stop + rest
    for table in read.tables.values():
        table.headers = [english(plain(head)) for head in table.headers]
        table.rows = [[english(plain(cell)) for cell in row] for row in table.rows]
        table.more = [[english(plain(cell)) for cell in row] for row in table.more]


def _entries(results: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    found = results.get(name)
    return [one for one in found if isinstance(one, Mapping)] if isinstance(found, Sequence) else []


def _verdict(shown: str, results: Mapping[str, Any]) -> Iterator[Unlike]:
    overall = results.get("overall")
    words = plain(shown).lstrip("✓✗? ").casefold()
    if overall and words and not words.startswith(f"{overall}."):
        yield Unlike("the verdict", plain(shown).lstrip("✓✗? ")[:60], str(overall))


def _criteria(table: ShownTable, entries: Sequence[Mapping[str, Any]]) -> Iterator[Unlike]:
    by_id = {plain(str(one.get("id"))): one for one in entries}
    for row in _as_dicts(table):
        name = row.get("Limit", "")
        one = by_id.get(name)
        if one is None:
            yield Unlike("the release limits", name, "no such limit")
            continue
        for column, exact in (
            ("Verdict", one.get("verdict")),
            ("Required", one.get("requirement")),
            ("Because", one.get("because")),
        ):
            shown = row.get(column, "")
            if exact is not None and _words(shown) != _words(str(exact)):
                yield Unlike(f"release limit {name}, {column}", shown, str(exact))


def _summaries(table: ShownTable, entries: Sequence[Mapping[str, Any]]) -> Iterator[Unlike]:
    cells: dict[tuple[str, str], Mapping[str, Any]] = {
        (_cell_name(one), _label(str(one.get("response")))): one for one in entries
    }
    for row in _as_dicts(table):
        for header, shown in row.items():
            label, _, unit = header.partition(" [")
            one = cells.get((row.get("Oil and load", ""), _label(label)))
            if one is None:
                continue
            factor = _factor(unit.rstrip("]"))
            exact = [one.get("estimate"), one.get("ci_low"), one.get("ci_high")]
            yield from _interval(f"{row['Oil and load']}, {header}", shown, exact, factor)


def _comparisons(table: ShownTable, entries: Sequence[Mapping[str, Any]]) -> Iterator[Unlike]:
    by_cell = {_cell_name(one): one for one in entries}
    for row in _as_dicts(table):
        name = row.get("Oil and load", "")
        one = by_cell.get(name)
        if one is None:
            continue
        words = one.get("conclusion")
        if isinstance(words, str) and _words(row.get("In words", "")) != _words(words):
            yield Unlike(f"{name} against the reference", row.get("In words", ""), words)
        shown = next((cell for header, cell in row.items() if header.startswith("Ratio to ")), "")
        exact = [one.get("ratio"), one.get("ci_low"), one.get("ci_high")]
        yield from _interval(f"{name}, ratio to the reference", shown, exact, 1.0)


def _ratios(table: ShownTable, entries: Sequence[Mapping[str, Any]]) -> Iterator[Unlike]:
    """Compare a table with a column of ratios for each response."""
    cells = {(_cell_name(one), _label(str(one.get("response")))): one for one in entries}
    for row in _as_dicts(table):
        for header, shown in row.items():
            one = cells.get((row.get("Oil and load", ""), _label(header)))
            if one is not None:
                exact = [one.get("ratio"), one.get("ci_low"), one.get("ci_high")]
                yield from _interval(f"{row['Oil and load']}, {header} over the reference", shown, exact, 1.0)


def _runs(table: ShownTable, entries: Sequence[Mapping[str, Any]]) -> Iterator[Unlike]:
    by_id = {plain(str(one.get("run_id"))): one for one in entries}
    rows = [*_as_dicts(table), *_as_dicts(ShownTable(table.headers, table.more))]
    for name in sorted(by_id.keys() ^ {row.get("Run", "") for row in rows}):
        yield Unlike("the runs", "listed" if name not in by_id else "not listed", f"run {name}")
    for row in rows:
        one = by_id.get(row.get("Run", ""), {})
        for header, key in RUN_COLUMNS.items():
            if header in row and isinstance(one.get(key), (int, float)):
                yield from _interval(f"run {row['Run']}, {header}", row[header], [one[key]], 1.0)


def _interval(where: str, shown: str, exact: Sequence[object], factor: float) -> Iterator[Unlike]:
    """Compare the first numbers of a cell with the exact ones; words without a number say nothing."""
    texts = _NUMBER.findall(shown)
    if not texts or shown[:1] in "≤≥" or not isinstance(exact[0], (int, float)):
        return
    wanted = [one / factor for one in exact if isinstance(one, (int, float))]
    if any(not agrees(text, one) for text, one in zip(texts, wanted, strict=False)):
        yield Unlike(where, shown, ", ".join(f"{one:.6g}" for one in wanted))


def agrees(text: str, exact: float) -> bool:
    """Tell whether a number as shown is the exact one, rounded.

    Examples
    --------
    >>> agrees("6.03", 6.0267), agrees("6.13", 6.0267), agrees("2210", 2214.2)
    (True, False, True)
    >>> agrees("1.0 × 10⁻⁶", 1.0347e-06), agrees("1.1 × 10⁻⁶", 1.0347e-06)
    (True, False)
    """
    text, _, power = text.partition(" × 10")
    exact /= 10.0 ** int(power.translate(_POWERS)) if power else 1.0
    whole, _, decimals = text.partition(".")
    step = 10.0 ** -len(decimals) if decimals else 10.0 ** (len(whole) - len(whole.rstrip("0") or "0"))
    return abs(float(text) - exact) <= 0.5 * step * (1.0 + 1e-6) + 1e-9 * abs(exact)


def plain(text: str) -> str:
    r"""Bring a text of the page to plain blanks, hyphens and minus signs.

    Examples
    --------
    >>> plain("118\u2008\u2007 (\u22122 to 134)")
    '118 (-2 to 134)'
    """
    aligned = text.translate(dict.fromkeys(map(ord, "\u2007\u2008\u202f")))
    shown = "".join(" " if unicodedata.category(one) == "Zs" else one for one in aligned)
    return " ".join(shown.replace("\N{MINUS SIGN}", "-").split())


def _as_dicts(table: ShownTable) -> Iterator[dict[str, str]]:
    heads = [plain(head) for head in table.headers]
    for row in table.rows:
        yield {head: plain(cell) for head, cell in zip(heads, row, strict=False)}


def _cell_name(entry: Mapping[str, Any]) -> str:
    load = entry.get("load_N")
    named = plain(load_text(float(load))) if isinstance(load, (int, float)) else ""
    return plain(f"{entry.get('lubricant')} at {named}")


def _label(text: str) -> str:
    return text.replace("_", " ").casefold()


def _factor(unit: str) -> float:
    power = re.match(r"10([⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+) ", unit)
    return 10.0 ** int(power.group(1).translate(_POWERS)) if power else 1.0


def _words(text: str) -> str:
    return plain(text).lstrip("✓✗? ").rstrip(".").casefold()
