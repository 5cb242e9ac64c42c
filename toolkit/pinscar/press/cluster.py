"""Reports made on a running cluster of Dask: a request goes with its files, whole reports come back."""

from __future__ import annotations

import contextlib
import json
import logging
import os
import posixpath
import threading
import time
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pinscar.campaign.folder import EVIDENCE, ROOT
from pinscar.child import ChildDiedError
from pinscar.errors import PinscarError, RunError, UsageError
from pinscar.press.build import Worker
from pinscar.press.files import CHANGED, NEW, write_files
from pinscar.press.inputs import input_hashes
from pinscar.press.manifest import NAME, sha256, surroundings
from pinscar.press.private_folder import PrivateFolder, sweep_private


@dataclass(frozen=True, slots=True, kw_only=True)
class Parcel:
    """What a worker of a cluster is sent.

    Attributes
    ----------
    place : tuple of str
        Last parts of the folder's path, as many as the names of files climb.
    files : mapping of str to bytes
        Content by path relative to the folder; empty for a file that is not read, whose name is told of.
    inputs : mapping of str to str
        SHA-256 of the files that are read.
    template : bytes
        The notebook.
    message : mapping
        The request, as a worker process takes it.
    modules : tuple of str
        Modules that the template imports.
    rooted : bool
        Whether links and paths may lead out of the campaign folder.
    """

    place: tuple[str, ...]
    files: Mapping[str, bytes]
    inputs: Mapping[str, str]
    template: bytes
    message: Mapping[str, Any]
    modules: tuple[str, ...]
    rooted: bool


def pack(message: Mapping[str, Any], modules: Sequence[str]) -> Parcel:
    """Put together what a request reads."""
    folder = Path(message["folder"])
    inputs = input_hashes(folder, message["parameters"])
    files = {name: (folder / name).read_bytes() for name in inputs}
    read = {name: sha256(data) for name, data in files.items()}
    files |= dict.fromkeys(_beside(folder, inputs), b"")
    climbed = max((name.split("/").count("..") for name in files), default=0)
    return Parcel(
        place=folder.resolve().parts[1:][-(climbed + 1) :],
        files=files,
        inputs=read,
        template=Path(message["template"]).read_bytes(),
        message=dict(message),
        modules=tuple(modules),
        rooted=bool(os.environ.get(ROOT)),
    )


def _beside(folder: Path, inputs: Collection[str]) -> list[str]:
    """List files that are not read but are told of, such as a picture of a kind that is not known."""
    around = {posixpath.dirname(name) for name in inputs}
    places = around | {posixpath.join(one, kind) for one in around for kind in EVIDENCE}
    return [
        name
        for place in sorted(places)
        if (folder / place).is_dir()
        for path in sorted((folder / place).iterdir())
        if path.is_file() and (name := posixpath.join(place, path.name)) not in inputs
    ]


def unpack(parcel: Parcel, base: Path) -> tuple[Path, Path]:
    """Write the files below a folder; return the folder that the template runs in, and the template."""
    folder = base.joinpath("campaigns", *parcel.place)
    folder.mkdir(parents=True)
    for name, data in parcel.files.items():
        path = Path(os.path.normpath(folder / name))
        if not path.is_relative_to(base):
            raise ValueError(f"{name} leads out of the parcel")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    template = base / "template" / Path(parcel.message["template"]).name
    template.parent.mkdir()
    template.write_bytes(parcel.template)
    return folder, template


def about_here() -> dict[str, Any]:
    """Tell all that the bytes of a report made here depend on besides its data and its template."""
    return surroundings(pdf=True)


def make_there(parcel: Parcel) -> dict[str, Any]:
    """Make one report; return the reply of the process that made it, and the files whole."""
    sweep_private()
    try:
        with PrivateFolder() as base:
            return _make(parcel, base)
    except PinscarError as error:
        return {"reply": {"status": error.exit_status, "errors": [str(error)]}}
    except OSError as error:
        said = f"the worker of the cluster could not write: {error.strerror or error}"
        return {"reply": {"status": 4, "errors": [said]}}


