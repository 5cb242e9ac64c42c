"""The questions of `pinscar new`, in the order they are asked.

Each answer is checked by itself: text in, a checked value or the mend out.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from pinscar.bench.question_help import (
    BENCHMARKS_HELP,
    CANDIDATES_HELP,
    DAYS_HELP,
    DIAMETERS_HELP,
    DURATION_HELP,
    GEOMETRY_HELP,
    GROOVE_HELP,
    HANGER_HELP,
    LEVER_HELP,
    LIMIT_HELP,
    LOAD_HELP,
    QUESTION_HELP,
    REFERENCE_HELP,
    REPEATS_HELP,
    SPEED_HELP,
    TITLE_HELP,
    WIDTH_HELP,
)
from pinscar.campaign.codes import either, plain
from pinscar.campaign.model import GEOMETRIES
from pinscar.campaign.quantities import FieldError, quantity
from pinscar.campaign.typed_quantity import quantities_in, usual_quantity
from pinscar.errors import UsageError
from pinscar.units import UnitError, check_dimension, split_quantity

MOST_REPEATS = 50
MOST_DAYS = 60
NONE = frozenset({"none", "-", "no"})
"""Words that leave an optional answer out."""

Reader = Callable[[str, Mapping[str, Any]], Any]


class AnswerError(ValueError):
    """An answer that cannot be taken; its text says why and what to write."""


def read_words(text: str, known: Mapping[str, Any]) -> str:
    """Take a line of text.

    Parameters
    ----------
    text : str
        The answer, not blank.
    known : mapping
        What was answered before; not used.

    Returns
    -------
    str
        The text with single blanks.

    Raises
    ------
    AnswerError
        If it holds signs that cannot be printed.

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
    """Take the id of one oil.

    Parameters
    ----------
    text : str
        The answer, not blank.
    known : mapping
        What was answered before.

    Returns
    -------
    str
        The id.

    Raises
    ------
    AnswerError
        If it is more than one, or cannot be printed.
    """
    (*others, last) = _ids(text, known)
    if others:
        raise AnswerError("the reference is one oil; give its id alone")
    return last


def read_oils(text: str, known: Mapping[str, Any]) -> tuple[str, ...]:
    """Take the ids of oils, with commas or semicolons between, none of them named before.

    Parameters
    ----------
    text : str
        The answer, not blank.
    known : mapping
        What was answered before.

    Returns
    -------
    tuple of str
        The ids.

    Raises
    ------
    AnswerError
        If two ids are alike, or one was named before.

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
    """Take the ids of oils, or none.

    Parameters
    ----------
    text : str
        The answer, not blank.
    known : mapping
        What was answered before.

    Returns
    -------
    tuple of str
        The ids; empty for none.
    """
    return () if text.strip().casefold() in NONE else read_oils(text, known)


def _ids(text: str, known: Mapping[str, Any]) -> tuple[str, ...]:
    ids = tuple(read_words(part, known) for part in re.split("[,;]", text) if part.strip())
    if not ids:
        raise AnswerError("no oil is named; write its id, such as C-21")
    return ids


def measure(dimension: str) -> Reader:
    """Make the reader of a quantity with its unit.

    Parameters
    ----------
    dimension : str
        Kind of quantity, a key of `pinscar.units.DIMENSIONS`.

    Returns
    -------
    callable
        Reader that gives the quantity as text, number and unit with a blank between.

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
    """Make the reader of a quantity that may be left out.

    Parameters
    ----------
    dimension : str
        Kind of quantity.

    Returns
    -------
    callable
        Reader that gives the quantity as text, or None.
    """
    read_one = measure(dimension)

    def read(text: str, known: Mapping[str, Any]) -> str | None:
        return None if text.strip().casefold() in NONE else read_one(text, known)

    return read


