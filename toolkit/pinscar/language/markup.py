"""Say the texts of a finished page in another language; tags, pictures, code and own text stay."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator

from markupsafe import escape

from pinscar.language.messages import UNITS
from pinscar.language.speaker import ATOM, Speaker

_TOKEN = re.compile(
    r"<(?P<whole>script|style)\b.*?</(?P=whole)>|<!--.*?-->|<!DOCTYPE[^>]*>"
    r"|<(?P<close>/?)(?P<name>[a-zA-Z][\w-]*)(?P<rest>[^>]*)>|[^<]+|<",
    re.DOTALL,
)
_INLINE = frozenset(
    ["a", "strong", "em", "b", "i", "sub", "sup", "span", "code", "small", "abbr", "del", "img"]
)
_VOID = frozenset(["img", "br", "meta", "link", "source", "input", "hr", "wbr"])
_KEPT = frozenset(["code", "pre"])
_OWN = re.compile(r'\bclass="[^"]*\bown-text\b')
_ATTRIBUTE = re.compile(r'(?<=\s)(?P<name>alt|title|aria-label|placeholder)="(?P<text>[^"]*)"')
_FORMULA = re.compile(r'\bclass="[^"]*\bformula\b')
_TIED = re.compile(r'<span class="nowrap">([A-Za-z][A-Za-z0-9]{0,5}-\d{1,4})</span>')
_PLACE = re.compile(r'\bclass="[^"]*\b(?:section-number|hash)\b')  # 7.1 is no number
_BLANKS = re.compile("[ \n\t\u00a0]+")
_FIRST_ATOM, _LAST_ATOM = 0xE000, 0xF8FF
_UNIT = re.compile(
    rf"(?<=\d) (?=(?:{'|'.join(map(re.escape, sorted(UNITS, key=len, reverse=True)))})(?![\w/]))"
)
_COUNTS = re.compile(r"\d+(?: \w+ \d+)+")
_DATE = re.compile(r"(?<=\d\.) ([^\W\d_]+) (?=\d{4}\b)")
_COUNT = re.compile(r"\b([np]) (=|<) (?=\d)")
NO_BREAK = "\N{NO-BREAK SPACE}"


def said_page(page: str, speaker: Speaker) -> str:
    """Say a page in another language.

    Examples
    --------
    >>> from pinscar.language.messages import read_catalogue
    >>> said_page(
    ...     "<p><strong>Not met.</strong></p>", Speaker(catalogue=read_catalogue("de"), names=frozenset())
    ... )
    '<p><strong>Nicht eingehalten.</strong></p>'
    """
    return _Page(speaker).said(_TIED.sub(r"\1", page))


def said_script(script: str, speaker: Speaker) -> str:
    """Say the words of the page's script, which the catalogue lists as pieces of it.

    Examples
    --------
    >>> from pinscar.language.messages import read_catalogue
    >>> said_script('"smallest first"', Speaker(catalogue=read_catalogue("de"), names=frozenset()))
    '"kleinster Wert zuerst"'
    """
    for piece, said in speaker.catalogue.script.items():
        if piece not in script:
            speaker.missing.setdefault(f"script: {piece}")
        script = script.replace(piece, said)
    return script


class _Page:
    """A page on its way: pieces of markup inside a text stand in it as single signs."""

    def __init__(self, speaker: Speaker) -> None:
        self._speaker = speaker
        self._signs: dict[str, str] = {}
        self._pieces: dict[str, str] = {}
        speaker.atoms = lambda sign: sign if sign in self._pieces else None

    def said(self, page: str) -> str:
        parts: list[str] = []
        segment: list[str] = []
        kept = own = 0  # depth inside what stays as it is
        for token in _TOKEN.finditer(page):
            name = (token["name"] or "").lower()
            if kept or own:
                kept += _step(token, name, _KEPT, kept)
                own += _step(token, name, frozenset(["div", "section"]), own) if own else 0
                parts.append(token[0])
            elif name in _INLINE or not (name or token["whole"] or token[0].startswith("<!")):
                segment.append(token[0])
            else:
                parts.append(self._segment("".join(segment)))
                segment.clear()
                kept = int(name in _KEPT and not token["close"])
                own = int(bool(_OWN.search(token["rest"] or "")) and not token["close"])
                parts.append(self._tag(token[0]))
        return "".join([*parts, self._segment("".join(segment))])

    def _segment(self, text: str) -> str:
        """Say text with inline markup."""
        if not text.strip():
            return text
        plain = "".join(self._as_text(text))
        if sum(map(len, ATOM.findall(plain))) and ATOM.sub("", plain).strip() == "":
            return self._expanded(plain)
        said = _tied(self._speaker.say(plain))
        if _COUNTS.fullmatch(said):  # a cell of numbers of runs
            said = said.replace(" ", NO_BREAK)
        return self._expanded(str(escape(said)))

    def _as_text(self, text: str) -> Iterator[str]:
        """Give a text with a sign in place of each piece of markup, whole with what it holds."""
        depth, piece, first = 0, [], ""
        for token in _TOKEN.finditer(text):
            name = (token["name"] or "").lower()
            if depth:
                piece.append(token[0])
                if name == first:
                    depth += -1 if token["close"] else 1
                if not depth:
                    yield self._sign("".join(piece))
            elif name in _VOID:
                yield self._sign(token[0])
            elif name and not token["close"]:
                depth, piece, first = 1, [token[0]], name
            elif name:
                yield self._sign(token[0])
            else:
                yield _BLANKS.sub(" ", html.unescape(token[0]))
        if depth:
            yield self._sign("".join(piece))

    def _sign(self, piece: str) -> str:
        if piece not in self._signs:
            if len(self._signs) > _LAST_ATOM - _FIRST_ATOM:
                raise ValueError("the page has more pieces of markup than its translation can hold apart")
            sign = chr(_FIRST_ATOM + len(self._signs))
            self._signs[piece], self._pieces[sign] = sign, piece
        return self._signs[piece]

    def _expanded(self, text: str) -> str:
        return ATOM.sub(lambda match: self._piece(self._pieces.get(match[0], match[0])), text)

    def _piece(self, piece: str) -> str:
        """Say what a piece of markup holds."""
        opening = re.match(r"<[^>]*>", piece)
        if opening is None or piece.startswith(("<code", "</")):
            return piece
        if _PLACE.search(opening[0]):
            return piece
        closing = re.search(r"</[^<>]*>$", piece)
        if closing is None:
            return self._tag(piece)
        return self._tag(opening[0]) + self._segment(piece[opening.end() : closing.start()]) + closing[0]

    def _tag(self, tag: str) -> str:
        """Say the texts among a tag's attributes."""
        formula = bool(_FORMULA.search(tag))

        def attribute(match: re.Match[str]) -> str:
            text = _BLANKS.sub(" ", html.unescape(match["text"]))
            said = self._formula(text) if formula else self._speaker.say(text)
            return f'{match["name"]}="{escape(said)}"'

        return _ATTRIBUTE.sub(attribute, tag)

    def _formula(self, words: str) -> str:
        """Say a formula that is read out, word by word."""
        known = self._speaker.catalogue.formula
        if not known:
            return words
        either = re.compile(rf"\b(?:{'|'.join(map(re.escape, sorted(known, key=len, reverse=True)))})\b")
        return either.sub(lambda match: known[match[0]], words)


def _step(token: re.Match[str], name: str, counted: frozenset[str], depth: int) -> int:
    if not depth or name not in counted:
        return 0
    return -1 if token["close"] else 1


def _tied(text: str) -> str:
    """Keep numbers on one line with their units, and days with their months."""
    text = _DATE.sub(rf"{NO_BREAK}\1{NO_BREAK}", text)
    return _COUNT.sub(rf"\1{NO_BREAK}\2{NO_BREAK}", _UNIT.sub(NO_BREAK, text))
