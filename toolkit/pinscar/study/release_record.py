"""The release record: the decision typed for it, and what its cells call."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from pinscar.campaign.codes import nearest
from pinscar.campaign.quantities import FieldError
from pinscar.campaign.report_section import day as date_of
from pinscar.campaign.report_section import line
from pinscar.campaign_report import openers
from pinscar.campaign_report.laboratory import day, running_number
from pinscar.campaign_report.setting import claims_table, inputs_by_folder
from pinscar.decision import words
from pinscar.decision.finding import Finding, Weight
from pinscar.decision.record import Analysis
from pinscar.decision.results import results
from pinscar.decision.runs import run_days, when_run
from pinscar.decision.untested import untested
from pinscar.errors import UsageError
from pinscar.page.markup import bullet_list, finding, paragraph, table, tag, verdict
from pinscar.page.outline import as_html
from pinscar.press.results import publish_results
from pinscar.wording import counted, sentence

if TYPE_CHECKING:
    from IPython.display import HTML


DECISIONS: Mapping[str, str] = MappingProxyType(
    {"release": "Release", "conditional": "Release under the conditions below", "reject": "Reject"}
)
"""The decisions that a record may hold, each with the words beside its box."""
MOST_SIGNERS = 8
NO_APPROVER = 'a decision needs a named approver: add -p approver="...", or leave the decision blank'
NO_CONDITIONS = 'a conditional release needs its conditions: add -p remarks="..."'


@dataclass(frozen=True, slots=True)
class Signer:
    """One line to sign on.

    Attributes
    ----------
    role : str
        What the person signs as.
    name : str
        Name as typed; blank where it is left open.
    date : datetime.date or None
        Date as typed.
    """

    role: str
    name: str = ""
    date: dt.date | None = None


@dataclass(frozen=True, slots=True)
class Decided:
    """What stands on a release record where people sign.

    Attributes
    ----------
    decision : str
        A key of `DECISIONS`; blank where it is left to be ticked by hand.
    remarks : str
        Conditions and remarks.
    signers : tuple of Signer
        Author, approver and further ones.
    """

    decision: str
    remarks: str
    signers: tuple[Signer, ...]

    @property
    def is_typed(self) -> bool:
        """Whether anything was typed in."""
        return bool(self.decision or any(one.name for one in self.signers))

    def as_dict(self) -> dict[str, Any]:
        """Return the record for results.json."""
        return {
            "decision": self.decision or None,
            "remarks": self.remarks or None,
            "signers": [
                {
                    "role": one.role,
                    "name": one.name or None,
                    "date": None if one.date is None else one.date.isoformat(),
                }
                for one in self.signers
            ],
        }


def read_decision(
    *,
    decision: str = "",
    remarks: str = "",
    author: str = "",
    author_date: str = "",
    approver: str = "",
    approver_date: str = "",
    signers: Sequence[str] = (),
    last_run: dt.date | None = None,
) -> Decided:
    """Read what was typed for a record.

    Examples
    --------
    >>> read_decision(decision="release", approver="C. D.", approver_date="24.04.2026").signers[1].date
    datetime.date(2026, 4, 24)
    """
    word = decision.strip().casefold()
    if word and word not in DECISIONS:
        near = nearest(word, list(DECISIONS), 0.5)
        hint = f"; did you mean {near}?" if near else ""
        raise UsageError(f"decision must be {', '.join(DECISIONS)} or blank, not {decision!r}{hint}")
    if word and not approver.strip():
        raise UsageError(NO_APPROVER)
    if word == "conditional" and not remarks.strip():
        raise UsageError(NO_CONDITIONS)
    if len(signers) > MOST_SIGNERS:
        raise UsageError(f"a record has room for {MOST_SIGNERS} further signers, not {len(signers)}")
    return Decided(
        word,
        remarks.strip(),
        (
            _signer("Author", author, author_date, "author_date", last_run),
            _signer("Approver", approver, approver_date, "approver_date", last_run),
            *[_further(text, last_run) for text in signers],
        ),
    )


def _further(text: str, last_run: dt.date | None) -> Signer:
    """Read "role: name, date", of which name and date may be left out."""
    role, _, rest = text.partition(":")
    name, comma, end = rest.rpartition(",")
    dated = bool(comma) and any(one.isdigit() for one in end)
    if not role.strip():
        raise UsageError(f'write a signer as "role: name, date" or as "role", not {text!r}')
    return _signer(role, name if dated else rest, end if dated else "", f"signers, {role.strip()}", last_run)


def _signer(role: str, name: str, date: str, where: str, last_run: dt.date | None) -> Signer:
    try:
        role = line(40)(role)
        name = line(80)(name) if name.strip() else ""
        read = date_of(date) if date.strip() else None
    except FieldError as wrong:
        raise UsageError(f"{where}: {wrong.message} (found {date or name!r}); {wrong.mend}") from None
    if read is not None and last_run is not None and read < last_run:
        message = f"{where}: {read.isoformat()} is before the last run, {last_run.isoformat()}"
        raise UsageError(f"{message}; nobody can have signed before it")
    return Signer(role, name, read)


BLANKS = ("Name", "Date", "Signature")
TYPED = " A name typed here is not a signature."
WHO_DECIDES = (
    "Local rules, and a qualified person who has read the whole report, decide; this record is evidence, not "
    "permission."
)
NO_PERMISSION = (
    "That the data support a sentence is not permission to print it: a qualified person reviews every public "
    "claim, under the local rules on advertising."
)


def front(analysis: Analysis) -> HTML:
    """Show the question and the verdict."""
    settings = analysis.campaign.file.campaign
    parts: list[str] = [
        Markup("<h1>Release record</h1>"),
        Markup('<p class="record">{} <span class="nowrap">({})</span></p>').format(
            settings.title or settings.id, when_run(analysis.included)
        ),
    ]
    if settings.question:
        parts.append(paragraph(settings.question, "lead"))
    report = analysis.campaign.file.report
    if report is not None and report.number is not None:
        issued = f", issued {day(report.issued)}" if report.issued else ""
        parts.append(
            paragraph(f"Belongs to {running_number(report).replace('T', 't', 1)}{issued}.", "record")
        )
    if analysis.verdict is None:
        parts.append(finding("The campaign states no release limits, so there is no verdict."))
    else:
        parts.append(verdict(str(analysis.verdict), openers.verdict_sentence(analysis)))
    parts.append(paragraph(" ".join(openers.answer_sentences(analysis))))
    return as_html(parts)


def limits(analysis: Analysis) -> HTML:
    """Show every release limit with its verdict and the reason."""
    if not analysis.criteria:
        return as_html([finding("There is no limit to judge.")])
    rows = [
        [r.criterion.id, tag(str(r.verdict)), sentence(words.requirement(r)), sentence(words.because(r))]
        for r in analysis.criteria
    ]
    return as_html(
        [
            table(
                ["Limit", "Verdict", "Required", "Because"],
                rows,
                caption="Release limits, verdicts and reasons",
                key="criteria",
            )
        ]
    )


def audit(analysis: Analysis) -> HTML:
    """Show what the fairness audit found, the gravest first; notes are counted only."""
    grave = [f for f in analysis.findings if f.severity is not Weight.NOTE]
    parts: list[str] = [finding(openers.fairness(analysis, pictures=False))]
    if grave:
        rows = [[tag(str(f.severity), _weight(f)), _message(f), _runs(f)] for f in grave]
        parts.append(
            table(
                ["Weight", "Finding", "Runs"],
                rows,
                caption="Blocking findings and cautions",
                key="audit",
                row_heads=False,
                long=True,
            )
        )
    return as_html(parts)


def claims(analysis: Analysis) -> HTML:
    """Show the claims with what the data say of them."""
    if not analysis.claims:
        return as_html([finding("The campaign states no claims, so none was judged.")])
    caution = paragraph(NO_PERMISSION)
    return as_html([finding(openers.claims(analysis)), claims_table(analysis), caution])


def not_tested(analysis: Analysis) -> HTML:
    """Show what the runs did not test."""
    return as_html([bullet_list(untested(analysis))])


def inputs(analysis: Analysis) -> HTML:
    """Show the digest of every input file, and one for each folder of recordings."""
    digests = inputs_by_folder(analysis.campaign.inputs)
    rows = [[name, Markup('<code class="hash">{}</code>').format(digest)] for name, digest in digests.items()]
    note = (
        "The number at the foot of each page is the beginning of the digest in manifest.json, which "
        "covers these files and all versions; pinscar verify checks both."
    )
    if any("/ (" in name for name in digests):
        note = f"{note} For a folder: SHA-256 of its file-hash list (sha256sum)."
    return as_html(
        [
            table(
                ["File", "SHA-256"],
                rows,
                caption="The files that this record rests on",
                key="inputs",
                note=note,
            )
        ]
    )


def decided(analysis: Analysis, **typed: Any) -> Decided:
    """Read what was typed for the record; no date may be before the last run."""
    days = run_days(analysis.included)
    return read_decision(**typed, last_run=dt.date.fromisoformat(days[-1]) if days else None)


def signatures(analysis: Analysis, said: Decided) -> HTML:
    """Show the decision to tick and the lines to sign on, as typed; the signature is always blank."""
    boxes = Markup("").join(_box(text, ticked=key == said.decision) for key, text in DECISIONS.items())
    cell = Markup('<td class="boxes" colspan="{}">{}</td>').format(len(BLANKS), boxes)
    written = _row("Decision", cell)
    written += _line("Conditions, remarks", [said.remarks], span=len(BLANKS))
    head = Markup("").join(Markup('<th scope="col">{}</th>').format(word) for word in ("Role", *BLANKS))
    rows = Markup("\n").join(
        _line(one.role, [one.name, "" if one.date is None else day(one.date), ""]) for one in said.signers
    )
    text = Markup(
        "<p>The verdict on {} follows from the runs and the limits as written. Whether that is enough is for "
        "those who sign. {}{}{}</p>"
    ).format(
        analysis.campaign.file.campaign.id,
        WHO_DECIDES,
        TYPED if said.is_typed else "",
        _departs(analysis, said),
    )
    return as_html(
        [
            Markup(
                '<div class="keep">{}<table class="signatures decision"><tbody>{}</tbody></table>'
                '<table class="signatures"><thead><tr>{}</tr></thead><tbody>{}</tbody></table></div>'
            ).format(text, written, head, rows)
        ]
    )


def _departs(analysis: Analysis, said: Decided) -> Markup:
    """Point out a release that the verdict does not carry."""
    if said.decision not in ("release", "conditional") or str(analysis.verdict) == "met":
        return Markup("")
    found = "there is none" if analysis.verdict is None else f"it is {str(analysis.verdict).capitalize()}"
    return Markup(" <strong>{}</strong>").format(
        f"The decision to release does not rest on the verdict ({found}): those who sign answer for it."
    )


def _box(said: str, *, ticked: bool) -> Markup:
    mark = "\N{MULTIPLICATION SIGN}" if ticked else ""
    state = "chosen" if ticked else "not chosen"
    return Markup(
        '<span class="choice"><span class="tick" role="img" aria-label="{}">{}</span> {}</span> '
    ).format(state, mark, said)


def _line(head: str, cells: Sequence[str], span: int = 1) -> Markup:
    wide = Markup(' colspan="{}"').format(span) if span > 1 else ""
    return _row(
        head, Markup("").join(Markup('<td class="blank"{}>{}</td>').format(wide, cell) for cell in cells)
    )


def _row(head: str, cells: Markup) -> Markup:
    return Markup('<tr><th scope="row">{}</th>{}</tr>').format(head, cells)


def publish(analysis: Analysis, said: Decided) -> None:
    """Hand the machine-readable results over, with what was decided beside them."""
    publish_results({**results(analysis, files=False), "release_record": said.as_dict()})


def _weight(found: Finding) -> str:
    return str(found.severity).capitalize()


def _message(found: Finding) -> Markup:
    if found.severity is Weight.BLOCKS:
        return Markup("<strong>{}</strong> {}").format(found.message, found.effect)
    return Markup("{}").format(found.message)


def _runs(found: Finding) -> str:
    if not found.runs:
        return "all"
    return ", ".join(found.runs) if len(found.runs) <= 2 else counted(len(found.runs), "run")
