"""Say finished English text in another language: by whole messages, messages with holes, and parts of lists.

A text that no message fits is given back in English and noted down, so that nothing is left out in silence.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field

from pinscar.language.messages import (
    DATE,
    NUMBER,
    UNITS,
    WORD,
    Catalogue,
    balanced,
    fits,
    local_date,
    local_numbers,
    plural_rule,
)

ATOM = re.compile("[\ue000-\uf8ff]")
"""Signs that stand for a piece of markup inside a text."""
_LETTER = re.compile(r"[^\W\d_]")
_ANY_UNIT = rf"(?:{'|'.join(map(re.escape, sorted(UNITS, key=len, reverse=True)))})(?![\w/²³])"
_SPAN = rf"{NUMBER.pattern}(?:[ \u2007\u2008]+(?:to|±) {NUMBER.pattern})?(?:\s?{_ANY_UNIT})?"
_BOUND = rf"(?:(?:at least|at most|about|from|over) )?{_SPAN}"
QUANTITY = re.compile(rf"{_SPAN}(?:[\s\u2007\u2008]*\({_BOUND}\)(?:\s{_ANY_UNIT})?)?(?: [*†])?")
"""A number, a span or an estimate with its interval, with or without a unit."""
_QUANTITIES = re.compile(
    rf"(?:at least |at most )?{QUANTITY.pattern}(?:(?:,| and|, and| or) {QUANTITY.pattern})*"
)
_IN_QUANTITY = ("at least", "at most", "about", "from", "over", "to", "and", "or", "rpm")
_PADS = re.compile("([\u2007\u2008]+)")
_SHORT = (
    "ch",
    "J",
    "Am",
    "Stat",
    "Assoc",
    "Lubr",
    "Technol",
    "Proc",
    "Inst",
    "Mech",
    "Eng",
    "Trans",
    "No",
    "vs",
)
_NOT_AN_END = "".join(rf"(?<!\b{re.escape(word)}\.)" for word in (*_SHORT, "pp", "e.g", "i.e"))
_BEGIN = rf"[A-Z\d(“\"±−*†{ATOM.pattern[1:-1]}]"
_SENTENCE = re.compile(rf"(?<=[.!?]){_NOT_AN_END} (?={_BEGIN}|n: )")
_ENDS = ".:;,!?…"
_SEPARATORS = (". ", "; ", ": ", ", ", " and ", " or ")
LABELS = (
    *("film pressure", "scar area", "scar pressure", "scar length", "scar width", "wear volume"),
    *(
        "wear coefficient",
        "quiet time",
        "temperature rise",
        "fling mass",
        "fling area",
        "friction coefficient",
    ),
    *(
        "friction energy",
        "greatest heating rate",
        "fling",
        "drips",
        "smoke",
        "scar depth",
        "peak temperature",
        "drips per run",
    ),
)
"""Names of what is measured, which stand in for one another in a message."""
_CODE = re.compile(
    r"[\w.-]*\d[\w.-]*|[a-z]+(?:_[a-z0-9]+)+(?: \[[^\]]*\])?|[0-9a-f]{16,}"
    r"|[\w./-]+\.(?:csv|toml|xlsx|json|png|jpe?g|tiff?|wav|md|parquet)"
)
_EDGE = re.compile(rf"^(?:{ATOM.pattern}\s?)+(?=\w)|(?:\s?{ATOM.pattern})+$")
_LABEL = re.compile(rf"\b(?:{'|'.join(LABELS)})\b", re.IGNORECASE)
MOST_SIGNS = 3000
"""Most signs of a text that is looked at in parts."""
LONGEST_LABEL = 60
"""Most letters of a column's name that stands for what is measured."""
_ITEM = re.compile(r"\([a-z](?:, [a-z])*\)")


