"""The languages that reports come in: English, and one for each catalogue that lies in the package."""

from __future__ import annotations

from pathlib import Path

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
