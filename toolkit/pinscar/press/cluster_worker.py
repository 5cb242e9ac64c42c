"""What a worker of a cluster does: it tells what it is made of, and makes a report in a folder of its own."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pinscar.errors import PinscarError
from pinscar.press.build import Worker
from pinscar.press.files import NEW
from pinscar.press.manifest import surroundings
from pinscar.press.parcel import Parcel, unpack
from pinscar.press.private_folder import PrivateFolder, sweep_private


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
