"""What a report still lacks that is issued to a customer: each item with its clause and the line to write.

The clauses are those of ISO/IEC 17025:2017, section 7.8, numbered from memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pinscar.campaign.model import CampaignFile, Lubricant
from pinscar.campaign.record import Campaign
from pinscar.campaign.report_section import ReportSection, Sample


@dataclass(frozen=True, slots=True)
class Missing:
    """Something that an issued report must say, and this campaign does not.

    Attributes
    ----------
    what : str
        What is missing, in a few words.
    clause : str
        The clause that asks for it, from memory.
    place : str
        The file and the section or column where it goes.
    mend : str
        What to write there.
    """

    what: str
    clause: str
    place: str
    mend: str

    def __str__(self) -> str:
        return f"missing in {self.place}: {self.what} (7.8.{self.clause}); {self.mend}"


_KEYS: tuple[tuple[str, str, str, str], ...] = (
    ("laboratory", "the laboratory", "2.1 b", 'laboratory = "..."'),
    ("address", "its address", "2.1 b", 'address = ["street", "town"]'),
    ("place", "the place of the tests", "2.1 c", 'place = "at the laboratory, bench 2"'),
    ("number", "the report's number", "2.1 d", 'number = "2026-014"'),
    ("customer", "the customer with an address", "2.1 e", 'customer = ["name", "street", "town"]'),
    ("method", "the method", "2.1 f", 'method = { document = "...", edition = "..." }'),
    ("issued", "the date of issue", "2.1 j", "issued = 2026-04-24"),
    ("sampling", "who took the samples, and how", "2.1 k", 'sampling = "by the customer"'),
    ("deviations", "how the runs departed from the method", "2.1 n", "deviations = [] if they did not"),
    ("approver", "who authorises the report", "2.1 o", 'approver = "name, function"'),
    ("external", "which results come from others", "2.1 p", "external = [] if none do"),
    ("supplied_by_customer", "what the customer supplied", "2.2", "supplied_by_customer = [] if nothing"),
)


def missing_for_issue(campaign: Campaign) -> list[Missing]:
    """List what is missing for a report that is issued to a customer."""
    file = campaign.file
    return [
        *_of_report(file.report or ReportSection()),
        *(one for oil in _tested(campaign) for one in _of_sample(oil)),
        *_of_runs(campaign),
        *_of_rig(file),
    ]


def _of_report(report: ReportSection) -> Iterator[Missing]:
    for key, what, clause, example in _KEYS:
        if getattr(report, key) is None:
            yield Missing(what, clause, "campaign.toml, [report]", f"add {example}")
    method = report.method
    for key, what in (("document", "the document of the method"), ("edition", "the edition of the method")):
        if method is not None and getattr(method, key) is None:
            yield Missing(what, "2.1 f", "campaign.toml, [report.method]", f'add {key} = "..."')
    if report.customer is not None and len(report.customer) < 2:
        yield Missing(
            "how to reach the customer", "2.1 e", "campaign.toml, [report]", "add a line to customer"
        )
    if report.revision not in (None, "0", "1") and report.replaces is None:
        what = f"which report revision {report.revision} replaces"
        yield Missing(what, "8.3", "campaign.toml, [report]", 'add replaces = "..."')
    if report.replaces is not None and report.reason is None:
        yield Missing("what was changed, and why", "8.1", "campaign.toml, [report]", 'add reason = "..."')


def _tested(campaign: Campaign) -> list[Lubricant]:
    """List the oils that were run, those that campaign.toml does not declare too."""
    declared = {one.id: one for one in campaign.file.lubricants}
    included = campaign.runs[campaign.runs["excluded"] == ""]
    return [declared.get(name) or Lubricant(id=name) for name in dict.fromkeys(included["lubricant"])]


def _of_sample(oil: Lubricant) -> Iterator[Missing]:
    sample = oil.sample or Sample()
    place = f"campaign.toml, sample of {oil.id}"
    if sample.description is None:
        yield Missing("a description", "2.1 g", place, 'add description = "..."')
    if sample.batch is None and oil.batch is None:
        yield Missing("the batch", "2.1 g", place, 'add batch = "..."')
    if sample.condition is None:
        yield Missing("the condition on receipt", "2.1 g", place, 'add condition = "sealed can, clear"')
    if sample.received is None:
        yield Missing("the day of receipt", "2.1 h", place, "add received = 2026-04-10")


def _of_runs(campaign: Campaign) -> Iterator[Missing]:
    runs = campaign.runs[campaign.runs["excluded"] == ""]
    undated = int((runs["run_day"] == "").sum())
    if undated:
        yield Missing(f"the day of {undated} runs", "2.1 i", "the table of runs, run_at", "fill it in")
    said = campaign.file.report is not None and campaign.file.report.environment is not None
    if not said and bool(runs["ambient_temperature"].isna().any()):
        mend = 'fill it in, or add environment = "..." to [report]'
        yield Missing(
            "the ambient temperature of every run", "3.1 a", "the table of runs, ambient_temperature", mend
        )


def _of_rig(file: CampaignFile) -> Iterator[Missing]:
    for key, example in (("load_uncertainty", '"1 %"'), ("reading_uncertainty", '"0.03 mm"')):
        if getattr(file.rig, key) is None:
            what = f"the {key.replace('_', ' ')}"
            yield Missing(what, "3.1 c", "campaign.toml, [rig]", f"add {key} = {example}")
