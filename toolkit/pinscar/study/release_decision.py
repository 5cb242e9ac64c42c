"""What is typed for a release record: the decision, who signs, and dates that can be true."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from pinscar.campaign.codes import nearest
from pinscar.campaign.quantities import FieldError
from pinscar.campaign.report_section import day, line
from pinscar.errors import UsageError

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
        read = day(date) if date.strip() else None
    except FieldError as wrong:
        raise UsageError(f"{where}: {wrong.message} (found {date or name!r}); {wrong.mend}") from None
    if read is not None and last_run is not None and read < last_run:
        message = f"{where}: {read.isoformat()} is before the last run, {last_run.isoformat()}"
        raise UsageError(f"{message}; nobody can have signed before it")
    return Signer(role, name, read)
