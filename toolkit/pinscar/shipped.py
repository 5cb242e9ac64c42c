"""Where the files that ship with pinscar lie, and the languages whose catalogues are among them."""

from __future__ import annotations

import difflib
from pathlib import Path

from pinscar.errors import RunError, UsageError

PACKAGE = Path(__file__).resolve().parent
MOST_LISTED = 12
"""Known words that are all listed beside the nearest one."""


def shipped_folder(name: str) -> Path:
    """Return a folder of shipped files.

    Examples
    --------
    >>> shipped_folder("templates").name
    'templates'
    """
    for folder in (PACKAGE / "_shipped" / name, PACKAGE.parents[1] / name):
        if folder.is_dir():
            return folder
    raise RunError(f"this installation of pinscar lacks its {name} folder; install it again")


def template_names() -> list[str]:
    """Return the names of the shipped templates.

    Examples
    --------
    >>> isinstance(template_names(), list)
    True
    """
    return sorted(path.stem for path in shipped_folder("templates").glob("*.ipynb"))


def find_template(name_or_path: str) -> Path:
    """Return the notebook that a name or a path means.

    Examples
    --------
    >>> find_template("no_such_template")
    Traceback (most recent call last):
    ...
    pinscar.errors.UsageError: no template called 'no_such_template'...
    """
    path = Path(name_or_path)
    if path.suffix == ".ipynb" or len(path.parts) > 1:
        if not path.is_file():
            raise UsageError(f"no template at {name_or_path}")
        return path.resolve()
    names = template_names()
    if name_or_path not in names:
        raise UsageError(f"no template called {name_or_path!r}{nearest(name_or_path, names)}")
    return shipped_folder("templates") / f"{name_or_path}.ipynb"


def nearest(word: str, known: list[str]) -> str:
    """Return the end of a sentence that offers the nearest known word, and all of them where they are few.

    Examples
    --------
    >>> nearest("confidense", ["folder", "confidence"])
    "; did you mean 'confidence'? (known: folder, confidence)"
    """
    if not known:
        return ""
    near = difflib.get_close_matches(word, known, n=1)
    listed = ", ".join(known)
    if near and len(known) > MOST_LISTED:
        return f"; did you mean {near[0]!r}?"
    return f"; did you mean {near[0]!r}? (known: {listed})" if near else f"; known: {listed}"


FOLDER = Path(__file__).parent / "language" / "catalogues"
"""Where catalogues lie; a file put there is a language."""
OWN = "en"
"""The language that reports are written in."""


def languages(folder: Path = FOLDER) -> tuple[str, ...]:
    """List the languages that there are catalogues for, English first.

    Examples
    --------
    >>> languages()[:2]
    ('en', 'de')
    """
    return (OWN, *sorted(path.stem for path in folder.glob("*.po")))
