"""Findings of the fairness audit: each is data, and its two sentences are made here."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from string import Formatter
from types import MappingProxyType
from typing import Any

from pinscar.shown import to_shown
from pinscar.wording import counted, date_range, fixed, listing, load_text, sentence, significant

_EITHER_WAY = "these runs may make the lubricant look better or worse."
_LEAN = "A reader who knows the product can lean on the edge of a scar without meaning to."
_SPARE = "the run counts."
_SHOWN_UNSURE = "A change of the rig would pass for a change of the oils' absolute values."
_UNKNOWN_RIG = "it is unknown whether the rig was under control on the campaign's days:"
_PARTLY = "A difference between {factor:plural} may pass for part of the difference between the two."
_DISTANCE = (
    "Scar and wear volume grow with sliding distance, so these runs are not quite repeats of the others."
)

TEXTS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "shaken-throughout": (
            "all {shaken:list} runs used shaken samples, all {unshaken:list} runs unshaken ones.",
            "Settled components may not have reached the contact, so shaking may explain the difference.",
        ),
        "shaken-some": (
            "{n:run} used a sample that was not shaken, the others shaken ones.",
            f"Settled components may not have reached the contact; {_EITHER_WAY}",
        ),
        "timer-gap-throughout": (
            "at {load:load} the timer usually started {gap:.3g} s after the load with {oil}, "
            "{gap_of_reference:.3g} s with {reference}.",
            "{oil} and {reference} rubbed for different times: not like for like.",
        ),
        "timer-gap-some": (
            "in {n:run} the timer started more than 2 % of the duration off the load.",
            "These runs rubbed longer or shorter than stated.",
        ),
        "note-on-load": (
            "the note of {n:run} speaks of the load ({notes:first}).",
            "No load step is recorded for them: if the load changed, pressure and scar belong to "
            "another load.",
        ),
        "note-on-timer": (
            "the note of {n:run} speaks of the timing ({notes:first}).",
            "If the real duration is another, scar and wear are not those of a repeat.",
        ),
        "note-on-label": (
            "the note of {n:run} speaks of which oil it was ({notes:first}).",
            "Results of runs with another oil than stated count for the wrong one.",
        ),
        "unlike-conditions": (
            "{oil} at {load:load} was {reason}.",
            "{oil} and {reference} are shown side by side at this load but not tested against each other.",
        ),
        "unlike-but-settled": (
            "{oil} at {load:load} was {reason}.",
            "Wear had stopped in all runs of both, so longer runs change no film pressure: these are "
            "compared all the same, everything else is shown side by side but not tested.",
        ),
        "load-not-shared": (
            "{oils:list} ran at {load:load}, {reference} did not.",
            "Results at different loads are not compared.",
        ),
        "odd-duration": (
            "{n:run} had a duration more than 2 % off the others of the same lubricant and load.",
            _DISTANCE,
        ),
        "odd-ring-speed": (
            "{n:run} had a ring speed more than 2 % off the others of the same lubricant and load.",
            _DISTANCE,
        ),
        "load-history-throughout": (
            "{histories:histories}.",
            "The scar keeps the history of the lower load; {cells:cells} can't be called like for like.",
        ),
        "load-history-some": (
            "the load was raised while running in {n:run}.",
            "Their final pressure is that of the last load, but the scar keeps the history of the "
            "earlier one.",
        ),
        "pin-preparation-throughout": (
            "all {reground:list} runs used re-ground pins, all {new:list} runs new ones.",
            "The pins may explain the difference between them.",
        ),
        "pin-preparation-some": (
            "{n:run} used re-ground pins, the others new ones.",
            "A re-ground surface can wear in differently; the spread includes that.",
        ),
        "dose-throughout": (
            "{oil} was dosed with {dose:mL} mL, {reference} with {dose_of_reference:mL} mL.",
            "More lubricant cools and feeds the contact, so the dose may explain a difference.",
        ),
        "dose-some": (
            "{n:run} had a dose more than 10 % off the usual {doses:mLs} mL.",
            f"More lubricant cools and feeds the contact; {_EITHER_WAY}",
        ),
        "few-repeats": (
            "fewer than {least} repeats: {cells:sizes}.",
            "Intervals from so few runs are wide and rest on the log-normal assumption.",
        ),
        "unequal-repeats": (
            "repeats at {load:load} range from {least} to {most} per lubricant.",
            "The least repeated lubricant limits what the comparison can show.",
        ),
        "never-together": (
            "at {load:load}, {oil} and {reference} never ran on the same {factor}.",
            "A difference between them may be one between {factor}s.",
        ),
        "one-only": (
            "at {load:load}, {oil} ran on one {factor} only, {reference} on {n_of_reference}.",
            "The spread of {oil} leaves out differences between {factor}s, so it looks surer than it is.",
        ),
        "reference-drift": (
            "the scars of {reference} {correlation:grew} through the campaign (rank correlation "
            "{correlation:fixed}, p = {p:.2g}).",
            "The rig, the rings or the reference sample changed; compare within days.",
        ),
        "excluded-runs": (
            "{n:run} of {of} left out by the operator: {reasons:excluded}.",
            "Excluded runs are listed and used nowhere; the reviewer should agree with each reason.",
        ),
        "width-off-geometry": (
            "{n:run} had a scar more than 15 % off the width that its length implies.",
            "A tilted pin, a worn ring or a misread scar makes area and pressure of these runs doubtful.",
        ),
        "pin-tilted": (
            "the pin was tilted in {n} of {of:run} with a picture: the scar is wider at one end.",
            "A tilted pin carries the load on less of its length, so these runs are not quite repeats of "
            "the others.",
        ),
        "scar-of-two-lobes": (
            "the scar has a waist in {n} of {of:run} with a picture: two lobes.",
            "The pin rocked, or rubbed at two places: area and pressure are not those of one even contact.",
        ),
        "scar-cut-off": (
            "the scar is cut off by the edge of the pin or of the picture in {n} of {of:run} with a picture.",
            "Length, width and area of these runs are those typed in; the picture can't confirm them.",
        ),
        "width-implied": (
            "{n:run} had no measured width.",
            "Their area uses the width that the length implies and can't show tilt.",
        ),
        "quiet-contradicts": (
            "{n:run} had a quiet time that contradicts what was noted about wear.",
            "The noted state was used; check the sound or the trace.",
        ),
        "quiet-interval": (
            "the noise of {n:run} faded, so that its end is known as an interval only.",
            "The beginning of the fading counts as a lower bound of the quiet time; its end is not used, so "
            "the quiet time of their oil may be shorter than shown here.",
        ),
        "wear-running": (
            "wear was still running at the end of {n:run} ({oils:list}).",
            "Their film pressure is an upper bound; longer runs would turn bounds into values.",
        ),
        "wear-not-judged": (
            "whether wear had stopped was not noted in {n:run}.",
            "They are treated as still wearing, so the film of their oil may be stronger than shown here, "
            "and the ratio of another oil to it smaller.",
        ),
        "blind-nowhere-recorded": ("no record says whether scars were read blind.", _LEAN),
        "blind-not-recorded": ("no record says whether {n:scars} read blind.", _LEAN),
        "read-knowing": ("{n:scars} read by someone who knew the product.", _LEAN),
        "scar-apart": (
            "far from the other scars of its oil and load: {strays:runs}.",
            f"Flagged only: {_SPARE} Look for another load, another oil or a misread scar.",
        ),
        "label-in-doubt": (
            "{n:run} may be mislabelled: {strays:labels}.",
            "Their scar lies far from their own oil's at this load and among another oil's; check the label "
            "before anything rests on it.",
        ),
        "load-in-doubt": (
            "{n:run} may have run at another load: {strays:loads}.",
            "Their scar lies far from their own oil's at this load and among its scars at the other; check "
            "the weights and whether a plate was added.",
        ),
        "outlier": (
            "standing out from the other runs of the cell: {outliers:outliers}.",
            "Found by Grubbs's test on logarithms, from 15 runs of a cell on by the generalised extreme "
            f"studentised deviate, at 5 % over all cells. Flagged only: {_SPARE} Look for a cause; without "
            "one it belongs to the spread.",
        ),
        "factor-of-the-bench": (
            "at {at:all_loads}, {oil} and {reference} have no {factor} in common ({levels:levels}).",
            "A difference between the two may be one between {factor:plural}.",
        ),
        "factor-of-the-user": (
            "at {at:all_loads}, {oil} and {reference} have no {factor} in common ({levels:levels}).",
            "A difference between the two may come from the {factor}, unless it is part of the lubricant "
            "itself.",
        ),
        "factor-partly": (
            "the {factor} goes partly with the lubricant, {oil} against {reference}: Cramér's V = "
            "{cramers_v:.2f}; to allow for it would make the variance of the comparison "
            "{variance_inflation:two} times as large (by lot p = {p:two}).",
            _PARTLY,
        ),
        "factor-partly-inseparable": (
            "the {factor} goes partly with the lubricant, {oil} against {reference}: Cramér's V = "
            "{cramers_v:.2f} (by lot p = {p:two}).",
            _PARTLY,
        ),
        "room-temperature": (
            "{oil} was run in a room {difference:size} K {difference:warmer} than {reference} on average.",
            "The viscosity at the start is another in a warmer or colder room, so the room may explain part "
            "of a difference.",
        ),
        "room-humidity": (
            "{oil} was run in a room {difference:percent} % of relative humidity {difference:damper} than "
            "{reference} on average.",
            "Damp air changes how steel wears and rusts, so the room may explain part of a difference.",
        ),
        "order-unknown": (
            "the time of the runs was not recorded.",
            "Whether the order of the runs favoured a lubricant cannot be told.",
        ),
        "order-confounded": (
            "{oil} ran {score:late} among the runs of the day at its load, over {days:day} together "
            "({exact:exact} permutation test, p = {p:.2g}).",
            "Warming of the rig or wear of the ring through the day may pass for a difference between "
            "lubricants.",
        ),
        "rig-out-of-control": (
            "the rig was out of control on {days:dates}{checks:checks}: {oil} at {load:load}, {seen:list} of "
            "its control chart.",
            "The campaign's days fall into that time. Ratios to the reference run on the same days still "
            "hold where both oils met the same rig; absolute values and limits on them are in doubt.",
        ),
        "rig-without-dates": (f"{_UNKNOWN_RIG} the runs of this campaign have no dates.", _SHOWN_UNSURE),
        "rig-not-charted": (
            f"{_UNKNOWN_RIG} its reference-oil checks cannot be charted ({{error}}).",
            _SHOWN_UNSURE,
        ),
        "rig-checked-far-off": (
            f"{_UNKNOWN_RIG} the nearest check of {{oil}} lies more than 45 days from its runs.",
            _SHOWN_UNSURE,
        ),
    }
)
"""What was found, and what it does to the conclusion, by the finding's text."""


