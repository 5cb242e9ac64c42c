"""What is told when something is wrong: marks made visible, problems of the input, and the exceptions.

The exceptions are one small tree, each with the exit status that it ends the command with.
"""

from __future__ import annotations

import re
import textwrap
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from enum import StrEnum
from functools import cache
from itertools import groupby

HIDDEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
"""General categories of characters that show nothing of their own."""

BLANKS = re.compile(r"[\u115f\u1160\u3164\uffa0\u2800\u034f\u17b4\u17b5\u180b-\u180f\ufe00-\ufe0f]")
"""Characters of other categories that show nothing: fillers and variation selectors."""

JOINERS = "\u200c\u200d"
"""Between letters of scripts that need them these two are spelling, and between pictures one picture."""

LAYOUT = "\t\n\r"

# Only these are looked at one by one: a page has a million others.
_ODD = re.compile(r"[^\x20-\x7e\t\n\r\xa1-\xac\xae-\u02ff]")
_ODD_IN_LINE = re.compile(r"[^\x20-\x7e\xa1-\xac\xae-\u02ff]")

# A Latin letter and one of another script that looks like it in most faces, after Unicode Technical Standard
# 39, "Unicode Security Mechanisms", section 4 (confusable detection); those that names of oils are made of.
_PAIRS = (
    "AА BВ CС EЕ HН IІ JЈ KК MМ OО PР SЅ TТ XХ YҮ ZΖ aа cс eе hһ iі jј nո oо pр qԛ "
    "sѕ vѵ wԝ xх yу AΑ BΒ EΕ ZΖ HΗ IΙ KΚ MΜ NΝ OΟ PΡ TΤ YΥ XΧ oο vν pρ iı kκ uυ"
)
_SAME = str.maketrans({"O": "0", "o": "0", "I": "1", "l": "1", "|": "1", "i": "1"})


def visible(text: str, *, layout: bool = True) -> str:
    r"""Show marks that cannot be seen as codes.

    Examples
    --------
    >>> visible("R-10\u202e12\x1b[2J\udcff"), visible("Öl µ°2²")
    ('R-10[U+202E]12[U+001B][2J[0xFF]', 'Öl µ°2²')
    """
    odd = _ODD if layout else _ODD_IN_LINE
    if not odd.search(text):
        return text

    def shown(match: re.Match[str]) -> str:
        return match[0] if _is_shown(text, match.start(), layout=layout) else code_of(match[0])

    return odd.sub(shown, text)


def _is_shown(text: str, place: int, *, layout: bool) -> bool:
    one = text[place]
    if one in LAYOUT:
        return layout
    if one in JOINERS:
        return _joins(text, place)
    if one == "\ufe0f":  # asks for a picture in colour
        return place > 0 and unicodedata.category(text[place - 1]) == "So"
    return unicodedata.category(one) not in HIDDEN and not BLANKS.match(one)


def _joins(text: str, place: int) -> bool:
    around = (text[place - 1 : place], text[place + 1 : place + 2])
    return all(
        one and ord(one) > 0x5FF and unicodedata.category(one) in ("Lo", "Mn", "Mc", "So", "Sk")
        for one in around
    )


def code_of(one: str) -> str:
    r"""Write a character as a code.

    Examples
    --------
    >>> code_of("\u200b"), code_of("\udcff")
    ('[U+200B]', '[0xFF]')
    """
    number = ord(one)
    return f"[0x{number - 0xDC00:02X}]" if 0xDC80 <= number <= 0xDCFF else f"[U+{number:04X}]"


def has_hidden(text: str) -> bool:
    r"""Tell whether a text has marks that cannot be seen; line ends and tabs count, as in a name.

    Examples
    --------
    >>> has_hidden("R-10"), has_hidden("R-1\u200b0")
    (False, True)
    """
    return visible(text, layout=False) != text


@cache
def _letters() -> Mapping[int, str]:
    return str.maketrans({pair[1]: pair[0] for pair in _PAIRS.split()})


