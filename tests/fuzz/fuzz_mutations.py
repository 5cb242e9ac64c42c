"""A seeded mutator of files: the same seed gives the same bytes, so that a finding is reproducible."""

from __future__ import annotations

import io
import random
import re
import zipfile
from collections.abc import Sequence

NUMBERS = (
    *("0", "-0", "-1", "1", "1e300", "-1e300", "1e308", "1.8e308", "5e-324", "1e-300", "1e400", "nan", "inf"),
    *("9" * 400, "9" * 5000, "0x10", "1_000", "1,5", "1.200,5", "1.2.3", "+1", "1e", ".", "٣", "１２", "½"),
    *("0.1e-5", "12345678901234567890", "-inf", "1e-9", "1e9", "0.000001", "360", "1e15", "2026-02-30"),
)
WORDS = (
    *("", " ", '"', "''", '"""', "[", "]]", "[[", "{}", "=", "#", "\\", "\n", "\r", "\r\n", ";", ",", "\t"),
    *("<script>alert(1)</script>", "{{7*7}}", "{% raw %}", "$x_{$", "[a](javascript:x)", "=1+1", "@x"),
    *("\u202etxt", "\u200b", "\ufeff", "\x00", "\x1b]0;t\x07", "\x7f", "é", "é", "𝐑-10", "ﬀ", "İ", "ß"),
    *("../../x", "/etc/passwd", "C:\\x", "con", "a" * 10_000, "true", "yes", "no", "none", "null", "nan"),
    *("mm", "degC", "dB", "1/0", "mm^99999", "mm**9**9**9", "rpm", "[mm]", "m]", "kg m", "R-10", "C-21"),
    *("1979-05-27", "07:32:00", "2026-13-01T00:00", "9999-12-31T23:59:59+14:00", "0001-01-01", "1e5 mm"),
)
_NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?")
_TOKEN = re.compile(r"[^,;\s=\[\]\"']+")


def mutated(data: bytes, others: Sequence[bytes], dice: random.Random) -> bytes:
    """Change a file in one to four places."""
    if data.startswith(b"PK\x03\x04") and dice.random() < 0.8:
        return _in_archive(data, dice)
    for _ in range(dice.choice((1, 1, 1, 2, 2, 3, 4))):
        data = _once(data, others, dice)
    return data


def _once(data: bytes, others: Sequence[bytes], dice: random.Random) -> bytes:
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        return _bytes(data, others, dice)
    return _bytes(data, others, dice) if dice.random() < 0.1 else _text(text, others, dice)


def _text(text: str, others: Sequence[bytes], dice: random.Random) -> bytes:
    kind = dice.randrange(9)
    if kind <= 2:
        text = _replaced(text, _NUMBER, dice.choice(NUMBERS), dice)
    elif kind <= 4:
        text = _replaced(text, _TOKEN, dice.choice((*WORDS, *NUMBERS)), dice)
    elif kind == 5:
        place = dice.randint(0, len(text))
        text = text[:place] + dice.choice(WORDS) + text[place:]
    else:
        text = "".join(_lines(text.splitlines(keepends=True), others, dice))
    return text.encode("utf-8", "surrogatepass")


def _replaced(text: str, what: re.Pattern[str], new: str, dice: random.Random) -> str:
    found = list(what.finditer(text))
    if not found:
        return text + new
    one = dice.choice(found)
    return text[: one.start()] + new + text[one.end() :]


def _lines(lines: list[str], others: Sequence[bytes], dice: random.Random) -> list[str]:
    if not lines:
        return [dice.choice(WORDS)]
    place, kind = dice.randrange(len(lines)), dice.randrange(6)
    if kind == 0:
        del lines[place]
    elif kind == 1:
        lines.insert(dice.randint(0, len(lines)), lines[place])
    elif kind == 2:
        dice.shuffle(lines)
    elif kind == 3:
        lines = lines[: place + 1]
    elif kind == 4:
        cells = lines[place].rstrip("\n").split(",")
        dice.shuffle(cells)
        lines[place] = ",".join(cells) + "\n"
    else:
        other = dice.choice(list(others)).decode("utf-8", "replace").splitlines(keepends=True)
        lines.insert(place, dice.choice(other or [""]))
    return lines


def _bytes(data: bytes, others: Sequence[bytes], dice: random.Random) -> bytes:
    changed = bytearray(data or b"\0")
    place, kind = dice.randrange(len(changed)), dice.randrange(6)
    if kind == 0:
        changed[place] ^= 1 << dice.randrange(8)
    elif kind == 1:
        changed[place] = dice.choice((0, 1, 127, 128, 255))
    elif kind == 2:
        del changed[place : place + dice.choice((1, 2, 4, 16, 1000))]
    elif kind == 3:
        changed[place:place] = bytes(dice.randrange(256) for _ in range(dice.choice((1, 4, 16))))
    elif kind == 4:
        changed[place : place + 4] = dice.choice((b"\xff\xff\xff\xff", b"\0\0\0\0", b"\xff\xff\xff\x7f"))
    else:
        other = dice.choice(list(others))
        changed = changed[:place] + bytearray(other[len(other) // 2 :])
    return bytes(changed)


def _in_archive(data: bytes, dice: random.Random) -> bytes:
    """Change one member of an archive and pack it again, so that more than the archive's frame is tried."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        members = {one.filename: archive.read(one) for one in archive.infolist()}
    sheets = [name for name in members if "sheet" in name]
    chosen = dice.choice(sheets if sheets and dice.random() < 0.6 else sorted(members))
    members[chosen] = _once(members[chosen], [members[chosen]], dice)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return packed.getvalue()
