"""The questions of `pinscar new` put to a person at a terminal."""

from __future__ import annotations

import os
import sys
import textwrap
from collections.abc import Callable, Mapping
from pathlib import Path

from pinscar import terminal
from pinscar.bench.answers import AnswerError, Known, two_lengths
from pinscar.bench.questions import DIAMETERS, Answers, Question, answers_of
from pinscar.errors import UsageError

HELP = ("?", "help")
KIND_HELP = (
    "csv is plain text that every program opens; xlsx is a spreadsheet with lists to choose from and a hint "
    "at each column. Both hold the same columns, and either may be filled in. no asks every question again."
)
WIDEST = 100
"""Columns that a screen of questions takes at most."""


def somebody_there() -> bool:
    """Tell whether a person sits at both ends: questions can be read, and answers typed."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def ask_all(
    folder: Path, title: str, given: Mapping[str, str], told: Callable[[Answers], str], *, xlsx: bool
) -> tuple[Answers, bool]:
    """Ask all that no option answers, show what came of it, and ask again where it is not right."""
    _paragraph(
        f"A new campaign in {folder}. Press Enter to accept the value in brackets, type ? for help. Ctrl-C "
        "stops, and nothing is made. All of it can be changed later in the files; what is not asked gets a "
        "default that campaign.toml marks."
    )
    before: dict[str, str] = {}
    every = False
    while True:
        typed: dict[str, str] = {}
        answers = answers_of(title, given, _asker(before, typed), every=every)
        terminal.say("")
        _paragraph(told(answers))
        kind = _kind("xlsx" if xlsx else "csv")
        if kind != "no":
            return answers, kind == "xlsx"
        terminal.say("Once more, with every question: your answers are in brackets.")
        before, every = _apart(typed), True


def _asker(before: Mapping[str, str], typed: dict[str, str]) -> Callable[[Question, str, Known], str]:
    parts: list[str] = []

    def ask(question: Question, offered: str, known: Known) -> str:
        if question.part not in parts:
            parts.append(question.part)
            terminal.say("")
            terminal.say(question.part)
        standing = before.get(question.key, "")
        while True:
            text = _line(f"{question.asks(known)} [{standing or offered}]: ") or standing
            if text in HELP:
                _paragraph(question.help, "    ")
                continue
            try:
                question.read(text or offered, known)
            except AnswerError as error:
                _paragraph(str(error), "    ")
                continue
            typed[question.key] = text
            return text

    return ask


def _apart(typed: Mapping[str, str]) -> dict[str, str]:
    """Give each diameter the answer to the question for both."""
    both = typed.get(DIAMETERS)
    if not both:
        return dict(typed)
    pin, ring = two_lengths(both, {})
    return {**typed, "pin_diameter": pin, "ring_diameter": ring}


def _kind(offered: str) -> str:
    """Ask for the kind of file, which is the last word: nothing is made where the answers aren't right."""
    words = "Runs as csv (text) or xlsx (spreadsheet with lists); or no, to change the answers"
    while True:
        said = _line(f"{words} [{offered}]: ").casefold().removeprefix(".")
        if said in HELP:
            _paragraph(KIND_HELP, "    ")
            continue
        if said in ("", "y", "yes"):
            return offered
        if said in ("csv", "xlsx", "no"):
            return said
        _paragraph("write csv, xlsx, or no to go through the answers again", "    ")


def _line(words: str) -> str:
    """Read one line; a long question is broken, so that the answer stands on a line that fits."""
    *upper, last = textwrap.wrap(words, _width(), initial_indent="  ", subsequent_indent="    ")
    for one in upper:
        terminal.say(one)
    try:
        return input(f"{last} ").strip()
    except EOFError:
        terminal.say("")
        raise UsageError("the input ended before the last question; nothing was made") from None
    except BaseException:
        terminal.say("")  # what is said next must not stand behind the question
        raise


def _paragraph(text: str, indent: str = "") -> None:
    lines = textwrap.wrap(
        text,
        _width(),
        initial_indent=indent,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    for line in lines:
        terminal.say(line)


def _width() -> int:
    try:
        return max(40, min(os.get_terminal_size(sys.stdout.fileno()).columns or WIDEST, WIDEST))
    except (OSError, ValueError):
        return WIDEST
