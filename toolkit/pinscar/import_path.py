"""What may be imported: nothing from strangers' folders, whose files are data; and pyarrow only late."""

# Only modules that the interpreter has loaded by itself: any other could come from the folder in question.
import gc
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


PYARROW = "pyarrow"
"""Name by which a template's modules say that it needs pyarrow in pandas."""


def keep_pyarrow_out() -> None:
    """Have pandas, which this process has yet to import, do without pyarrow.

    pandas imports pyarrow wherever it is installed, for types of columns that we do not use. That takes a
    quarter of a second, and starts a thread, after which a process must not be forked.
    """
    sys.modules.setdefault("pyarrow", None)  # type: ignore[arg-type]  # None makes the import fail


def let_pyarrow_in(*, by_pandas: bool = False) -> None:
    """Let pyarrow be imported: by us, or by pandas too for a template of a person's own that uses both."""
    if sys.modules.get("pyarrow", sys) is None:
        if not by_pandas:
            import pandas  # noqa: F401 - now, so that no type of a column hangs on what was read first
        del sys.modules["pyarrow"]


def collect_seldom() -> None:
    """Look seldom for dead objects that point at each other.

    What is imported and laid out stays alive, so that looking finds next to nothing, and takes a tenth of the
    time of a check and of a PDF. A PDF's process grows by 3 MB of 142.
    """
    gc.set_threshold(100_000, 20, 50)


def _home() -> str:
    return os.path.dirname(os.path.dirname(os.path.realpath(__file__)))  # noqa: PTH120 - see above
