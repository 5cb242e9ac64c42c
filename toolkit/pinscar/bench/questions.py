"""The questions of `pinscar new`, in the order they are asked.

Each answer is checked by itself: text in, a checked value or the mend out.
"""

from __future__ import annotations

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
from pinscar.bench.question_readers import (
    MOST_DAYS,
    MOST_REPEATS,
    AnswerError,
    Known,
    Reader,
    count,
    geometry,
    is_mass,
    loads,
    measure,
    oil,
    optional_measure,
    optional_oils,
    ratio,
    read_oils,
    read_words,
    two_lengths,
)
from pinscar.campaign.codes import either, plain
from pinscar.campaign.model import GEOMETRIES
from pinscar.errors import UsageError


def _always(known: Known) -> bool:
    del known
    return True


def _never(known: Known) -> bool:
    del known
    return False


@dataclass(frozen=True, slots=True)
class Question:
    """One question.

    Attributes
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
        """Return what is asked, by what is known."""
        return self.words if isinstance(self.words, str) else self.words(known)

    def offers(self, known: Known) -> str:
        """Return the answer that a blank line gives, by what is known."""
        return self.offered if isinstance(self.offered, str) else self.offered(known)


@dataclass(frozen=True, slots=True)
class Answers:
    """All that a campaign is prepared from.

    Attributes
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
    """List the questions."""
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
    """Answer every question: by an option, by asking, or as offered."""
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