def look(name: str) -> str:
    """Reduce a name to how it looks: two names with the same look cannot be told apart on paper.

    Examples
    --------
    >>> look("С‑21") == look("C-21"), look("C-21") == look("c-21")
    (True, False)
    """
    shown = "".join(
        one for one in unicodedata.normalize("NFKC", name) if unicodedata.category(one) not in HIDDEN
    )
    dashed = re.sub(r"[\u2010-\u2015\u2212\u00ad\u02d7\u2043]", "-", BLANKS.sub("", shown))
    return " ".join(dashed.translate(_letters()).split())


def loose_look(name: str) -> str:
    """Reduce a name further: case, and the letters that pass for figures, are as good as the same.

    Examples
    --------
    >>> loose_look("R-1O") == loose_look("r-10"), loose_look("Cl") == loose_look("C1")
    (True, True)
    """
    return look(name).translate(_SAME).casefold().translate(_SAME)


def spelled(name: str) -> str:
    """Write a name with the codes of all that is no plain letter, so that it can be told from its double.

    Examples
    --------
    >>> spelled("С-21"), spelled("C-21")
    ('С[U+0421]-21', 'C-21')
    """
    return "".join(
        one if " " <= one <= "~" else code_of(one) if has_hidden(one) else f"{one}{code_of(one)}"
        for one in name
    )


NO_FORMULA = "start it with a letter or a figure"
"""What to do about a name that starts as a formula does."""


class Severity(StrEnum):
    """How much a problem weighs: an error stops the report, a warning is printed in it."""

    ERROR = "error"
    WARNING = "warning"


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """What is wrong, where, what was found there and how to mend it.

    Attributes
    ----------
    code : str
        Stable identifier in kebab-case, such as ``"unit-missing"``.
    severity : Severity
        Whether it stops the report.
    file : str
        Name of the file, relative to the campaign folder.
    message : str
        What is wrong, in one plain clause without a full stop.
    mend : str
        What to do about it, in one plain clause without a full stop.
    row : int, optional
        Row as a spreadsheet counts it (the header is row 1).
    column : str, optional
        Header of the column, or the dotted key in a TOML file.
    value : str, optional
        The value found, as it stands in the file.
    cell : str, optional
        The cell of a workbook, such as ``"D7"``.

    Examples
    --------
    >>> print(
    ...     Problem(
    ...         code="unit-missing",
    ...         severity=Severity.ERROR,
    ...         file="runs.csv",
    ...         message="the column needs a unit",
    ...         mend="write it as load [N]",
    ...         row=1,
    ...         column="load",
    ...     )
    ... )
    runs.csv, row 1, column load: the column needs a unit; write it as load [N]
    """

    code: str
    severity: Severity
    file: str
    message: str
    mend: str
    row: int | None = None
    column: str | None = None
    value: str | None = None
    cell: str | None = None

    def __post_init__(self) -> None:
        # What a stranger's file says may not steer a terminal or a page.
        for name in ("file", "message", "mend", "column", "value", "cell"):
            said = getattr(self, name)
            if isinstance(said, str):
                object.__setattr__(self, name, visible(said))

    def __str__(self) -> str:
        place = [self.file]
        if self.row is not None:
            place.append(f"row {self.row}")
        if self.column is not None:
            place.append(f"column {self.column}" if self.file.endswith((".csv", ".xlsx")) else self.column)
        if self.cell is not None:
            place.append(f"cell {self.cell}")
        found = "" if self.value is None else f" (found {_shortened(self.value)!r})"
        return f"{', '.join(place)}: {self.message}{found}; {self.mend}"

    def as_dict(self) -> dict[str, str | int | None]:
        """Return the record as plain JSON types, for ``--json`` and for results.

        Examples
        --------
        >>> Problem(code="x", severity=Severity.WARNING, file="runs.csv", message="m", mend="n").as_dict()[
        ...     "severity"
        ... ]
        'warning'
        """
        return asdict(self) | {"severity": str(self.severity)}


