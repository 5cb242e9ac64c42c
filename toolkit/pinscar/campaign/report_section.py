"""``[report]`` and ``sample``: what a test laboratory prints on a report beside its results."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict

from pinscar.campaign.quantities import FieldError, choice, text
from pinscar.campaign.typed_dates import SHOWN, as_read, read_dates
from pinscar.shipped import languages


class TomlSection(BaseModel):
    """A section of campaign.toml: unchangeable, and without keys it doesn't know."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=False)


SHORT, LINE, PROSE = 40, 120, 600
"""Most letters of a number, of a line and of a sentence or two: a page's head and a cell hold no more."""
MOST_LINES = 8
"""Most lines of an address."""
MOST_TEXTS = 20
"""Most entries of a list of sentences."""


def line(most: int = LINE) -> Callable[[Any], str]:
    """Make a reader of text on one line.

    Examples
    --------
    >>> line()(" Oven line,  hall 2 ")
    'Oven line, hall 2'
    """

    def read(value: Any) -> str:
        found = " ".join(text(value).split())
        if len(found) > most:
            message = f"the text has {len(found)} letters, and at most {most} are printed here"
            raise FieldError("toml-too-long", message, "shorten it")
        return found

    return read


def lines(value: Any) -> tuple[str, ...]:
    r"""Take an address or a name with its address: text, or a list of lines.

    Examples
    --------
    >>> lines(["Example Bench Laboratory", "12 Mill Lane"]) == lines("Example Bench Laboratory\n12 Mill Lane")
    True
    """
    given = value.splitlines() if isinstance(value, str) and value.strip() else value
    given = given if isinstance(given, list) else [given]
    found = tuple(line()(one) for one in given if not (isinstance(one, str) and not one.strip()))
    if not found:
        raise FieldError("toml-not-text", "the text is empty", "write at least one line")
    if len(found) > MOST_LINES:
        message = f"there are {len(found)} lines, and at most {MOST_LINES} are printed here"
        raise FieldError("toml-too-long", message, "join or shorten them")
    return found


def sentences(value: Any) -> tuple[str, ...]:
    """Take a list of sentences, which may be empty to say that there is none.

    Examples
    --------
    >>> sentences([]), sentences("Ring B was reground.")
    ((), ('Ring B was reground.',))
    """
    given = value if isinstance(value, list) else [value]
    if len(given) > MOST_TEXTS:
        message = f"there are {len(given)} entries, and at most {MOST_TEXTS} are printed here"
        raise FieldError("toml-too-long", message, "join or shorten them")
    return tuple(line(PROSE)(one) for one in given)


def revision_text(value: Any) -> str:
    """Take the number or the letter of a revision.

    Examples
    --------
    >>> revision_text(2), revision_text("B")
    ('2', 'B')
    """
    is_number = isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 10_000
    return str(value) if is_number else line(SHORT)(value)


NO_DATE = "write it as 2026-04-24"


def day(value: Any) -> dt.date:
    """Take a date: a TOML date, or text that can be read in one way only.

    Examples
    --------
    >>> day("24.04.2026") == day(dt.date(2026, 4, 24))
    True
    """
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        return value
    found = value.strip() if isinstance(value, str) else ""
    read = read_dates([found])
    if read.open_readings:
        two = " or ".join(f"{as_read(found, order)} ({SHOWN[order]})" for order in read.open_readings)
        raise FieldError("toml-not-a-date", f"this can be read as {two}", NO_DATE)
    try:
        return dt.date.fromisoformat(read.cells[0])
    except ValueError:
        raise FieldError("toml-not-a-date", "this is not a date", NO_DATE) from None


PAPERS = ("A4", "letter")
"""Papers that a PDF is set on, as words of CSS."""


def paper_text(value: Any) -> str:
    """Take the name of a paper, in any case.

    Examples
    --------
    >>> paper_text("Letter"), paper_text("a4")
    ('letter', 'A4')
    """
    known = {one.casefold(): one for one in PAPERS}
    return choice(*PAPERS)(known.get(str(value).strip().casefold(), value))


def language_text(value: Any) -> str:
    """Take the code of a language, in any case.

    Examples
    --------
    >>> language_text("DE")
    'de'
    """
    return choice(*languages())(str(value).strip().casefold())


def section(example: str) -> Callable[[Any], Any]:
    """Make a reader that asks for a table of keys in place of a plain value."""

    def read(value: Any) -> Any:
        if not isinstance(value, dict):
            raise FieldError("toml-not-a-section", "this must be a section", f"write it as {example}")
        return value

    return read


Line = Annotated[str, BeforeValidator(line())]
Short = Annotated[str, BeforeValidator(line(SHORT))]
Prose = Annotated[str, BeforeValidator(line(PROSE))]
Lines = Annotated[tuple[str, ...], BeforeValidator(lines)]
Sentences = Annotated[tuple[str, ...], BeforeValidator(sentences)]
Day = Annotated[dt.date, BeforeValidator(day)]


class Sample(TomlSection):
    """``sample`` of a lubricant: the item as it came to the bench.

    ``taken`` is the day it was drawn; ``received`` the day it came to the laboratory.
    """

    description: Line | None = None
    batch: Short | None = None
    condition: Line | None = None
    taken: Day | None = None
    received: Day | None = None


class TestMethod(TomlSection):
    """``[report.method]``: the document that the runs were made by, with its edition."""

    __test__ = False  # pytest takes a class of this name for tests

    document: Line | None = None
    edition: Short | None = None


class ReportSection(TomlSection):
    """``[report]``: who tested what for whom, and who issues it; nothing here is ever guessed.

    None means not said. ``deviations``, ``supplied_by_customer``, ``external`` and ``opinions`` may be an
    empty list, which says that there is none.
    """

    laboratory: Annotated[str, BeforeValidator(line(80))] | None = None
    address: Lines | None = None
    place: Line | None = None
    logo: Line | None = None
    customer: Lines | None = None
    order: Annotated[str, BeforeValidator(line(80))] | None = None
    number: Short | None = None
    revision: Annotated[str, BeforeValidator(revision_text)] | None = None
    replaces: Line | None = None
    reason: Prose | None = None
    issued: Day | None = None
    author: Line | None = None
    approver: Line | None = None
    method: Annotated[TestMethod, BeforeValidator(section('method = { document = "..." }'))] | None = None
    deviations: Sentences | None = None
    environment: Prose | None = None
    sampling: Prose | None = None
    supplied_by_customer: Sentences | None = None
    external: Sentences | None = None
    opinions: Sentences | None = None
    paper: Annotated[str, BeforeValidator(paper_text)] | None = None
    language: Annotated[str, BeforeValidator(language_text)] | None = None
