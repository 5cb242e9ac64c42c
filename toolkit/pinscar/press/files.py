"""Files of a report in place: a hidden folder, then the whole put there by rename; an archive to mail."""

from __future__ import annotations

import contextlib
import ctypes
import errno
import hashlib
import io
import os
import re
import shutil
import sys
import tempfile
import zipfile
from collections.abc import Iterator, Mapping
from pathlib import Path

from pinscar.campaign.folder import EVIDENCE
from pinscar.errors import RunError, UsageError
from pinscar.page.workbook import EPOCH
from pinscar.press.json_file import read_json
from pinscar.shown import to_shown

CHANGED = "a file of the campaign was changed while the report was being made; run it again"


try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

HALF = re.compile(r"\.pinscar-.+-[a-z0-9_]{8}")
"""Name of a file that is being written."""


def put_file(path: Path, data: bytes) -> None:
    """Write beside the file and rename: a reader of the folder sees the old file or the new one.

    A link that lies in its place is replaced; what it leads to is not written to. Raises OSError.
    """
    sweep_halves(path.parent)
    handle, place = _begin(path)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        _like(path, Path(place))
        Path(place).replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            Path(place).unlink(missing_ok=True)
        raise


def _begin(path: Path) -> tuple[int, str]:
    """Make the file to be written beside the other, and hold its lock: so it is no dead writer's."""
    while True:
        handle, place = tempfile.mkstemp(prefix=f".pinscar-{path.name[:100]}-", dir=path.parent)
        if fcntl is None:
            return handle, place
        fcntl.flock(handle, fcntl.LOCK_EX)
        if os.path.lexists(place):
            return handle, place
        os.close(handle)  # a sweep came between the two lines: once more


def sweep_halves(folder: Path) -> None:
    """Remove what killed writers left half written in a folder; writers at work hold a lock on theirs."""
    if fcntl is None:
        return
    for path in sorted(folder.iterdir()):
        if not HALF.fullmatch(path.name) or path.is_symlink() or not path.is_file():
            continue
        with contextlib.suppress(OSError), path.open("rb") as file:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            path.unlink()


def _like(path: Path, new: Path) -> None:
    """Give the new file the permissions of the old one, or those of any new file."""
    if path.exists():
        shutil.copymode(path, new)
    else:
        mask = os.umask(0)
        os.umask(mask)
        new.chmod(0o666 & ~mask)


ROOM = 64 * 1024 * 1024
"""Free room asked for before a report is begun [bytes]: some ten times what one takes."""

NEW = "report"
OLD = "replaced"
"""Names inside the scratch folder: the report being made, and the one being replaced."""


@contextlib.contextmanager
def scratch_folder(out: Path) -> Iterator[Path]:
    """Give a scratch folder on the file system of the report, and remove it whatever happens.

    Examples
    --------
    >>> with tempfile.TemporaryDirectory() as parent, scratch_folder(Path(parent) / "report") as folder:
    ...     folder.is_dir(), folder.parent == Path(parent)
    (True, True)
    """
    check_room(out.parent)
    try:
        folder = Path(tempfile.mkdtemp(prefix=f".pinscar-{out.name}-", dir=out.parent))
    except OSError as error:
        raise cannot_write(out.parent, error) from error
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def cannot_write(folder: Path, error: OSError) -> RunError:
    """Return the error for a folder that could not be written.

    Examples
    --------
    >>> str(cannot_write(Path("out"), OSError(28, "No space left on device")))
    'cannot write into out: no space left on device'
    """
    return RunError(f"cannot write into {folder}: {(error.strerror or str(error)).lower()}")


def check_room(folder: Path) -> None:
    """Refuse to begin where the disk is as good as full.

    Examples
    --------
    >>> check_room(Path(tempfile.gettempdir()))
    """
    free = shutil.disk_usage(folder).free
    if free < ROOM:
        there, needed = (f"{to_shown(float(size), 'MB'):.0f} MB" for size in (free, ROOM))
        raise RunError(f"no room in {folder}: {there} are free, {needed} are needed")


def sweep(out: Path) -> None:
    """Mend what a killed run left: bring a report back that was being replaced, remove scratch folders.

    Examples
    --------
    >>> with tempfile.TemporaryDirectory() as parent:
    ...     Path(parent, ".pinscar-report-abcd_123", OLD).mkdir(parents=True)
    ...     sweep(Path(parent, "report"))
    ...     os.listdir(parent)
    ['report']
    """
    sweep_halves(out.parent)
    ours = re.compile(rf"\.pinscar-{re.escape(out.name)}-[a-z0-9_]{{8}}")
    for folder in sorted(out.parent.iterdir()):
        if ours.fullmatch(folder.name) and folder.is_dir() and not folder.is_symlink():
            if (folder / OLD).is_dir() and not os.path.lexists(out):
                (folder / OLD).rename(out)
            shutil.rmtree(folder, ignore_errors=True)


MANIFEST = "manifest.json"
SCHEMA = "pinscar.manifest/1"
DROPPINGS = (".DS_Store", "Thumbs.db", "desktop.ini", ".ipynb_checkpoints")
"""What systems and editors leave in a folder that a person has looked into."""

AT_FDCWD = -100
RENAME_EXCHANGE = 2


def exchange(one: Path, other: Path) -> bool:
    """Exchange the names of two folders in one step.

    Examples
    --------
    >>> exchange(Path("/no/such/folder"), Path("/none/either"))
    Traceback (most recent call last):
    ...
    FileNotFoundError: [Errno 2] ...
    """
    function = (
        getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None) if sys.platform == "linux" else None
    )
    if function is None:
        return False
    if function(AT_FDCWD, os.fsencode(one), AT_FDCWD, os.fsencode(other), RENAME_EXCHANGE) == 0:
        return True
    number = ctypes.get_errno()
    if number in (errno.EINVAL, errno.ENOSYS, errno.ENOTSUP):
        return False
    raise OSError(number, os.strerror(number), str(one))