def finding_sentences(text: str, values: Mapping[str, Any]) -> tuple[str, str]:
    """Say what was found, and what it does to the conclusion.

    Examples
    --------
    >>> finding_sentences("dose-throughout", {"oil": "C", "reference": "R", "dose": 3e-6,
    ...                   "dose_of_reference": 2e-6})[0]
    'C was dosed with 3 mL, R with 2 mL.'
    """
    words = _Words()
    message, effect = (words.vformat(part, (), values) for part in TEXTS[text])
    return sentence(message), effect


class _Words(Formatter):
    """Puts values into a text: by the words named behind the colon, else as Python formats them."""

    def format_field(self, value: Any, format_spec: str) -> str:
        say = _SAID.get(format_spec)
        return str(format(value, format_spec)) if say is None else say(value)


def _cell(oil: str, load: float) -> str:
    return f"{oil} at {load_text(load)}"


def _millilitres(amount: float) -> str:
    return f"{to_shown(amount, 'mL'):.3g}"


def _first(notes: Sequence[str]) -> str:
    return f"{'; '.join(notes[:3])}{'; ...' if len(notes) > 3 else ''}"


def _scars(n: int) -> str:
    return f"{counted(n, 'scar')} {'was' if n == 1 else 'were'}"


def _histories(parts: Sequence[tuple[bool, str, Sequence[tuple[str, float]]]]) -> str:
    """Say of oils whether all of their runs, or none, had the load raised; the reference the other way."""
    return "; ".join(
        f"{'all runs' if raised else 'no run'} of {listing([_cell(*one) for one in cells])} had the load "
        f"raised while running, {'none' if raised else 'all'} of {reference} there"
        for raised, reference, cells in parts
    )


