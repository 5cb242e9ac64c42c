"""Tables that a spreadsheet saved in the encoding that was usual before UTF-8."""

from __future__ import annotations

NAME = "Windows-1252"
LETTERS = "ÄÖÜäöüßÀÂÇÈÉÊËÎÏÔÙÛàâçèéêëîïôùûÁÍÓÚÑáíóúñÅØÆåøæÃÕãõìòÌÒŒœ"
MARKS = "°µ²³·±×÷½¼¾€§–—…‘’‚“”„«»•‰®©¹¿¡ªº£ "
EXPECTED = frozenset(LETTERS + MARKS + "\u00a0")
"""What a person in western Europe or America types into such a table, beside ASCII."""


def from_windows_1252(raw: bytes) -> str | None:
    r"""Read bytes that are not UTF-8 as Windows-1252, where nothing speaks against it.

    The older encodings of the command line and of other systems put letters where Windows-1252 has control
    characters or rare signs. A text with one of those is not read: it could mean something else.

    Examples
    --------
    >>> from_windows_1252(b"run_id;scar_length [\xb5m]")
    'run_id;scar_length [µm]'
    >>> from_windows_1252("Öl".encode("cp850")) is None
    True
    """
    try:
        text = raw.decode("cp1252")
    except UnicodeDecodeError:
        return None
    return text if all(sign.isascii() or sign in EXPECTED for sign in text) else None