def loads(text: str, known: Mapping[str, Any]) -> tuple[str, ...]:
    """Take loads, or the weights hung on the lever: the unit tells which.

    Parameters
    ----------
    text : str
        The answer, with commas between several.
    known : mapping
        What was answered before.

    Returns
    -------
    tuple of str
        Quantities, all of them forces or all of them masses.

    Raises
    ------
    AnswerError
        If one cannot be read, has no unit, is there twice, or forces and masses are mixed.

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

    Parameters
    ----------
    text : str
        The answer.
    known : mapping
        What was answered before; not used.

    Returns
    -------
    tuple of str and str
        The two quantities.

    Raises
    ------
    AnswerError
        If there are not two, or one cannot be read.

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

    Parameters
    ----------
    text : str
        The quantity.

    Returns
    -------
    bool
        Whether it is one; False too where it cannot be read.

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

    Parameters
    ----------
    most : int
        Largest number taken.

    Returns
    -------
    callable
        Reader.

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
    """Take a number over zero.

    Parameters
    ----------
    text : str
        The answer.
    known : mapping
        What was answered before; not used.

    Returns
    -------
    float
        The number [1].

    Raises
    ------
    AnswerError
        If it is none.
    """
    del known
    try:
        return quantity("pure number")(text)
    except FieldError as error:
        raise AnswerError(f"{error.message}; write a number alone, such as 10") from None


def geometry(text: str, known: Mapping[str, Any]) -> str:
    """Take a geometry by its name or its number in the list.

    Parameters
    ----------
    text : str
        The answer.
    known : mapping
        What was answered before; not used.

    Returns
    -------
    str
        One of `pinscar.campaign.model.GEOMETRIES`.

    Raises
    ------
    AnswerError
        If it is none of them.

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


def _always(known: Known) -> bool:
    del known
    return True


def _never(known: Known) -> bool:
    del known
    return False


@dataclass(frozen=True, slots=True)
class Question:
    """One question.

    Parameters
    ----------
    key : str
        Name of its answer; the option is called so too, with hyphens.
    part : str
        Heading it stands under.
    words : str or callable
        What is asked; a function of what is known where that changes it.
    offered : str or callable
        The answer that a blank line gives, as a person would type it.
    read : callable
        Turns the text of an answer into its value, or raises `AnswerError`.
    asked : callable
        Whether it is asked at all, by what is known.
    fits : callable
        Whether an option may answer it although it is not asked, by what is known.
    help : str
        What a person sees who types a question mark.
    first : bool
        Whether a person is asked it at once; the others are asked only where a person goes through all again.
    """

    key: str
    part: str
    words: str | Callable[[Known], str]
    offered: str | Callable[[Known], str]
    read: Reader
    asked: Callable[[Known], bool] = _always
    fits: Callable[[Known], bool] = _never
    help: str = ""
    first: bool = False

    @property
    def option(self) -> str:
        """The option that answers it, as it is typed."""
        return f"--{self.key.replace('_', '-')}"

    def asks(self, known: Known) -> str:
        """Return what is asked, by what is known.

        Parameters
        ----------
        known : mapping
            What was answered before.

        Returns
        -------
        str
            What is asked.
        """
        return self.words if isinstance(self.words, str) else self.words(known)

    def offers(self, known: Known) -> str:
        """Return the answer that a blank line gives, by what is known.

        Parameters
        ----------
        known : mapping
            What was answered before.

        Returns
        -------
        str
            The answer, as a person would type it.
        """
        return self.offered if isinstance(self.offered, str) else self.offered(known)


@dataclass(frozen=True, slots=True)
class Answers:
    """All that a campaign is prepared from.

    Parameters
    ----------
    values : dict
        Value by question's key; the questions that don't apply have none.
    given : frozenset of str
        Keys that a person answered; the others are as offered.
    """

    values: dict[str, Any]
    given: frozenset[str]

    @property
    def oils(self) -> tuple[str, ...]:
        """All oils, the reference first."""
        return (self.values["reference"], *self.values["candidates"], *self.values["benchmarks"])


