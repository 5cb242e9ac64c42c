"""What lies in a campaign folder: tables, evidence, hashes, and names that are almost right.

Nothing in the folder may lead to a file outside it, by a link or by a path.
"""

from __future__ import annotations

import difflib
import hashlib
import os
import posixpath
import stat
import tomllib
from collections.abc import Collection, Iterator, Mapping, Sequence
from pathlib import Path, PurePosixPath, PureWindowsPath
from types import MappingProxyType
from typing import cast

from pinscar.campaign.codes import error, nearest, plain, too_large, warning
from pinscar.campaign.typed_dates import DOTS
from pinscar.errors import Problem, has_hidden

ROOT = "PINSCAR_ROOT"
"""The environment variable by which a person names a folder around several; ``--root`` sets it."""


def root_of(folder: Path) -> Path:
    """Return the folder that nothing of a campaign may lead out of: its own, or a named one around it."""
    own = folder.resolve()
    named = os.environ.get(ROOT)
    around = Path(named).resolve() if named else own
    return around if own.is_relative_to(around) else own


def is_outside(path: Path, root: Path) -> bool:
    """Tell whether a path leads out of a folder, through links too; a link in a circle leads nowhere."""
    try:
        return not path.resolve().is_relative_to(root)
    except (OSError, RuntimeError):
        return True


def is_absolute(name: str) -> bool:
    """Tell whether a path starts at the top of a file system, of this system or of another.

    Examples
    --------
    >>> [is_absolute(name) for name in ("/etc/runs.csv", "C:runs.csv", "sound/a.wav")]
    [True, True, False]
    """
    windows = PureWindowsPath(name)
    return PurePosixPath(name).is_absolute() or bool(windows.drive or windows.root)


def reach_problems(folder: Path, names: Sequence[str], kinds: Sequence[str]) -> Iterator[Problem]:
    """Find what is no plain file in the folder: links that lead out, pipes, devices."""
    root = root_of(folder)
    for name in names:
        yield from _of_file(folder / name, name, root)
    for kind in kinds:
        if is_outside(folder / kind, root):
            yield _leads_out(kind)
        elif (folder / kind).is_dir():
            for path in sorted((folder / kind).iterdir()):
                if has_hidden(path.name):
                    yield _strange_name(f"{kind}/{path.name}")
                elif not path.name.startswith((".", "~")) and not path.is_dir():
                    yield from _of_file(path, f"{kind}/{path.name}", root)


def _strange_name(name: str) -> Problem:
    message = "the name of this file has marks that cannot be seen, or bytes that are no UTF-8"
    return error("file-name", name, message, "rename it, in letters and figures")


def _of_file(path: Path, name: str, root: Path) -> Iterator[Problem]:
    if not os.path.lexists(path):
        return
    if is_outside(path, root):
        yield _leads_out(name)
        return
    try:
        mode = path.stat().st_mode
    except OSError:
        return  # a broken link or no permission: opening the file reports it
    if not (stat.S_ISREG(mode) or stat.S_ISDIR(mode)):
        message = "this is a pipe or a device and no file, and is not read"
        yield error("file-not-plain", name, message, "put a plain file in its place")


def _leads_out(name: str) -> Problem:
    message = "this is a link that leads out of the campaign folder, and it is not followed"
    mend = "copy what it leads to into the folder, or name a folder around both: --root"
    return error("link-outside", name, message, mend)


EVIDENCE: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "traces": (".csv", ".parquet"),
        "sound": (".wav", ".mp4", ".mov", ".m4a", ".webm", ".3gp", ".flac", ".ogg", ".mp3"),
        "micrographs": (".png", ".jpg", ".jpeg", ".tif", ".tiff", ".mp4", ".mov", ".webm", ".3gp"),
        "fling": (".png", ".jpg", ".jpeg", ".tif", ".tiff"),
    }
)
"""Evidence folders, each with the kinds of file it may hold."""

FILES = ("campaign.toml", "runs.csv", "runs.xlsx", "load_steps.csv", "readings.csv", "graticule.csv",
         "lubricants.csv", "lubricants.xlsx")  # fmt: skip
"""The files pinscar reads in a campaign folder."""

NOTES, PICTURES = "notes.md", "pictures"
"""The person's own text and the pictures that it shows, which the report prints in an appendix."""
PICTURE_KINDS = (".png", ".jpg", ".jpeg")