def _make(parcel: Parcel, base: Path) -> dict[str, Any]:
    folder, template = unpack(parcel, base)
    scratch = base / "scratch"
    scratch.mkdir()
    worker = Worker(parcel.modules, root=base if parcel.rooted else None)
    places = {"folder": str(folder), "template": str(template), "scratch": str(scratch)}
    try:
        # A folder that is gone when the report is there keeps no readings.
        reply = worker.ask({**parcel.message, **places, "keep": False})
        if reply["status"] == 4:
            reply["debug"] = reply.get("debug", "") + worker.logged()
    finally:
        worker.end()
    failed = reply.pop("failed", None)
    files = sorted((scratch / NEW).iterdir()) if (scratch / NEW).is_dir() else []
    return {
        "reply": reply,
        "files": {path.name: path.read_bytes() for path in files},
        "failed": Path(failed).read_bytes() if failed else None,
    }


WAIT = 10.0
"""Time for the cluster to answer, and for a worker to be there [s]."""
POLL = 0.5
"""How often it is looked whether a worker is still there [s]."""
TRIES = 2
"""A campaign is begun so often at most."""

Told = Callable[[Mapping[str, Any]], None]


class Cluster:
    """The workers of a cluster, lent one place at a time.

    Attributes
    ----------
    address : str
        Address of the scheduler, such as ``tcp://10.0.0.1:8786``.
    modules : sequence of str
        Modules that the template imports.
    refused : dict of str to str
        Workers that are not used, and why.
    """

    def __init__(self, address: str, modules: Sequence[str]) -> None:
        try:
            import distributed
        except ImportError as error:
            raise UsageError("--cluster needs Dask: pip install 'pinscar[cluster]'") from error
        for name in ("distributed", "distributed.client", "distributed.core", "distributed.comm"):
            logging.getLogger(name).setLevel(logging.CRITICAL)
        self._modules = modules
        self._here = about_here()
        self._busy: Counter[str] = Counter()
        self._good: set[str] = set()
        self._guard = threading.Lock()
        self._stopped = False
        self.refused: dict[str, str] = {}
        try:
            client: Any = distributed.Client  # it carries no types
            self._client = client(address, timeout=WAIT, set_as_default=False)
        except (OSError, ValueError) as error:
            raise RunError(f"no cluster answers at {address}") from error

    @contextlib.contextmanager
    def one(self) -> Iterator[Maker]:
        """Lend what asks the cluster."""
        yield Maker(self, self._modules)

    def stop(self) -> None:
        """End the connection; whoever waits is told that it was stopped, and the cluster drops the work."""
        self._stopped = True
        with contextlib.suppress(Exception):  # a cluster that is gone has nothing to end
            self._client.close(timeout=WAIT)

    @contextlib.contextmanager
    def place(self) -> Iterator[str]:
        """Wait for a free thread of a worker that is like this machine, and lend it."""
        address = self._free()
        try:
            yield address
        finally:
            with self._guard:
                self._busy[address] -= 1

    def make(self, address: str, parcel: Parcel) -> dict[str, Any] | None:
        """Have a report made by one worker; None where that worker was lost meanwhile."""
        from distributed import TimeoutError as Late

        future = None
        try:
            sent = self._client.scatter(parcel, workers=[address], hash=False)
            future = self._client.submit(
                make_there, sent, workers=[address], allow_other_workers=False, pure=False
            )
            while not self._stopped:
                with contextlib.suppress(Late):
                    made: dict[str, Any] = future.result(timeout=POLL)
                    return made
                if address not in self._threads():
                    return None
        except Exception as error:
            if self._stopped or address not in self._threads():
                return None
            said = f"the cluster failed: {type(error).__name__}: {' '.join(str(error).split())}"
            return {"reply": {"status": 4, "errors": [said]}}
        finally:
            if future is not None:
                with contextlib.suppress(Exception):  # a lost cluster has nothing to cancel
                    future.cancel()
        return None

    @property
    def stopped(self) -> bool:
        """Whether the command has ended the work."""
        return self._stopped

    def _free(self) -> str:
        begun = time.monotonic()
        while not self._stopped:
            threads = self._threads()
            with self._guard:
                self._judge(set(threads))
                for address, count in sorted(threads.items(), key=lambda one: (self._busy[one[0]], one[0])):
                    if address in self._good and self._busy[address] < count:
                        self._busy[address] += 1
                        return address
            if not self._good & set(threads) and time.monotonic() - begun > WAIT:
                why = "; ".join(f"{name}: {said}" for name, said in self.refused.items())
                raise RunError(f"the cluster has no worker that can be used{': ' if why else ''}{why}")
            time.sleep(POLL)
        raise ChildDiedError("was stopped")

    def _threads(self) -> dict[str, int]:
        try:
            found: dict[str, int] = self._client.nthreads()
        except Exception as error:
            raise ChildDiedError("was lost: the cluster does not answer any more") from error
        return dict(found)

    def _judge(self, present: set[str]) -> None:
        """Compare workers that have come with this machine."""
        new = sorted(present - self._good - set(self.refused))
        if not new:
            return
        told = self._client.run(about_here, workers=new, on_error="return")
        for address in new:
            there = told.get(address)
            if there == self._here:
                self._good.add(address)
            elif isinstance(there, dict):
                self.refused[address] = unlike(self._here, there)
            elif not isinstance(there, OSError):  # else it is gone already
                self.refused[address] = f"pinscar does not answer there ({there})"


