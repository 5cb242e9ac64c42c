"""What a person answers to a question of ``pinscar new``: read and checked, with the help for it."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Mapping
from typing import Any

from pinscar.campaign.codes import plain
from pinscar.campaign.model import GEOMETRIES
from pinscar.campaign.quantities import FieldError, quantities_in, quantity, usual_quantity
from pinscar.errors import either
from pinscar.units import UnitError, check_dimension, split_quantity

TITLE_HELP = "A few words; they stand on the first page of the report."
REFERENCE_HELP = (
    "The oil that is known and that the others shall replace or match. Every result is stated against it, "
    "so it is run as often as the others, on the same days. Write its id as you will write it in the "
    "table, such as R-10."
)
CANDIDATES_HELP = (
    "The oils that a decision is wanted on: one or several, such as C-21 or H 1; H 2. Write each as you "
    "will write it in the table."
)
BENCHMARKS_HELP = (
    "Oils that are known from elsewhere and place the others among them; no decision is taken on them. "
    "none leaves them out."
)
QUESTION_HELP = "One sentence; the report answers it on its first page."
GEOMETRY_HELP = (
    "How the bodies touch: 1 a round pin across a ring, 2 a ball on a disc, 3 a flat block on a ring, 4 a "
    "pin across a ring that has a worn groove. The area and the volume of the scar follow from it."
)
DIAMETERS_HELP = (
    "Both with their units, the pin first: 12 mm, 40 mm. The depth and the volume of the scar and the "
    "speed of sliding follow from them; the film pressure does not, it needs load and scar alone. Measure "
    "them; a drawing will do for a start."
)
WIDTH_HELP = "The width over which the ring's face bears on the block, such as 8 mm."
GROOVE_HELP = "The depth of the groove in the ring's surface, such as 0.02 mm, from a profile across it."
SPEED_HELP = "Turns in a time, such as 700 rpm or 700/min."
LOAD_HELP = (
    "The force that presses the pin on the ring: 450 N, or 450, 600, 750 N for three levels. Where you "
    "know only the weights on the lever, write these in kg, and the next question asks for the lever. "
    "Each oil is run at each load."
)
LEVER_HELP = (
    "How many times the load on the pin is larger than the weight that hangs on the lever: the arm of the "
    "weights over the arm of the pin. Measure both arms, or hang on a known weight and read a load cell "
    "at the pin."
)
HANGER_HELP = "What hangs on the lever before any weight lies on it, such as 0.8 kg. Weigh it."
DURATION_HELP = (
    "How long a run lasts, such as 60 s or 1,5 min. It should be long enough for the noise to stop with "
    "most oils: a run that is still wearing at its end gives only a bound on the film pressure."
)
REPEATS_HELP = (
    "How often each oil is run at each load. 3 is the least that shows a spread, 4 to 6 are usual; "
    "pinscar plan computes how many a wanted difference takes."
)
DAYS_HELP = (
    "Every day gets all oils as evenly as possible, so that a warm or humid day favours none; the days "
    "are then compared among themselves."
)
LIMIT_HELP = (
    "A release limit, if there is one: the film pressure, load over scar area, that a candidate must "
    "reach, such as 120 MPa or 120 N/mm2. none leaves it out; other limits can be written into "
    "campaign.toml."
)


MOST_REPEATS = 50
MOST_DAYS = 60
NONE = frozenset({"none", "-", "no"})
"""Words that leave an optional answer out."""

Reader = Callable[[str, Mapping[str, Any]], Any]


class AnswerError(ValueError):
    """An answer that cannot be taken; its text says why and what to write."""


def read_words(text: str, known: Mapping[str, Any]) -> str:
    """Take a line of text.

    Examples
    --------
    >>> read_words("  May C-21  replace R-10? ", {})
    'May C-21 replace R-10?'
    """
    del known
    one = " ".join(text.split())
    if not one.isprintable():
        raise AnswerError("the text holds signs that cannot be printed; type it without them")
    return one


def oil(text: str, known: Mapping[str, Any]) -> str:
    """Take the id of one oil."""
    (*others, last) = _ids(text, known)
    if others:
        raise AnswerError("the reference is one oil; give its id alone")
    return last


def read_oils(text: str, known: Mapping[str, Any]) -> tuple[str, ...]:
    """Take the ids of oils, with commas or semicolons between, none of them named before.

    Examples
    --------
    >>> read_oils("C-21, C-22", {"reference": "R-10"})
    ('C-21', 'C-22')
    >>> read_oils("H 1; H 2", {})
    ('H 1', 'H 2')
    """
    named = [known["reference"]] if "reference" in known else []
    named += [*known.get("candidates", ())]
    ids = _ids(text, known)
    for place, one in enumerate(ids):
        alike = next((other for other in [*named, *ids[:place]] if plain(other) == plain(one)), None)
        if alike is not None:
            twice = f"{one!r} is named twice" if alike == one else f"{one!r} and {alike!r} are too much alike"
            raise AnswerError(f"{twice}; give every oil an id of its own")
    return ids


def optional_oils(text: str, known: Mapping[str, Any]) -> tuple[str, ...]:
    """Take the ids of oils, or none."""
    return () if text.strip().casefold() in NONE else read_oils(text, known)


def _ids(text: str, known: Mapping[str, Any]) -> tuple[str, ...]:
    ids = tuple(read_words(part, known) for part in re.split("[,;]", text) if part.strip())
    if not ids:
        raise AnswerError("no oil is named; write its id, such as C-21")
    return ids


def measure(dimension: str) -> Reader:
    """Make the reader of a quantity with its unit.

    Examples
    --------
    >>> measure("length")("12mm", {})
    '12 mm'
    """
    read_si = quantity(dimension, low_allowed=dimension == "mass")

    def read(text: str, known: Mapping[str, Any]) -> str:
        del known
        one = _usual(" ".join(text.split()), dimension)
        try:
            read_si(one)
        except FieldError as error:
            raise AnswerError(f"{error.message}; {error.mend}") from None
        number, unit = split_quantity(one)
        return f"{number:.12g} {unit}"

    return read


def optional_measure(dimension: str) -> Reader:
    """Make the reader of a quantity that may be left out."""
    read_one = measure(dimension)

    def read(text: str, known: Mapping[str, Any]) -> str | None:
        return None if text.strip().casefold() in NONE else read_one(text, known)

    return read


def loads(text: str, known: Mapping[str, Any]) -> tuple[str, ...]:
    """Take loads, or the weights hung on the lever: the unit tells which.

    Examples
    --------
    >>> loads("450 N, 900N", {}), loads("4 kg", {})
    (('450 N', '900 N'), ('4 kg',))
    """
    try:
        parts = quantities_in(text)
    except UnitError as error:
        no_unit = 'a load has no unit; write each with its own, "450 N, 900 N", or one behind the last'
        raise AnswerError(no_unit if error.code == "unit-missing" else str(error)) from None
    kinds = ["mass" if is_mass(part) else "force" for part in parts]
    if len(set(kinds)) > 1:
        raise AnswerError("loads and weights are mixed; write all in N or kgf, or all in kg")
    taken = tuple(measure(kind)(part, known) for kind, part in zip(kinds, parts, strict=True))
    if len(set(taken)) != len(taken) or not taken:
        raise AnswerError("write each load once, such as 450 N, 900 N")
    return taken


def two_lengths(text: str, known: Mapping[str, Any]) -> tuple[str, str]:
    """Take two lengths.

    Examples
    --------
    >>> two_lengths("12 and 40 mm", {})
    ('12 mm', '40 mm')
    """
    try:
        parts = quantities_in(text, "length")
    except UnitError as error:
        raise AnswerError(str(error)) from None
    if len(parts) != 2:
        raise AnswerError("write two diameters with their units, the pin first: 12 mm, 40 mm")
    first, second = (measure("length")(part, known) for part in parts)
    return first, second


def _usual(text: str, dimension: str) -> str:
    try:
        return usual_quantity(text, dimension)
    except UnitError as error:
        raise AnswerError(str(error)) from None


def is_mass(text: str) -> bool:
    """Tell whether a quantity is a mass: weights on the lever, and no load.

    Examples
    --------
    >>> is_mass("4 kg"), is_mass("46 kgf")
    (True, False)
    """
    try:
        check_dimension(split_quantity(text)[1], "mass")
    except UnitError:
        return False
    return True


def count(most: int) -> Reader:
    """Make the reader of a whole number from 1 on.

    Examples
    --------
    >>> count(50)("4", {})
    4
    """

    def read(text: str, known: Mapping[str, Any]) -> int:
        del known
        if not re.fullmatch(r"\d{1,6}", text.strip(), re.ASCII) or not 1 <= int(text) <= most:
            raise AnswerError(f"this must be a whole number from 1 to {most}; write it alone, such as 4")
        return int(text)

    return read


def ratio(text: str, known: Mapping[str, Any]) -> float:
    """Take a number over zero."""
    del known
    try:
        return quantity("pure number")(text)
    except FieldError as error:
        raise AnswerError(f"{error.message}; write a number alone, such as 10") from None


def geometry(text: str, known: Mapping[str, Any]) -> str:
    """Take a geometry by its name or its number in the list.

    Examples
    --------
    >>> geometry("2", {}), geometry("Ball on disc", {})
    ('ball-on-disc', 'ball-on-disc')
    """
    del known
    said = plain(text)
    names = {plain(name): name for name in GEOMETRIES} | {
        str(number): name for number, name in enumerate(GEOMETRIES, 1)
    }
    near = difflib.get_close_matches(said, names, n=1, cutoff=0.7)
    if said in names:
        return names[said]
    meant = f"did you mean {names[near[0]]}?" if near else f"write {either(GEOMETRIES)}"
    raise AnswerError(f"{text.strip()!r} is not one of the geometries; {meant}")


Known = Mapping[str, Any]
