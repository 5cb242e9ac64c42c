"""What a report is about: one campaign, several together, or a plan; the template's parameters tell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from pinscar.campaign.quantities import FieldError
from pinscar.campaign.report_section import PAPERS, language_text, paper_text
from pinscar.errors import InputError, Problem, UsageError
from pinscar.press.inputs import _names, input_hashes, input_stamps, reads_of, sources_of
from pinscar.shipped import OWN, languages

if TYPE_CHECKING:
    from pinscar.campaign.model import Campaign
    from pinscar.campaign.report_section import ReportSection
    from pinscar.press.handover import Read


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """What a report is about.

    Attributes
    ----------
    id : str
        Printed over the title.
    title : str
        Title of the page, unless the template has a heading of its own.
    inputs : mapping
        SHA-256 of each file read, by path relative to the folder that the template runs in.
    problems : tuple of Problem
        Warnings.
    mark : str
        What every page carries where the data are not real (`pinscar.page.cautions`); else blank.
    sources : mapping
        Files that travel inside the PDF: by name there, path relative to the folder and description.
    paper : str
        The paper that the PDF is set on, a word of CSS.
    language : str
        The language of the pages.
    """

    id: str
    title: str
    inputs: Mapping[str, str]
    problems: tuple[Problem, ...]
    mark: str
    sources: Mapping[str, tuple[str, str]]
    paper: str = "A4"
    language: str = OWN


def read_inputs(folder: Path, parameters: Mapping[str, object]) -> Read:
    """Hash and read what a report is about, each file once."""
    from pinscar.press.handover import Read

    reads, inputs = reads_of(parameters), input_hashes(folder, parameters)
    stamps = input_stamps(folder, inputs)
    if reads == "campaign":
        from pinscar.decision.check import check_all

        campaign, problems = check_all(folder, inputs)
        if campaign is None:
            raise InputError(problems)
        return Read(inputs, stamps, {".": campaign})
    pilot = parameters.get("pilot")
    names = _names(parameters["folders"]) if reads == "campaigns" else [pilot] if pilot else []
    campaigns = read_several(folder, [str(name) for name in names], inputs)
    return Read(
        inputs,
        stamps,
        {Path(str(name)).as_posix(): one for name, one in zip(names, campaigns, strict=True)},
    )


def subject_of(read: Read, folder: Path, parameters: Mapping[str, object], title: str) -> Subject:
    """Say what a report is about."""
    from pinscar.page.cautions import data_mark

    reads, found, inputs = reads_of(parameters), list(read.campaigns.values()), read.inputs
    if reads == "campaigns":
        ids = [one.file.campaign.id for one in found]
        problems = tuple(p for name, one in read.campaigns.items() for p in _placed(name, one.problems))
        return Subject(
            id=_joined(ids),
            title=title,
            inputs=inputs,
            problems=problems,
            mark=data_mark(found),
            sources=sources_of(inputs),
        )
    if reads == "plan":
        from pinscar.campaign.campaign import read_settings

        section = read_settings(folder).campaign
        name, mark = f"{section.title or section.id}: {title}", data_mark(found, [section.title])
        return Subject(
            id=section.id, title=name, inputs=inputs, problems=(), mark=mark, sources=sources_of(inputs)
        )
    (campaign,) = found
    section = campaign.file.campaign
    name, mark = section.title or section.id, data_mark([campaign])
    paper = paper_of(parameters, campaign.file.report)
    language = language_of(parameters, campaign.file.report)
    return Subject(
        id=section.id,
        title=name,
        inputs=inputs,
        problems=campaign.problems,
        mark=mark,
        sources=sources_of(inputs),
        paper=paper,
        language=language,
    )


def paper_of(parameters: Mapping[str, object], report: ReportSection | None) -> str:
    """Choose the paper: as the parameter says, else as campaign.toml, else A4.

    Examples
    --------
    >>> paper_of({"paper": "Letter"}, None), paper_of({"paper": None}, None)
    ('letter', 'A4')
    """
    asked = parameters.get("paper")
    if asked is None:
        return "A4" if report is None or report.paper is None else report.paper
    try:
        return paper_text(asked)
    except FieldError:
        raise UsageError(f"paper must be {' or '.join(PAPERS)}, not {asked!r}") from None


def language_of(parameters: Mapping[str, object], report: ReportSection | None) -> str:
    """Choose the language: as the parameter says, else as campaign.toml, else English.

    Only a template that has the parameter comes in other languages.

    Examples
    --------
    >>> language_of({"language": "de"}, None), language_of({"language": None}, None)
    ('de', 'en')
    """
    asked = parameters.get("language")
    if asked is None:
        said = "language" in parameters and report is not None
        return (report.language if said and report is not None else None) or OWN
    try:
        return language_text(asked)
    except FieldError:
        raise UsageError(f"language must be {' or '.join(languages())}, not {asked!r}") from None


def read_one(folder: Path) -> Campaign:
    """Read the campaign that a template is about; in a report's kernel, take the one that was read for it."""
    from pinscar.campaign.campaign import read_campaign
    from pinscar.press.handover import campaign_handed_over

    return campaign_handed_over(folder) or read_campaign(folder)


def read_several(
    folder: Path, names: Sequence[str], hashes: Mapping[str, str] | None = None
) -> list[Campaign]:
    """Read several campaigns and collect the problems of all.

    In a report's kernel, take those read for it.
    """
    from pinscar.campaign.folder import hashes_below
    from pinscar.decision.check import check_all
    from pinscar.press.handover import campaign_handed_over

    found, wrong = [], []
    for name in names:
        handed = campaign_handed_over(folder / name)
        known = None if hashes is None else hashes_below(hashes, name)
        campaign, problems = (handed, []) if handed is not None else check_all(folder / name, known)
        if campaign is None:
            wrong += _placed(name, problems)
        else:
            found.append(campaign)
    if wrong:
        raise InputError(wrong)
    return found


def _placed(name: str, problems: Sequence[Problem]) -> list[Problem]:
    return [
        replace(one, file=name if one.code == "folder-missing" else f"{name}/{one.file}") for one in problems
    ]


def _joined(ids: Sequence[str]) -> str:
    return ids[0] if len(ids) == 1 else f"{ids[0]} and {len(ids) - 1} more"
