"""The import path without strangers' folders: what lies there is data, never code."""

# Only modules that the interpreter has loaded by itself: any other could come from the folder in question.
import os
import sys


def trusted_path() -> list[str]:
    """Return the import path without the working folder and those of ``PYTHONPATH``, except pinscar's own."""
    named = os.environ.get("PYTHONPATH", "").split(os.pathsep)
    strange = {os.path.realpath(entry) for entry in ("", *named)} - {_home()}
    return [entry for entry in sys.path if os.path.realpath(entry) not in strange]


def leave_folder(folder: str) -> None:
    """Take a campaign folder, and folders in it, off the import path: its files are data, not code."""
    place = os.path.realpath(folder)
    home = _home()
    sys.path[:] = [
        entry
        for entry in sys.path
        if os.path.realpath(entry) == home
        or not (os.path.realpath(entry) + os.sep).startswith(place + os.sep)
    ]


def _home() -> str:
    return os.path.dirname(os.path.dirname(os.path.realpath(__file__)))  # noqa: PTH120 - see above
