"""One record for everything that can be wrong with an input, and the one text made from it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a problem weighs: an error stops the report, a warning is printed in it."""

    ERROR = "error"
    WARNING = "warning"


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong, where, what was found there and how to mend it.

    Parameters
    ----------
    code : str
        Stable identifier in kebab-case, such as ``"unit-missing"``.
    severity : Severity
        Whether it stops the report.
    file : str
        Name of the file, relative to the campaign folder.
    message : str
        What is wrong, in one plain clause without a full stop.
    mend : str
        What to do about it, in one plain clause without a full stop.
    row : int, optional
        Row as a spreadsheet counts it (the header is row 1).
    column : str, optional
        Header of the column, or the dotted key in a TOML file.
    value : str, optional
        The value found, as it stands in the file.

    Examples
    --------
    >>> print(Problem("unit-missing", Severity.ERROR, "runs.csv", "the column needs a unit",
    ...               "write it as load [N]", row=1, column="load"))
    runs.csv, row 1, column load: the column needs a unit; write it as load [N]
    """

    code: str
    severity: Severity
    file: str
    message: str
    mend: str
    row: int | None = None
    column: str | None = None
    value: str | None = None

    def __str__(self) -> str:
        place = [self.file]
        if self.row is not None:
            place.append(f"row {self.row}")
        if self.column is not None:
            place.append(f"column {self.column}" if self.file.endswith((".csv", ".xlsx")) else self.column)
        found = "" if self.value is None else f" (found {self.value!r})"
        return f"{', '.join(place)}: {self.message}{found}; {self.mend}"

    def as_dict(self) -> dict[str, str | int | None]:
        """Return the record as plain JSON types, for ``--json`` and for results.

        Returns
        -------
        dict
            The fields by name.

        Examples
        --------
        >>> Problem("x", Severity.WARNING, "runs.csv", "m", "n").as_dict()["severity"]
        'warning'
        """
        return asdict(self) | {"severity": str(self.severity)}