LONGEST = 200
"""Most letters of a value that a line repeats."""


def _shortened(value: str) -> str:
    return value if len(value) <= LONGEST else f"{value[:LONGEST]}…"


_WIDEST = (8, 16, 5, 20, 20, 44, 44)


def text_table(problems: Sequence[Problem]) -> list[str]:
    r"""Lay problems out as a table of plain text, for where a page can't be shown.

    Examples
    --------
    >>> one = Problem(
    ...     code="x",
    ...     severity=Severity.ERROR,
    ...     file="runs.csv",
    ...     message="no unit",
    ...     mend="write load [N]",
    ...     row=1,
    ...     column="load",
    ... )
    >>> print("\n".join(line.rstrip() for line in text_table([one])))
    weight  file      row  column  found  what is wrong  how to mend it
    error   runs.csv  1    load    -      no unit        write load [N]
    """
    head = ("weight", "file", "row", "column", "found", "what is wrong", "how to mend it")
    rows = [head, *(_cells(problem) for problem in problems)]
    broken = [
        [textwrap.wrap(cell, width) or ["-"] for cell, width in zip(row, _WIDEST, strict=True)]
        for row in rows
    ]
    widths = [max(len(line) for row in broken for line in row[place]) for place in range(len(head))]
    return [
        "  ".join(
            (cell[line] if line < len(cell) else "").ljust(width)
            for cell, width in zip(row, widths, strict=True)
        )
        for row in broken
        for line in range(max(map(len, row)))
    ]


def _cells(problem: Problem) -> tuple[str, ...]:
    row = "-" if problem.row is None else str(problem.row)
    place = (str(problem.severity), problem.file, row, problem.column or "-", problem.value or "-")
    return (*place, problem.message, problem.mend)


def starts_formula(name: str) -> bool:
    """Tell whether a spreadsheet that opens a table with this name in it would run something.

    Examples
    --------
    >>> starts_formula('=HYPERLINK("x")'), starts_formula("-5"), starts_formula("=7"), starts_formula("R-10")
    (True, False, False, False)
    """
    return name[:1] in ("=", "+", "-", "@") and any(mark in name for mark in "(|!")


def either(words: Sequence[str]) -> str:
    """Offer words to choose from.

    Examples
    --------
    >>> either(["yes"]), either(["none", "light", "heavy"])
    ('yes', 'none, light or heavy')
    """
    return f"{', '.join(words[:-1])} or {words[-1]}" if len(words) > 1 else words[0]


class PinscarError(Exception):
    """Base of every error that pinscar raises on purpose; its text is one plain line."""

    exit_status = 4

    def _render_traceback_(self) -> list[str]:
        # What a notebook shows in place of a traceback: these errors tell a person what to mend.
        return [str(self)]


class InputError(PinscarError):
    """The campaign folder has errors: nothing was computed and nothing was written.

    Attributes
    ----------
    problems : list of Problem
        Every problem found, not only the first.
    """

    exit_status = 1

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__("; ".join(str(problem) for problem in problems))
        self.problems = problems

    def _render_traceback_(self) -> list[str]:

        number = "1 problem" if len(self.problems) == 1 else f"{len(self.problems)} problems"
        return [
            f"Nothing was computed: {number} to mend or check.",
            "",
            *text_table(self.problems),
        ]

    def __reduce__(self) -> tuple[type[InputError], tuple[list[Problem]]]:
        return (type(self), (self.problems,))


class UsageError(PinscarError):
    """The command was called with arguments that do not fit."""

    exit_status = 2


class RunError(PinscarError):
    """The run itself failed: template error, kernel death, no room on disk, folder in use."""

    exit_status = 4


