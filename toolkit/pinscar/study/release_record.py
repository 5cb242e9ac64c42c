"""What the cells of the release record call: the pages on which a release is decided."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from pinscar.campaign_report import openers
from pinscar.campaign_report.laboratory_words import day, running_number
from pinscar.campaign_report.provenance import inputs_by_folder
from pinscar.campaign_report.setting import claims_table
from pinscar.decision import words
from pinscar.decision.finding import Finding, Weight
from pinscar.decision.record import Analysis
from pinscar.decision.results import results
from pinscar.decision.runs import run_days, when_run
from pinscar.decision.untested import untested
from pinscar.page.cell import as_html
from pinscar.page.markup import Markup, bullet_list, finding, paragraph, table, tag, verdict
from pinscar.press.results import publish_results
from pinscar.study.release_decision import DECISIONS, Decided, read_decision
from pinscar.wording import counted, sentence

if TYPE_CHECKING:
    from collections.abc import Sequence

    from IPython.display import HTML

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
