"""The appendix with the person's own text and pictures: Markdown in which nothing acts or is fetched."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import mistune

from pinscar.campaign.folder import NOTES
from pinscar.campaign.own_text import PictureError, Shown, printed_picture, read_notes, shown_pictures
from pinscar.errors import InputError, Problem, Severity
from pinscar.page.markup import Markup, caption_html, escape, paragraph
from pinscar.page.outline import as_html

if TYPE_CHECKING:
    from IPython.display import HTML

    from pinscar.decision.record import Analysis

ABOVE = (
    "The text and pictures of this appendix are the author's own, from notes.md and pictures/. No number of "
    "this report rests on them."
)
_HEADS = {1: 3, 2: 4}
"""Level on the page by level in the text: the appendix itself is a section."""


class _Plain(mistune.HTMLRenderer):
    """Renders text with its emphasis, lists and tables; what could act or lead away is shown as text."""

    def __init__(self) -> None:
        super().__init__(escape=True)
        self.first = True

    def link(self, text: str, url: str, title: str | None = None) -> str:  # noqa: ARG002 - the caller's order
        """Show a link's text, and its address in brackets."""
        shown = str(escape(url))
        return shown if text in (shown, url) else f"{text} ({shown})"

    def image(self, text: str, url: str, title: str | None = None) -> str:  # noqa: ARG002 - the caller's order
        """Show a picture inside a sentence as its words."""
        return str(Markup("[{}: {}]").format(text, url))

    def heading(self, text: str, level: int, **attrs: Any) -> str:  # noqa: ARG002 - the caller's order
        """Put headings below that of the appendix, without skipping a level."""
        own = 3 if self.first else _HEADS.get(level, 4)
        self.first = False
        return f"<h{own}>{text}</h{own}>\n"

    def block_code(self, code: str, info: str | None = None) -> str:  # noqa: ARG002 - the caller's order
        """Show lines as they were typed."""
        return str(Markup('<pre class="typed">{}</pre>').format(code.rstrip("\n")))


BOX = '<div class="box" role="group" tabindex="0" aria-label="A table of the author\'s">'


def rendered(blocks: Sequence[str]) -> list[str]:
    """Turn pieces of one Markdown text into HTML.

    Examples
    --------
    >>> print(rendered(["A *worn* ring, see [here](log.txt) <b>now</b>."])[0], end="")
    <p>A <em>worn</em> ring, see here (log.txt) &lt;b&gt;now&lt;/b&gt;.</p>
    """
    markdown = mistune.create_markdown(renderer=_Plain(), plugins=["table", "strikethrough"])
    found = [str(markdown(one)) for one in blocks]
    return [one.replace("<table>", f"{BOX}<table>").replace("</table>", "</table></div>") for one in found]


def appendix(analysis: Analysis, detail: str = "standard") -> HTML:
    """Show notes.md with its pictures; nothing where there is none, or in a brief report."""
    if detail == "brief":
        return as_html([])
    folder = analysis.campaign.folder
    text, problems = read_notes(folder)
    if any(one.severity is Severity.ERROR for one in problems):
        raise InputError(problems)
    if not text.strip():
        return as_html([])
    pictures = shown_pictures(text)
    lines, start, blocks = text.splitlines(), 0, []
    for one in pictures:
        blocks.append("\n".join(lines[start : one.row - 1]))
        start = one.row
    *texts, last = rendered([*blocks, "\n".join(lines[start:])])
    parts: list[str] = [part for pair in zip(texts, _figures(pictures, folder), strict=True) for part in pair]
    head = Markup("<h2>Appendix: the author\u2019s notes</h2>")
    body = Markup('<div class="own-text">{}</div>').format(Markup("\n".join([*parts, last])))
    return as_html([head, paragraph(ABOVE, "method"), body])


def _figures(pictures: Sequence[Shown], folder: Path) -> list[str]:
    return [_figure(one, folder) for one in pictures]


def _figure(one: Shown, folder: Path) -> str:
    try:
        media, data, (width, height) = printed_picture(folder / one.name)
    except PictureError as wrong:
        mend = "save it again as PNG or JPEG"
        problem = Problem(
            code="picture-unusable",
            severity=Severity.ERROR,
            file=NOTES,
            message=str(wrong),
            mend=mend,
            row=one.row,
            value=one.name,
        )
        raise InputError([problem]) from None
    label = caption_html("figure", one.caption, key=f"own-{one.row}")
    address = f"data:{media};base64,{base64.b64encode(data).decode('ascii')}"
    return str(
        Markup(
            '<figure class="figure own-picture"{}><div>'
            '<img alt="{}" width="{}" height="{}" src="{}">'
            "</div><figcaption>{}</figcaption></figure>"
        ).format(label.attribute, one.caption, width, height, Markup(address), label.html)
    )