class OutOfRangeError(ValueError):
    """A number that a function was given lies outside what its argument may be.

    Attributes
    ----------
    name : str
        The argument.
    rule : str
        What it must be.
    value : float
        The first number that is not.

    Examples
    --------
    >>> print(OutOfRangeError("load", "must be above zero", -5.0))
    load must be above zero; got -5
    """

    def __init__(self, name: str, rule: str, value: float) -> None:
        super().__init__(name, rule, value)
        self.name, self.rule, self.value = name, rule, value

    def __str__(self) -> str:
        return f"{self.name} {self.rule}; got {self.value:g}"


MOST = 2
"""How many cells of a column may have a line each before they are told as one."""
LINES = 20
"""How many lines are shown at most, unless all are wanted."""
SPANS = 4


def grouped(
    problems: Sequence[Problem], letters: Callable[[str], Mapping[str, str]] | None = None
) -> list[Problem]:
    """Join errors of one column that differ only by row and value.

    Examples
    --------
    >>> cells = [
    ...     Problem(
    ...         code="value-decimal-mark",
    ...         severity=Severity.ERROR,
    ...         file="runs.csv",
    ...         message="the number has a comma",
    ...         mend="write a point",
    ...         row=row,
    ...         column="load [N]",
    ...         value=f"4,{row}",
    ...     )
    ...     for row in (2, 3, 4, 9)
    ... ]
    >>> print(grouped(cells, lambda file: {"load [N]": "E"})[0])
    runs.csv, E2:E4 and E9, 4 cells, load [N]: the number has a comma (found '4,2', '4,3' ...); write a point
    """
    groups: dict[tuple[object, ...], list[Problem]] = {}
    for one in problems:
        groups.setdefault(_key(one), []).append(one)
    joined: list[Problem] = []
    for one in problems:
        group = groups[_key(one)]
        if len(group) <= MOST or not _is_cell(one):
            joined.append(one)
        elif one is group[0]:
            joined.append(_join(group, letters(one.file) if letters else {}))
    return joined


def _key(one: Problem) -> tuple[object, ...]:
    if not _is_cell(one):
        return (id(one),)
    return (one.code, one.file, one.column, one.message, one.mend)


def _is_cell(one: Problem) -> bool:
    return one.severity is Severity.ERROR and one.row is not None and one.row > 1


def _join(group: Sequence[Problem], letters: Mapping[str, str]) -> Problem:
    first = group[0]
    letter = letters.get(first.column or "") or (first.cell or "").rstrip("0123456789")
    rows = sorted(one.row for one in group if one.row is not None)
    place = f"{_spans(rows, letter)}, {len(group)} {'cells' if first.column else 'rows'}"
    column = f", {first.column}" if first.column else ""
    values = list(dict.fromkeys(one.value for one in group if one.value is not None))
    found = ", ".join(map(repr, values[:2])) + (" ..." if len(values) > 2 else "")
    message = f"{first.message} (found {found})" if found else first.message
    return replace(first, file=f"{first.file}, {place}{column}", message=message, row=None,
                   column=None, value=None, cell=None)  # fmt: skip


def _spans(rows: Sequence[int], letter: str) -> str:
    spans = []
    for _, run in groupby(enumerate(rows), key=lambda pair: pair[1] - pair[0]):
        span = [row for _, row in run]
        first, last = f"{letter}{span[0]}", f"{letter}{span[-1]}"
        spans.append(first if len(span) == 1 else f"{first}:{last}" if letter else f"{first} to {last}")
    shown = spans if len(spans) <= SPANS else [*spans[: SPANS - 1], f"{len(spans) - SPANS + 1} more places"]
    told = shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"
    return told if letter else f"rows {told}"


def shortened(lines: Sequence[str], more: str) -> list[str]:
    """Cut a list of lines.

    Examples
    --------
    >>> shortened(["a"] * 30, "pinscar check DIR --all")[-1]
    '11 more lines: pinscar check DIR --all'
    """
    if len(lines) <= LINES:
        return list(lines)
    return [*lines[: LINES - 1], f"{len(lines) - LINES + 1} more lines: {more}"]