def runs_file(folder: Path) -> tuple[str | None, list[Problem]]:
    """Find the runs table.

    Examples
    --------
    >>> runs_file(Path("nowhere"))[1][0].code
    'file-missing'
    """
    there = [name for name in ("runs.csv", "runs.xlsx") if (folder / name).exists()]
    if len(there) == 2:
        mend = "keep one of the two, or move the other out of the folder"
        return None, [
            error(
                "file-twice", "runs.csv", "both runs.csv and runs.xlsx are there, and they may differ", mend
            )
        ]
    if not there:
        mend = (
            _near_file(folder, "runs")
            or "write one row per run into runs.csv (pinscar new makes one to fill in)"
        )
        return None, [error("file-missing", "runs.csv", "the table of runs is not there", mend)]
    return there[0], []


def _near_file(folder: Path, stem: str) -> str | None:
    names = sorted(path.name for path in folder.iterdir()) if folder.is_dir() else []
    for name in names:
        if plain(Path(name).stem) in {stem, stem.rstrip("s")} and name not in FILES:
            return f"save {name} as {stem}.csv"
    return None


def stray_names(folder: Path) -> list[Problem]:
    """Warn of files and folders whose names are almost those pinscar reads.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     _ = (Path(folder) / "loadsteps.csv").write_text("")
    ...     stray_names(Path(folder))[0].mend
    'rename it to load_steps.csv if it is meant'
    """
    stems = {plain(Path(name).stem): name for name in (*FILES[:2], *FILES[3:-1])}
    folders = {name: f"{name}/" for name in EVIDENCE}
    found = []
    for path in sorted(folder.iterdir()):
        if path.name in FILES or path.name in EVIDENCE or path.name.startswith((".", "~", "report")):
            continue
        wanted = folders if path.is_dir() else stems
        near = difflib.get_close_matches(plain(path.stem), wanted, n=1, cutoff=0.85)
        if near and (
            path.is_dir() or path.suffix.lower() in {".csv", ".xlsx", ".xls", ".ods", ".txt", ".tsv", ".toml"}
        ):
            mend = f"rename it to {wanted[near[0]]} if it is meant"
            if path.suffix.lower() not in {"", ".csv", ".toml"}:
                mend = f"save it as {wanted[near[0]]} if it is meant"
            found.append(warning("file-near-miss", path.name, "this is not read", mend))
    return found


def evidence_files(folder: Path) -> list[str]:
    """List the evidence files, as paths relative to the campaign folder.

    Examples
    --------
    >>> evidence_files(Path("nowhere"))
    []
    """
    root = root_of(folder)
    return [
        f"{name}/{path.name}"
        for name, kinds in EVIDENCE.items()
        if (folder / name).is_dir() and not is_outside(folder / name, root)
        for path in sorted((folder / name).iterdir())
        if path.is_file()
        and path.suffix.lower() in kinds
        and not path.name.startswith((".", "~"))
        and not (path.is_symlink() and is_outside(path, root))
    ]


def own_pictures(folder: Path) -> list[str]:
    """List the pictures that belong to the person's own text, as paths relative to the campaign folder.

    Examples
    --------
    >>> own_pictures(Path("nowhere"))
    []
    """
    root, place = root_of(folder), folder / PICTURES
    if not place.is_dir() or is_outside(place, root):
        return []
    return [
        f"{PICTURES}/{path.name}"
        for path in sorted(place.iterdir())
        if path.is_file()
        and path.suffix.lower() in PICTURE_KINDS
        and not path.name.startswith((".", "~"))
        and not (path.is_symlink() and is_outside(path, root))
    ]


def evidence_by_run(folder: Path, kind: str) -> dict[str, str]:
    """List the evidence files of one kind by the run that they are named after.

    Examples
    --------
    >>> evidence_by_run(Path("nowhere"), "micrographs")
    {}
    """
    return {Path(name).stem: name for name in evidence_files(folder) if name.startswith(f"{kind}/")}