OILS, RIG, RUNS = "What is compared", "The rig", "The runs"
DIAMETERS = "diameters"
"""Key of the one question for both diameters."""


def _candidate(known: Known) -> str:
    return "C-2" if plain(known["reference"]) == plain("C-1") else "C-1"


def _decision(known: Known) -> str:
    return f"May {either(known['candidates'])} replace {known['reference']}?"


def _is(*names: str) -> Callable[[Known], bool]:
    return lambda known: known["geometry"] in names


def _weights(known: Known) -> bool:
    return is_mass(known["load"][0])


def _pin(known: Known) -> str:
    return "Diameter of the ball" if known["geometry"] == "ball-on-disc" else "Diameter of the pin"


def _diameters(known: Known) -> str:
    disc = known["geometry"] == "ball-on-disc"
    return f"Diameters of {'the ball and of its wear track' if disc else 'the pin and of the ring'}"


def _ring(known: Known) -> str:
    track = known["geometry"] == "ball-on-disc"
    return "Diameter of the wear track on the disc" if track else "Diameter of the ring"


def _speed(known: Known) -> str:
    return f"Speed of the {'disc' if known['geometry'] == 'ball-on-disc' else 'ring'}"


def _geometries() -> str:
    named = ", ".join(f"{number} {name}" for number, name in enumerate(GEOMETRIES, 1))
    return f"Geometry: {named}"


def questions(title: str) -> tuple[Question, ...]:
    """List the questions.

    Parameters
    ----------
    title : str
        Title that is offered.

    Returns
    -------
    tuple of Question
        In the order they are asked; later ones may depend on the answers to earlier ones.
    """
    return (*_oil_questions(title), *_rig_questions(), *_run_questions())


def _oil_questions(title: str) -> tuple[Question, ...]:
    return (
        Question("title", OILS, "Title of the campaign", title, read_words, help=TITLE_HELP),
        Question(
            "reference",
            OILS,
            "Reference oil, which the others are compared with",
            "R-1",
            oil,
            help=REFERENCE_HELP,
            first=True,
        ),
        Question(
            "candidates",
            OILS,
            "Candidate oils, with commas or semicolons between",
            _candidate,
            read_oils,
            help=CANDIDATES_HELP,
            first=True,
        ),
        Question("benchmarks", OILS, "Benchmark oils, if any", "none", optional_oils, help=BENCHMARKS_HELP),
        Question("question", OILS, "What is to be decided", _decision, read_words, help=QUESTION_HELP),
    )


def _rig_questions() -> tuple[Question, ...]:
    length = measure("length")
    return (
        Question("geometry", RIG, _geometries(), "1", geometry, help=GEOMETRY_HELP),
        Question(
            DIAMETERS,
            RIG,
            _diameters,
            "12 mm, 40 mm",
            two_lengths,
            lambda known: not _is("block-on-ring")(known),
            help=DIAMETERS_HELP,
            first=True,
        ),
        Question(
            "pin_diameter",
            RIG,
            _pin,
            lambda known: known[DIAMETERS][0] if DIAMETERS in known else "12 mm",
            length,
            lambda known: not _is("block-on-ring")(known),
            help=DIAMETERS_HELP,
        ),
        Question(
            "ring_diameter",
            RIG,
            _ring,
            lambda known: known[DIAMETERS][1] if DIAMETERS in known else "40 mm",
            length,
            help=DIAMETERS_HELP,
        ),
        Question(
            "ring_width",
            RIG,
            "Width of the ring's face on the block",
            "8 mm",
            length,
            _is("block-on-ring"),
            _is("crossed-cylinders", "worn-ring"),
            help=WIDTH_HELP,
        ),
        Question(
            "groove_depth",
            RIG,
            "Depth of the groove worn into the ring",
            "0.02 mm",
            length,
            _is("worn-ring"),
            help=GROOVE_HELP,
        ),
        Question("ring_speed", RIG, _speed, "700 rpm", measure("rotational speed"), help=SPEED_HELP),
    )


