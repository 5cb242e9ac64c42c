"""What `pinscar doctor` looks at: whether this machine has all that a report needs, with the mend where not.

The packages that pinscar asks for are compared with those that are installed.
"""

from __future__ import annotations

import shutil
import tempfile
import tomllib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from importlib import metadata
from pathlib import Path
from typing import Any

from packaging.requirements import Requirement

from pinscar.errors import PinscarError
from pinscar.shipped import PACKAGE
from pinscar.shown import to_shown


@dataclass(frozen=True, slots=True)
class Unmet:
    """A package that is not as pinscar asks for.

    Attributes
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
    """List the packages that pinscar asks for on this system, those for its tests left out."""
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


AGAIN = "install pinscar again: pip install --force-reinstall pinscar"
NOTEBOOKS = ("jupyterlab", "ipywidgets")
"""Packages that the notebooks need besides those of a report."""
PROBE = "assert 1 + 1 == 2"


@dataclass(frozen=True, slots=True)
class Checked:
    """One thing that was looked at.

    Attributes
    ----------
    name : str
        What it is.
    ok : bool
        Whether it is as it should be.
    found : str
        What was found.
    mend : str
        What to do where it is not; empty where nothing is to be done.
    """

    name: str
    ok: bool
    found: str
    mend: str = ""

    def __str__(self) -> str:
        mend = f"; {self.mend}" if self.mend else ""
        return f"{'ok' if self.ok else 'missing'}: {self.name}: {self.found}{mend}"

    def as_dict(self) -> dict[str, Any]:
        """Return the record for ``--json``."""
        return asdict(self)


def examine(folder: Path) -> Iterator[Checked]:
    """Look at everything that a report needs, the slowest last."""
    yield from packages()
    yield bounds()
    yield shipped_files()
    yield fonts()
    yield pango()
    yield room(folder)
    yield room(Path(tempfile.gettempdir()))
    yield kernel()


def packages() -> Iterator[Checked]:
    """Look for the packages, with their versions."""
    from importlib import metadata

    from pinscar.press.manifest import package_versions

    versions = package_versions()
    for name in NOTEBOOKS:
        try:
            versions[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            versions[name] = "not installed"
    for name, version in versions.items():
        there = version != "not installed"
        yield Checked(name, there, version, "" if there else f"pip install {name}")


def bounds() -> Checked:
    """Compare the installed versions with those that pinscar asks for."""
    requirements = asked_for()
    if requirements is None:
        mend = "install it: pip install pinscar, or in a checkout: pip install -e ."
        return Checked(
            "versions", False, "pinscar is not installed as a package, so its requirements are unknown", mend
        )
    wrong = unmet(requirements)
    if not wrong:
        return Checked("versions", True, f"all {len(requirements)} packages meet pinscar's requirements")
    mend = f"pip install --upgrade {' '.join(repr(str(one.wanted)) for one in wrong)}"
    return Checked("versions", False, ", ".join(str(one) for one in wrong), mend)


def shipped_files() -> Checked:
    """Look for the templates and demo campaigns."""
    from pinscar.bench.prepare import demo_names
    from pinscar.shipped import template_names

    try:
        found = f"{len(template_names())} templates, {len(demo_names())} demo campaigns"
    except PinscarError as error:
        return Checked("shipped files", False, str(error), AGAIN)
    return Checked("shipped files", True, found)


def fonts() -> Checked:
    """Look for the files of the report's face, and let matplotlib read them."""
    from pinscar.page import fonts as face

    lost = [
        file.name
        for style in face.STYLES
        for file in (style.file("ttf"), style.file("woff2"))
        if not file.is_file()
    ]
    if lost:
        return Checked("fonts", False, f"no {', '.join(lost)}", AGAIN)
    try:
        return Checked("fonts", True, face.register_with_matplotlib())
    except (OSError, RuntimeError) as error:
        return Checked("fonts", False, f"cannot be read ({error})", AGAIN)


def pango() -> Checked:
    """Look for the libraries that set the PDF."""
    from pinscar.page.pdf import require_pango
    from pinscar.press.manifest import library_versions

    try:
        require_pango()
    except PinscarError as error:
        return Checked("Pango", False, str(error))
    return Checked("Pango", True, ", ".join(f"{name} {found}" for name, found in library_versions().items()))


def room(folder: Path) -> Checked:
    """Look for free room, and whether a file can be written."""
    from pinscar.press.files import check_room

    name = f"room in {folder}"
    try:
        check_room(folder)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except PinscarError as error:
        return Checked(name, False, str(error), "free some room, or write elsewhere with --out")
    except OSError as error:
        said = (error.strerror or str(error)).lower()
        return Checked(
            name, False, f"cannot be written ({said})", "choose another folder, or change its permissions"
        )
    return Checked(name, True, f"{to_shown(float(shutil.disk_usage(folder).free), 'GB'):.1f} GB free")


def kernel(run: Callable[[Path], None] | None = None) -> Checked:
    """Start a kernel as a report does, and run a cell in it."""
    from pinscar.press.private_folder import PrivateFolder

    mend = (
        "make sure that new processes may start, and install again: pip install --force-reinstall ipykernel"
    )
    try:
        with PrivateFolder() as private:
            (run or run_probe)(private)
    except Exception as error:  # whatever it is, the doctor has to tell it
        return Checked("kernel", False, f"does not start ({' '.join(str(error).split())})", mend)
    return Checked("kernel", True, "starts and runs a cell")


def run_probe(private: Path) -> None:
    """Run one cell in a kernel of a report's kind."""
    from nbformat import v4

    from pinscar.child import Child, child_environment
    from pinscar.press.execute import run_template

    parent = Child(
        "pinscar.press.kernel_parent",
        environment=child_environment(private),
        folder=private,
        log=private / "log",
        leader=True,
    )
    try:
        notebook = v4.new_notebook(cells=[v4.new_code_cell(PROBE, id="probe")])
        run_template(
            notebook, "doctor", {}, folder=private, kernel_parent=parent, private=private, timeout=60.0
        )
    finally:
        parent.end()