def _plural(word: str) -> str:
    if word.endswith(("ch", "sh", "s", "x")):
        return f"{word}es"
    return f"{word[:-1]}ies" if word.endswith("y") and word[-2:-1] not in "aeiou" else f"{word}s"


def _checks(around: Sequence[str | None]) -> str:
    before, after = (None if day is None else date_range([day]) for day in around)
    parts = [f"after the good check of {before}"] if before else []
    parts += [f"before {'that' if before else 'the good check'} of {after}"] if after else []
    return f", {' and '.join(parts)}" if parts else ""


_SAID: Mapping[str, Callable[[Any], str]] = MappingProxyType(
    {
        "load": load_text,
        "all_loads": lambda loads: " and ".join(load_text(load) for load in loads),
        "list": listing,
        "run": lambda n: counted(n, "run"),
        "day": lambda n: counted(n, "day"),
        "scars": _scars,
        "dates": date_range,
        "checks": _checks,
        "first": _first,
        "mL": _millilitres,
        "mLs": lambda amounts: listing(sorted({_millilitres(amount) for amount in amounts})),
        "plural": _plural,
        "two": lambda value: significant(value, 2),
        "fixed": lambda value: fixed(value, 2),
        "size": lambda value: f"{abs(value):.2g}",
        "percent": lambda value: f"{100.0 * abs(value):.2g}",
        "grew": lambda value: "grew" if value > 0 else "shrank",
        "late": lambda value: "late" if value > 0 else "early",
        "warmer": lambda value: "warmer" if value > 0 else "colder",
        "damper": lambda value: "damper" if value > 0 else "drier",
        "exact": lambda exact: "exact" if exact else "simulated",
        "histories": _histories,
        "cells": lambda cells: listing([_cell(*one) for one in cells]),
        "sizes": lambda cells: listing([f"{_cell(oil, load)} ({n})" for oil, load, n in cells]),
        "excluded": lambda runs: listing([f"{run} ({oil}: {reason})" for run, oil, reason in runs]),
        "runs": lambda runs: listing([f"{run} ({_cell(oil, load)})" for run, oil, load in runs]),
        "labels": lambda runs: listing(
            [f"{run} ({oil}) looks like {' or '.join(oils)}" for run, oil, oils in runs]
        ),
        "loads": lambda runs: listing(
            [f"{run} ({_cell(oil, load)}) looks like {load_text(other)}" for run, oil, load, other in runs]
        ),
        "outliers": lambda runs: listing(
            [
                f"{response.replace('_', ' ')} of {run} ({_cell(oil, load)})"
                for run, response, oil, load in runs
            ]
        ),
        "levels": lambda levels: "; ".join(f"{name}: {', '.join(own)}" for name, own in levels),
    }
)
"""How a value is put into words, by what stands behind the colon."""


class Weight(StrEnum):
    """How much a finding weighs on the comparison."""

    NOTE = "note"
    CAUTION = "caution"
    BLOCKS = "blocks"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something about how the runs were made that bears on what they can show.

    Attributes
    ----------
    id : str
        Stable name of the check.
    severity : Weight
        A blocking finding stops the comparison from being called like for like.
    values : mapping of str to object
        Its numbers and names, SI units, plain JSON types.
    runs : tuple of str
        The runs concerned; empty where all are.
    spares : tuple of str
        Responses whose comparisons a blocking finding does not stop.
    text : str
        Key of its sentences in `pinscar.decision.finding`; the id where not given.
    """

    id: str
    severity: Weight
    values: Mapping[str, Any] = field(default_factory=dict, hash=False)
    runs: tuple[str, ...] = ()
    spares: tuple[str, ...] = ()
    text: str = ""

    @property
    def message(self) -> str:
        """What was found, one plain sentence."""
        return finding_sentences(self.text or self.id, self.values)[0]

    @property
    def effect(self) -> str:
        """What it does to the conclusion, one plain sentence."""
        return finding_sentences(self.text or self.id, self.values)[1]