def replace_folder(new: Path, out: Path) -> None:
    """Put a folder in the place of another, or where nothing was.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as parent:
    ...     new, out = Path(parent, "scratch", "report"), Path(parent, "report")
    ...     for folder, text in ((new, "new"), (out, "old")):
    ...         folder.mkdir(parents=True); _ = (folder / "a").write_text(text)
    ...     replace_folder(new, out)
    ...     (out / "a").read_text()
    'new'
    """
    sync(new)
    if not os.path.lexists(out):
        new.rename(out)
    elif not exchange(new, out):
        out.rename(new.parent / OLD)
        new.rename(out)


def sync(folder: Path) -> None:
    """Bring the files of a folder to the disk, so that a power cut after the rename finds them whole.

    Examples
    --------
    >>> import tempfile
    >>> sync(Path(tempfile.mkdtemp()))
    """
    for path in folder.iterdir():
        with path.open("rb") as file:
            os.fsync(file.fileno())


def check_place(out: Path) -> None:
    """Refuse to replace anything but a report as pinscar left it: every file in the way might be wanted.

    Examples
    --------
    >>> check_place(Path(__file__))
    Traceback (most recent call last):
    ...
    pinscar.errors.UsageError: ...files.py is a file; the report needs a folder
    """
    evidence = _evidence_around(out)
    if evidence is not None:
        raise UsageError(f"{evidence} holds the evidence of a campaign; choose another place for the report")
    if not os.path.lexists(out):
        return
    if not out.is_dir() or out.is_symlink():
        raise UsageError(f"{out} is a {'link' if out.is_symlink() else 'file'}; the report needs a folder")
    there = sorted(path for path in out.iterdir() if path.name not in DROPPINGS)
    if not there:
        return
    outputs = _outputs(out)
    if outputs is None:
        raise UsageError(f"{out} is not empty and holds no report; choose another folder, or move it away")
    for path in there:
        if path.name == MANIFEST:
            continue
        if path.name not in outputs:
            raise UsageError(f"{path} is no part of the report and would be lost; move it out of {out}")
        if path.is_symlink() or not path.is_file() or _digest(path) != outputs[path.name]:
            raise UsageError(
                f"{path} is not as the report left it and would be lost; move {out} away, or delete it"
            )


def _evidence_around(out: Path) -> Path | None:
    place = out.resolve()
    for folder in (place, *place.parents):
        if folder.name in EVIDENCE and (folder.parent / "campaign.toml").exists():
            return folder
    return None


def _outputs(out: Path) -> dict[str, str] | None:
    """Return the digests that a manifest of ours has of its files; None where there is none."""
    try:
        manifest = read_json(out / MANIFEST)
        outputs = dict(manifest["outputs"]) if manifest["schema"] == SCHEMA else None
    except (OSError, ValueError, TypeError, KeyError):
        return None
    return outputs or None


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


@contextlib.contextmanager
def locked(out: Path, wait: float = 0.0) -> Iterator[None]:
    """Hold the lock of a report while the body runs.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as parent, locked(Path(parent, "report")):
    ...     with locked(Path(parent, "report")):
    ...         pass
    Traceback (most recent call last):
    ...
    pinscar.errors.RunError: another run is writing ...report; wait for it to end
    """
    import filelock

    path = out.parent / f".pinscar-{out.name}.lock"
    if path.is_symlink():
        raise RunError(f"{path} is a link, through which no lock is taken; remove it")
    lock = filelock.FileLock(path)
    try:
        lock.acquire(timeout=wait)
    except filelock.Timeout as error:
        raise RunError(f"another run is writing {out}; wait for it to end") from error
    except OSError as error:
        raise cannot_write(out.parent, error) from error
    try:
        yield
    finally:
        # While it is held: filelock sees a file without a name and tries again on the new one.
        path.unlink(missing_ok=True)
        lock.release()


def write_files(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write files into a new folder."""
    try:
        folder.mkdir()
        for name, data in files.items():
            (folder / name).write_bytes(data)
    except OSError as error:
        raise cannot_write(folder.parent.parent, error) from error


def file_stem(campaign_id: str, template: str) -> str:
    """Make the name of a file from a campaign and a template.

    Examples
    --------
    >>> file_stem("conveyor-07", "campaign_report"), file_stem("Öl 7/8: trial", "plan")
    ('conveyor-07-campaign_report', 'Öl-7-8-trial-plan')
    """
    kept = re.sub(r"[^\w.-]+", "-", campaign_id).strip("-.") or "campaign"
    return f"{kept[:80]}-{template}"


def zip_report(report: Path, stem: str) -> Path:
    """Put the files of a report into an archive beside its folder."""
    stream = io.BytesIO()
    place = report.parent / f"{stem}.zip"
    try:
        with zipfile.ZipFile(stream, "w") as archive:
            for path in sorted(report.iterdir()):
                if not path.is_file():
                    continue
                entry = zipfile.ZipInfo(f"{stem}/{path.name}", EPOCH)
                entry.compress_type = zipfile.ZIP_DEFLATED
                entry.external_attr = 0o644 << 16
                archive.writestr(entry, path.read_bytes(), compresslevel=6)
        put_file(place, stream.getvalue())
    except OSError as error:
        raise cannot_write(report.parent, error) from error
    return place