def unlike(here: Mapping[str, Any], there: Mapping[str, Any]) -> str:
    """Say in what a worker differs.

    Examples
    --------
    >>> unlike({"versions": {"numpy": "2.1", "scipy": "1"}}, {"versions": {"numpy": "2.2", "scipy": "1"}})
    'numpy 2.2, here 2.1'
    >>> unlike({"code": "1a"}, {"code": "2b"})
    'its code of pinscar is another'
    """
    found = []
    for kind, ours in here.items():
        theirs = there.get(kind)
        if isinstance(ours, dict) and isinstance(theirs, dict):
            names = [name for name in {**ours, **theirs} if ours.get(name) != theirs.get(name)]
            if kind in ("page", "fonts"):
                found += [f"its {name} is another" for name in names]
            else:
                found += [f"{n} {theirs.get(n, 'lacking')}, here {ours.get(n, 'lacking')}" for n in names]
        elif ours != theirs:
            found.append(f"its {kind} of pinscar is another")
    return "; ".join(found)


class Maker:
    """Asks a cluster as a worker process is asked.

    Attributes
    ----------
    cluster : Cluster
        The cluster.
    modules : sequence of str
        Modules that the template imports.
    """

    def __init__(self, cluster: Cluster, modules: Sequence[str]) -> None:
        self._cluster = cluster
        self._modules = modules

    def ask(self, message: Mapping[str, Any], told: Told | None = None) -> dict[str, Any]:
        """Have a report made, by another worker where the first was lost, and write its files here."""
        if message["do"] == "check":
            return {"status": 0}  # the worker that makes the report checks first
        for _ in range(TRIES):
            with self._cluster.place() as address:
                if told is not None:
                    told({"text": f"on {address}"})
                parcel = pack(message, self._modules)
                made = self._cluster.make(address, parcel)
            if made is not None:
                return _received(made, message, parcel)
            if self._cluster.stopped:
                raise ChildDiedError("was stopped")
        raise ChildDiedError(f"was lost with its worker of the cluster, {TRIES} times")

    def logged(self) -> str:
        """Return nothing more: what the worker logged came with its reply."""
        return ""


def _received(made: Mapping[str, Any], message: Mapping[str, Any], parcel: Parcel) -> dict[str, Any]:
    """Write what came back into the scratch folder, if it is whole and about the folder as it is now."""
    scratch, reply = Path(message["scratch"]), dict(made["reply"])
    if made.get("failed") is not None:
        reply["failed"] = str(scratch / "report-failed.ipynb")
        Path(reply["failed"]).write_bytes(made["failed"])
    if reply["status"] != 0:
        return reply
    files: Mapping[str, bytes] = made["files"]
    manifest = json.loads(files[NAME])
    found = {name: sha256(data) for name, data in files.items() if name != NAME}
    if found != manifest["outputs"]:
        raise RunError("a report came back from the cluster that is not whole; run it again")
    if (
        not input_hashes(Path(message["folder"]), message["parameters"])
        == parcel.inputs
        == manifest["inputs"]
    ):
        raise RunError(CHANGED)
    write_files(scratch / NEW, files)
    return reply
