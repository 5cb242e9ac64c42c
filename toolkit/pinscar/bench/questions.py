"""The questions of `pinscar new`, in the order they are asked.

Each answer is checked by itself: text in, a checked value or the mend out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from pinscar.bench.answers import (
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
    MOST_DAYS,
    MOST_REPEATS,
    QUESTION_HELP,
    REFERENCE_HELP,
    REPEATS_HELP,
    SPEED_HELP,
    TITLE_HELP,
    WIDTH_HELP,
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
from pinscar.campaign.codes import plain
from pinscar.campaign.model import GEOMETRIES
from pinscar.errors import UsageError, either


def _always(known: Known) -> bool:
    del known
    return True


def _never(known: Known) -> bool:
    del known
    return False


@dataclass(frozen=True, slots=True, kw_only=True)
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
    return (*_oil_questions(title), *_rig_questions(), *_load_questions(), *_run_questions())


def _oil_questions(title: str) -> tuple[Question, ...]:
    return (
        Question(
            key="title",
            part=OILS,
            words="Title of the campaign",
            offered=title,
            read=read_words,
            help=TITLE_HELP,
        ),
        Question(
            key="reference",
            part=OILS,
            words="Reference oil, which the others are compared with",
            offered="R-1",
            read=oil,
            help=REFERENCE_HELP,
            first=True,
        ),
        Question(
            key="candidates",
            part=OILS,
            words="Candidate oils, with commas or semicolons between",
            offered=_candidate,
            read=read_oils,
            help=CANDIDATES_HELP,
            first=True,
        ),
        Question(
            key="benchmarks",
            part=OILS,
            words="Benchmark oils, if any",
            offered="none",
            read=optional_oils,
            help=BENCHMARKS_HELP,
        ),
        Question(
            key="question",
            part=OILS,
            words="What is to be decided",
            offered=_decision,
            read=read_words,
            help=QUESTION_HELP,
        ),
    )


def _rig_questions() -> tuple[Question, ...]:
    length = measure("length")
    return (
        Question(
            key="geometry", part=RIG, words=_geometries(), offered="1", read=geometry, help=GEOMETRY_HELP
        ),
        Question(
            key=DIAMETERS,
            part=RIG,
            words=_diameters,
            offered="12 mm, 40 mm",
            read=two_lengths,
            asked=lambda known: not _is("block-on-ring")(known),
            help=DIAMETERS_HELP,
            first=True,
        ),
        Question(
            key="pin_diameter",
            part=RIG,
            words=_pin,
            offered=lambda known: known[DIAMETERS][0] if DIAMETERS in known else "12 mm",
            read=length,
            asked=lambda known: not _is("block-on-ring")(known),
            help=DIAMETERS_HELP,
        ),
        Question(
            key="ring_diameter",
            part=RIG,
            words=_ring,
            offered=lambda known: known[DIAMETERS][1] if DIAMETERS in known else "40 mm",
            read=length,
            help=DIAMETERS_HELP,
        ),
        Question(
            key="ring_width",
            part=RIG,
            words="Width of the ring's face on the block",
            offered="8 mm",
            read=length,
            asked=_is("block-on-ring"),
            fits=_is("crossed-cylinders", "worn-ring"),
            help=WIDTH_HELP,
        ),
        Question(
            key="groove_depth",
            part=RIG,
            words="Depth of the groove worn into the ring",
            offered="0.02 mm",
            read=length,
            asked=_is("worn-ring"),
            help=GROOVE_HELP,
        ),
        Question(
            key="ring_speed",
            part=RIG,
            words=_speed,
            offered="700 rpm",
            read=measure("rotational speed"),
            help=SPEED_HELP,
        ),
    )


def _load_questions() -> tuple[Question, ...]:
    return (
        Question(
            key="load",
            part=RUNS,
            words="Load in N or kgf, or the weights hung on the lever in kg; commas between several",
            offered="450 N",
            read=loads,
            help=LOAD_HELP,
            first=True,
        ),
        Question(
            key="lever_ratio",
            part=RUNS,
            words="You write weights. Lever ratio: pin load divided by hung weight",
            offered="10",
            read=ratio,
            asked=_weights,
            fits=_always,
            help=LEVER_HELP,
            first=True,
        ),
        Question(
            key="hanger_mass",
            part=RUNS,
            words="Mass of the hanger that the weights lie on",
            offered="0.8 kg",
            read=measure("mass"),
            asked=_weights,
            fits=_always,
            help=HANGER_HELP,
        ),
    )


def _run_questions() -> tuple[Question, ...]:
    return (
        Question(
            key="duration",
            part=RUNS,
            words="Duration of a run",
            offered="60 s",
            read=measure("time"),
            help=DURATION_HELP,
        ),
        Question(
            key="repeats",
            part=RUNS,
            words="Runs of each oil at each load",
            offered="4",
            read=count(MOST_REPEATS),
            help=REPEATS_HELP,
            first=True,
        ),
        Question(
            key="days",
            part=RUNS,
            words="Days that they are spread over",
            offered="2",
            read=count(MOST_DAYS),
            help=DAYS_HELP,
        ),
        Question(
            key="film_pressure",
            part=RUNS,
            words="Film pressure that the candidates must reach, such as 120 MPa, if there is a limit",
            offered="none",
            read=optional_measure("pressure"),
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