@dataclass(kw_only=True)
class Speaker:
    """Says the texts of one report in a language.

    Attributes
    ----------
    catalogue : Catalogue
        Its messages.
    names : frozenset of str
        Names of the campaign's own: oils, runs, rings, people.
    texts : frozenset of str
        Other texts of its own, such as notes; like names they are never translated.
    missing : dict
        Messages that no translation was found for, in the order in which they came.
    """

    catalogue: Catalogue
    names: frozenset[str]
    texts: frozenset[str] = frozenset()
    missing: dict[str, None] = field(default_factory=dict)
    atoms: Callable[[str], str | None] = lambda _: None
    _known: dict[str, str | None] = field(default_factory=dict)
    _named: dict[str, str | None] = field(default_factory=dict)
    _name_list: re.Pattern[str] = field(init=False)
    _label_list: re.Pattern[str] = field(init=False)

    def __post_init__(self) -> None:
        """Prepare to find names."""
        names = "|".join(map(re.escape, sorted(self.names, key=len, reverse=True)))
        one = rf"(?:{ATOM.pattern}{'|' if names else ''}{names})"
        self._name_list = re.compile(rf"{one}(?:(?:, | and | or |,? and ){one})*")
        labels = [*LABELS, *(text for text in self.texts if len(text) < LONGEST_LABEL)]
        label = rf"(?:{'|'.join(map(re.escape, sorted(labels, key=len, reverse=True)))})(?!\w)"
        self._label_list = re.compile(rf"{label}(?:(?:, | and | or ){label})*", re.IGNORECASE)

    def __getstate__(self) -> dict[str, object]:
        """Leave out what was worked out, which the other process does itself."""
        return {"catalogue": self.catalogue, "names": self.names, "texts": self.texts}

    def __setstate__(self, state: dict[str, object]) -> None:
        """Begin anew."""
        self.__init__(catalogue=state["catalogue"], names=state["names"], texts=state["texts"])  # type: ignore[misc]

    def say(self, text: str) -> str:
        """Say a text of one or more sentences; what is not known stays English and is noted."""
        bare = text.strip()
        if not bare or not (_LETTER.search(bare) or re.search(r"\d", bare) or ATOM.search(bare)):
            return text
        start = text.index(bare)
        said = " ".join(self._said_or_noted(one) for one in self._pieces(" ".join(bare.split(" "))))
        return text[:start] + said + text[start + len(bare) :]

    def _pieces(self, text: str) -> list[str]:
        """Cut a text into sentences, unless it is known as a whole."""
        return [text] if self.known(text) is not None else _SENTENCE.split(text)

    def _said_or_noted(self, text: str) -> str:
        said = self.known(text)
        if said is not None:
            return said
        for a, b in _around_atoms(text):
            head, rest = text[: len(a)], text[len(a) : len(text) - len(b)]
            said = self.known(rest)
            if said is not None:
                return "".join((self._atoms_said(head), said, self._atoms_said(b)))
        self.missing.setdefault(self.general(text))
        return self._atoms_said(text)

    def _atoms_said(self, text: str) -> str:
        """Leave a text as it is; what stands in its pieces of markup is said by the page."""
        return text

    def general(self, text: str) -> str:
        """Make a message of a text: holes for numbers, names and markup.

        Examples
        --------
        >>> from pinscar.language.messages import read_catalogue
        >>> Speaker(catalogue=read_catalogue("de"), names=frozenset(["R-10"])).general(
        ...     "R-10 ran 3 times in 60 s."
        ... )
        '{oil} ran {n} times in {q}.'
        """
        text = _EDGE.sub("", text)
        if self.names:
            inside = sorted((one for one in self.names if one in text), key=len, reverse=True)
            if inside:
                text = re.sub(
                    rf"(?<![\w-])(?:{'|'.join(map(re.escape, inside))})(?![\w-])", _mark("oil"), text
                )
        text = ATOM.sub(_mark("tag"), text)
        text = DATE.sub(_mark("date"), text)
        text = re.sub(rf"(?<![\w{{.-]){QUANTITY.pattern}", lambda match: _mark(_kind_of(match[0])), text)
        text = _LABEL.sub(_mark("label"), text)
        for kind in ("oil", "q", "label"):
            one = re.escape(_mark(kind))
            text = re.sub(rf"{one}(?:, {one})*,? (?:and|or) {one}", _mark(kind), text)
        return lower_first(_numbered(text))

    def known(self, text: str) -> str | None:
        """Say a phrase, or give None where a part of it is not known."""
        if text not in self._known:
            self._known[text] = None  # a phrase inside itself is not known
            self._known[text] = self._phrase(text)
        return self._known[text]

    def _phrase(self, text: str) -> str | None:
        """Try each way; the mark at an end is set aside before a hole could take it in."""
        for way in (
            self._as_it_is,
            self._whole,
            self._trimmed,
            self._lowered,
            self._by_pattern,
            self._in_parts,
        ):
            said = way(text)
            if said is not None:
                return said[:1].upper() + said[1:] if text[-1] == "." and not text[0].islower() else said
        return None

    def _as_it_is(self, text: str) -> str | None:
        language = self.catalogue.language
        if text != text.strip():
            inner = self.known(text.strip())
            return None if inner is None else text.replace(text.strip(), inner, 1)
        if text in self.names:
            return text
        if ATOM.fullmatch(text):
            return self.atoms(text)
        if not _LETTER.search(text) and not ATOM.search(text):
            return local_numbers(text, language)
        if _QUANTITIES.fullmatch(text):
            return self._quantity(text)
        if (text in UNITS and len(text) > 1) or (text[0] == "[" and text[1:-1] in UNITS and text[-1] == "]"):
            return text
        if _CODE.fullmatch(text) or _ITEM.fullmatch(text):
            return text if NUMBER.fullmatch(text) is None else local_numbers(text, language)
        return local_date(text, language, self.catalogue.whole.get("to", "–"))

    def _quantity(self, text: str) -> str:
        for word in _IN_QUANTITY:
            if word in text:
                text = re.sub(rf"\b{word}\b", self.catalogue.whole.get(word, word), text)
        return local_numbers(text, self.catalogue.language)

    def _whole(self, text: str) -> str | None:
        if text in self.texts and (" " in text or text not in self.catalogue.whole):
            return text
        return self.catalogue.whole.get(text)

    def _by_pattern(self, text: str) -> str | None:
        words = set(WORD.findall(text))
        found = [
            one for word in (*words, "") for one in self.catalogue.by_word.get(word, ()) if one.words <= words
        ]
        for one in sorted(found, key=lambda one: one.weight, reverse=True):
            holes = fits(one, text, self._hole, self._reach)
            if holes is not None:
                return self._form(one.said, one.counted, holes).format_map(holes)
        return None

    def _form(self, said: tuple[str, ...], counted: bool, holes: dict[str, str]) -> str:
        if not counted:
            return said[0]
        number = next((re.sub(r"\D", "", text) for name, text in holes.items() if name.startswith("n")), "")
        return said[min(plural_rule(self.catalogue)(int(number or 2)), len(said) - 1)]

    def _reach(self, kind: str, text: str, start: int) -> int:
        begin = {"oil": self._name_list, "q": _QUANTITIES, "label": self._label_list}.get(kind)
        if begin is None:
            return len(text)
        found = begin.match(text, start)
        return -1 if found is None else found.end()

    def _hole(self, kind: str, text: str) -> str | None:
        if kind == "n":
            return local_numbers(text, self.catalogue.language)
        if kind == "oil":
            if text not in self._named:
                self._named[text] = self._names_only(text)
            return self._named[text]
        if kind == "date":
            return local_date(text, self.catalogue.language, self.catalogue.whole.get("to", "–"))
        if kind == "q":
            return self._quantity(text) if _QUANTITIES.fullmatch(text) else None
        if kind == "label" and not self._is_label(text):
            return None
        return self.known(text)

    def _is_label(self, text: str) -> bool:
        """Tell whether a text names one or more of the things that are measured."""
        bare = _LABEL.sub("", text)
        return (
            (bare != text and not re.sub(r"\b(?:and|or)\b|[ ,]", "", bare))
            or lower_first(text) in self.texts
            or text in self.texts
        )

    def _names_only(self, text: str) -> str | None:
        """Say a name, or a list of names."""
        if text in self.names:
            return text
        if ATOM.fullmatch(text):
            return self.atoms(text)
        head, between, last = text.rpartition(" and ")
        parts = [*head.split(", "), last] if between else text.split(", ")
        if len(parts) < 2 or any(part not in self.names and not ATOM.fullmatch(part) for part in parts):
            return None
        word = self.catalogue.whole.get("and", "and")
        return f"{', '.join(parts[:-1])} {word} {parts[-1]}" if between else text

    def _lowered(self, text: str) -> str | None:
        """Say a phrase that begins a sentence as it would be said inside one."""
        lower = lower_first(text)
        first = re.split(r"[ ,;:]", text, maxsplit=1)[0]
        if lower == text or first in self.names or re.search(r"\d", first):
            return None
        said = self._whole(lower) or self._by_pattern(lower)
        return None if said is None else said[:1].upper() + said[1:]

    def _trimmed(self, text: str) -> str | None:
        """Say a phrase without its brackets or the mark at its end, and put them back."""
        if _PADS.search(text):
            parts = [
                part if _PADS.fullmatch(part) or not part else self.known(part) for part in _PADS.split(text)
            ]
            return None if None in parts else "".join(filter(None, parts))
        for opening, closing in (("(", ")"), ("[", "]"), ("“", "”")):
            if text.startswith(opening) and text.endswith(closing) and balanced(text[1:-1]) and len(text) > 2:
                inner = self.known(text[1:-1])
                return None if inner is None else f"{opening}{inner}{closing}"
        if text[0] in ",;:" and len(text) > 1:
            inner = self.known(text[1:])
            return None if inner is None else text[0] + inner
        if text[-1] in _ENDS and len(text) > 1:
            inner = self.known(text[:-1])
            return None if inner is None else inner + text[-1]
        return None

    def _in_parts(self, text: str) -> str | None:
        """Say sentences, clauses and items of a list one by one, where each is known."""
        for parts, joints in self._cuts(text):
            said = [self.known(part) for part in parts]
            if None not in said:
                whole = said[0] or ""
                for joint, part in zip(joints, said[1:], strict=True):
                    whole += joint + (part or "")
                return whole
        return None

    def _cuts(self, text: str) -> Iterator[tuple[list[str], list[str]]]:
        if len(text) > MOST_SIGNS:  # no message is that long: text of a stranger
            return
        sentences = _SENTENCE.split(text)
        if len(sentences) > 1:
            yield sentences, [" "] * (len(sentences) - 1)
        for opening, closing in ((" (", ")"), (" [", "]")):
            bracket = text.rfind(opening)
            if bracket > 0 and text.endswith(closing) and balanced(text[bracket + 1 :]):
                yield [text[:bracket], text[bracket + 1 :]], [" "]
        for separator in _SEPARATORS:
            word = separator.strip()
            joint = f" {self.catalogue.whole.get(word, word)} " if word.isalpha() else separator
            start = text.find(separator)
            while start > 0:
                head, tail = text[:start], text[start + len(separator) :]
                if tail and balanced(head):
                    yield [head, tail], [joint]
                start = text.find(separator, start + 1)