def _run_questions() -> tuple[Question, ...]:
    return (
        Question(
            "load",
            RUNS,
            "Load in N or kgf, or the weights hung on the lever in kg; commas between several",
            "450 N",
            loads,
            help=LOAD_HELP,
            first=True,
        ),
        Question(
            "lever_ratio",
            RUNS,
            "You write weights. Lever ratio: pin load divided by hung weight",
            "10",
            ratio,
            _weights,
            _always,
            help=LEVER_HELP,
            first=True,
        ),
        Question(
            "hanger_mass",
            RUNS,
            "Mass of the hanger that the weights lie on",
            "0.8 kg",
            measure("mass"),
            _weights,
            _always,
            help=HANGER_HELP,
        ),
        Question("duration", RUNS, "Duration of a run", "60 s", measure("time"), help=DURATION_HELP),
        Question(
            "repeats",
            RUNS,
            "Runs of each oil at each load",
            "4",
            count(MOST_REPEATS),
            help=REPEATS_HELP,
            first=True,
        ),
        Question(
            "days",
            RUNS,
            "Days that they are spread over",
            "2",
            count(MOST_DAYS),
            help=DAYS_HELP,
        ),
        Question(
            "film_pressure",
            RUNS,
            "Film pressure that the candidates must reach, such as 120 MPa, if there is a limit",
            "none",
            optional_measure("pressure"),
            help=LIMIT_HELP,
            first=True,
        ),
    )


def answers_of(
    title: str,
    given: Mapping[str, str],
    ask: Callable[[Question, str, Known], str] | None = None,
    *,
    every: bool = False,
) -> Answers:
    """Answer every question: by an option, by asking, or as offered.

    Parameters
    ----------
    title : str
        Title that is offered.
    given : mapping of str to str
        Answers by options, as typed.
    ask : callable, optional
        Asks a person, given the question, what is offered and what is known, until the answer can be read;
        a blank answer comes back as an empty text. None takes what is offered.
    every : bool
        Whether a person is asked all questions, and not only the first few.

    Returns
    -------
    Answers
        Checked values.

    Raises
    ------
    UsageError
        If an option cannot be taken, or does not fit the others.
    """
    values: dict[str, Any] = {}
    typed: set[str] = set()
    for question in questions(title):
        if question.key in given:  # told before a person has answered the questions that come first
            _read_option(question, given[question.key], {})
    apart = given.keys() & {"pin_diameter", "ring_diameter"}
    for question in questions(title):
        asked = question.asked(values)
        if question.key == DIAMETERS and (apart or every or ask is None):
            continue  # each diameter has its own question or option then
        if not asked and (question.key not in given or not question.fits(values)):
            if question.key in given:
                raise UsageError(f"{question.option} does not fit the other answers; leave it out")
            continue
        offered = question.offers(values)
        text = given.get(question.key)
        if text is not None:
            values[question.key] = _read_option(question, text, values)
        else:
            put = (
                question.first or every or (bool(apart) and question.key in ("pin_diameter", "ring_diameter"))
            )
            text = ask(question, offered, values) if ask and put else ""
            values[question.key] = question.read(text or offered, values)
        if text:
            typed |= {"pin_diameter", "ring_diameter"} if question.key == DIAMETERS else {question.key}
    runs = len((values["reference"], *values["candidates"], *values["benchmarks"]))
    runs *= values["repeats"] * len(values["load"])
    values["days"] = min(values["days"], runs)
    return Answers(values, frozenset(typed))


def _read_option(question: Question, text: str, values: Known) -> Any:
    if not text.strip():
        raise UsageError(f"{question.option} is empty; write something, or leave it out")
    try:
        return question.read(text, values)
    except AnswerError as error:
        raise UsageError(f"{question.option} {text!r}: {error}") from None
