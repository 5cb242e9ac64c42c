"""The packages that pinscar asks for, compared with those that are installed."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from importlib import metadata

from packaging.requirements import Requirement

from pinscar.report.shipped import PACKAGE


@dataclass(frozen=True, slots=True)
class Unmet:
    """A package that is not as pinscar asks for.

    Parameters
    ----------
    wanted : Requirement
        What is asked for.
    found : str
        Its version; empty where it is not installed.
    """

    wanted: Requirement
    found: str

    def __str__(self) -> str:
        state = f"{self.found} does not fit {self.wanted.specifier}" if self.found else "not installed"
        return f"{self.wanted.name} {state}"


def asked_for() -> list[Requirement] | None:
    """List the packages that pinscar asks for on this system, those for its tests left out.

    Returns
    -------
    list of Requirement or None
        From the installed package's metadata, or else from pyproject.toml of the checkout; None where neither
        is there.
    """
    checkout = PACKAGE.parents[1] / "pyproject.toml"
    is_installed = (PACKAGE / "_shipped").is_dir()
    # What a checkout says now counts: its installation's metadata may be older.
    if checkout.is_file() and not is_installed:
        stated = tomllib.loads(checkout.read_text(encoding="utf-8"))["project"]["dependencies"]
    else:
        try:
            stated = metadata.requires("pinscar") or []
        except metadata.PackageNotFoundError:
            return None
    found = [Requirement(one) for one in stated]
    return [one for one in found if one.marker is None or one.marker.evaluate({"extra": ""})]


def unmet(requirements: Sequence[Requirement]) -> list[Unmet]:
    """List the requirements that the installed packages do not meet.

    Parameters
    ----------
    requirements : sequence of Requirement
        What is asked for.

    Returns
    -------
    list of Unmet
        Those too old, otherwise unfit, or missing.

    Examples
    --------
    >>> [str(one) for one in unmet([Requirement("no-such-package>=1"), Requirement("packaging>=20")])]
    ['no-such-package not installed']
    """
    wrong = []
    for one in requirements:
        try:
            version = metadata.version(one.name)
        except metadata.PackageNotFoundError:
            version = ""
        if not version or not one.specifier.contains(version, prereleases=True):
            wrong.append(Unmet(one, version))
    return wrong