def _mark(kind: str) -> str:
    return f"{{{kind}}}"


def _kind_of(text: str) -> str:
    return "n" if NUMBER.fullmatch(text) else "q"


def _numbered(text: str) -> str:
    """Tell holes of one kind apart."""
    counts: dict[str, int] = {}

    def hole(match: re.Match[str]) -> str:
        kind = match[1]
        counts[kind] = counts.get(kind, 0) + 1
        return _mark(f"{kind}{counts[kind] if counts[kind] > 1 else ''}")

    return re.sub(r"\{([a-z]+)\}", hole, text)


def sentences(text: str) -> list[str]:
    """Cut a text into its sentences.

    Examples
    --------
    >>> sentences("See ch. 4 of it. Then rest.")
    ['See ch. 4 of it.', 'Then rest.']
    """
    return _SENTENCE.split(text)


def lower_first(text: str) -> str:
    """Write a text as inside a sentence; a word of capitals stays.

    Examples
    --------
    >>> lower_first("Every run"), lower_first("SHA-256 of each file"), lower_first("A caution")
    ('every run', 'SHA-256 of each file', 'a caution')
    """
    return text if len(text) > 1 and text[1].isupper() else text[:1].lower() + text[1:]


def _around_atoms(text: str) -> Iterable[tuple[str, str]]:
    """Give the markup at the ends of a text, to be set aside."""
    head = re.match(rf"(?:{ATOM.pattern}[ ,:;.]*)+", text)
    tail = re.search(rf"(?:[ ,:;(]*{ATOM.pattern}[.)]*)+$", text)
    if head and head.end() < len(text):
        yield head[0], ""
    if tail and tail.start() > 0:
        yield "", tail[0]
    if head and tail and head.end() < tail.start():
        yield head[0], tail[0]