def check_evidence(folder: Path, run_ids: Collection[str]) -> list[Problem]:
    """Warn of evidence that belongs to no run, is there twice, or is of a kind pinscar doesn't read.

    Examples
    --------
    >>> check_evidence(Path("nowhere"), ["1"])
    []
    """
    found, seen = [], set()
    for name in evidence_files(folder):
        kind, stem = name.split("/", 1)[0], Path(name).stem
        if stem not in run_ids:
            near = nearest(stem, run_ids, cutoff=0.85)
            mend = (
                f"rename it to {near}{Path(name).suffix}" if near else "name it after its run, or take it out"
            )
            found.append(warning("evidence-unknown-run", name, "no run has this name", mend))
        elif (kind, stem) in seen:
            message = f"run {stem} has another file in {kind}"
            message += ", and this one is not read" if kind == "traces" else ""
            found.append(warning("evidence-twice", name, message, "keep one of them"))
        seen.add((kind, stem))
    for kind, kinds in EVIDENCE.items():
        for path in sorted((folder / kind).iterdir()) if (folder / kind).is_dir() else []:
            if (
                path.suffix.lower() not in kinds
                and not path.name.startswith((".", "~"))
                and path.name != "Thumbs.db"
            ):
                mend = f"save it as {' or '.join(kinds)}, or take it out"
                found.append(
                    warning(
                        "evidence-unknown-type",
                        f"{kind}/{path.name}",
                        "pinscar does not read this kind of file here",
                        mend,
                    )
                )
    return found


NAMED = ("control", "history", "reference_history")
"""Keys of campaign.toml that name other campaign folders."""


def hash_inputs(folder: Path) -> dict[str, str]:
    """Hash every file that a campaign consists of, those of the reference-oil checks it names included.

    Examples
    --------
    >>> hash_inputs(Path("nowhere"))
    {}
    """
    hashes = own_hashes(folder, report_files(folder))
    for name in (one for key in NAMED for one in named_folders(folder, key)):
        hashes |= {
            posixpath.normpath(f"{name}/{file}"): digest for file, digest in own_hashes(folder / name).items()
        }
    return hashes


def named_folders(folder: Path, key: str) -> list[str]:
    """List the other campaign folders that a key of campaign.toml names.

    Examples
    --------
    >>> named_folders(Path("nowhere"), "control")
    []
    """
    root, named = root_of(folder), _of_settings(folder, "campaign", key)
    names = [name.strip() for name in named if isinstance(name, str)] if isinstance(named, list) else []
    return [name for name in names if not (is_absolute(name) or is_outside(folder / name, root))]


def _of_settings(folder: Path, section: str, key: str) -> object:
    """Give one value of campaign.toml, whatever else is wrong in that file; None where it has none."""
    settings = folder / "campaign.toml"
    # A pipe would be waited for, and a link out of the folder followed.
    if not settings.is_file() or is_outside(settings, root_of(folder)) or too_large(settings, settings.name):
        return None
    try:
        text = settings.read_text(encoding="utf-8-sig")
        if any(line.count(".") > DOTS for line in text.splitlines()):
            return None
        return cast("object", tomllib.loads(text)[section][key])
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None


def report_files(folder: Path) -> list[str]:
    """List what a report prints of a campaign folder beside its tables and evidence: text, pictures, logo.

    Examples
    --------
    >>> report_files(Path("nowhere"))
    []
    """
    root, logo = root_of(folder), named_logo(folder)
    names = [NOTES, *([logo] if logo else [])]
    own = [name for name in names if (folder / name).is_file() and not is_outside(folder / name, root)]
    return [*own, *own_pictures(folder)]


def own_hashes(folder: Path, others: Sequence[str] = ()) -> dict[str, str]:
    """Hash the tables and evidence of a campaign folder, and what other files are named.

    Examples
    --------
    >>> own_hashes(Path("nowhere"))
    {}
    """
    root = root_of(folder)
    own = [name for name in FILES if (folder / name).is_file() and not is_outside(folder / name, root)]
    names = dict.fromkeys([*own, *evidence_files(folder), *others])
    hashes = {}
    for name in names:
        with (folder / name).open("rb") as stream:
            hashes[name] = hashlib.file_digest(stream, "sha256").hexdigest()
    return hashes


def hashes_below(hashes: Mapping[str, str], name: str) -> dict[str, str]:
    """Take the hashes of the files of one folder out of those of a folder around it.

    Examples
    --------
    >>> hashes_below({"range/one/runs.csv": "1a", "range/two/runs.csv": "2b"}, "range/one")
    {'runs.csv': '1a'}
    """
    start = f"{posixpath.normpath(name)}/"
    if start == "./":
        return dict(hashes)
    return {path.removeprefix(start): digest for path, digest in hashes.items() if path.startswith(start)}


def named_logo(folder: Path) -> str | None:
    """Find the logo that campaign.toml names, whatever else is wrong in that file.

    Examples
    --------
    >>> named_logo(Path("nowhere")) is None
    True
    """
    found = _of_settings(folder, "report", "logo")
    name = " ".join(found.split()) if isinstance(found, str) else ""
    inside = bool(name) and not is_absolute(name) and not is_outside(folder / name, root_of(folder))
    return name if inside else None
