"""What the pages of a parquet file unpack to: its footer may say less, and memory is taken per page."""

from __future__ import annotations

from typing import IO

HEAD = 16 * 1024
"""Most bytes that the head of a page is looked for in; statistics of text make it long."""


def unpacked_bytes(file: IO[bytes], start: int, length: int) -> int:
    """Add up what the pages of one column unpack to.

    Examples
    --------
    >>> import io
    >>> head = bytes([0x15, 0, 0x15, 20, 0x15, 8, 0])  # type 0, 10 bytes unpacked, 4 packed
    >>> unpacked_bytes(io.BytesIO(head + b"abcd"), 0, 11)
    10
    """
    total, place = 0, start
    while place < start + length:
        file.seek(place)
        unpacked, packed, head = _page(file.read(HEAD))
        total += unpacked
        place += head + packed
    return total


def _page(data: bytes) -> tuple[int, int, int]:
    """Return a page's size unpacked and packed, and the length of its head [bytes]."""
    numbers: dict[int, int] = {}
    try:
        end = _struct(data, 0, numbers)
        unpacked, packed = numbers[2], numbers[3]
    except (IndexError, KeyError, RecursionError) as error:
        raise ValueError("the head of a page cannot be read") from error
    if unpacked < 0 or packed < 0:
        raise ValueError("a page has a size below zero")
    return unpacked, packed, end


def _struct(data: bytes, place: int, numbers: dict[int, int] | None = None) -> int:
    field = 0
    while data[place]:
        step, kind = data[place] >> 4, data[place] & 15
        place += 1
        if step:
            field += step
        else:
            value, place = _varint(data, place)
            field = (value >> 1) ^ -(value & 1)
        if kind in (4, 5, 6) and numbers is not None:
            value, place = _varint(data, place)
            numbers[field] = (value >> 1) ^ -(value & 1)
        elif kind not in (1, 2):  # a truth value stands in the kind itself
            place = _skip(data, place, kind)
    return place + 1


def _skip(data: bytes, place: int, kind: int) -> int:
    if kind in (1, 2, 3):
        return place + 1
    if kind in (4, 5, 6):
        return _varint(data, place)[1]
    if kind == 7:
        return place + 8
    if kind == 8:
        length, place = _varint(data, place)
        return place + length
    if kind in (9, 10):
        count, inner = data[place] >> 4, data[place] & 15
        place += 1
        if count == 15:
            count, place = _varint(data, place)
        for _ in range(count):
            place = _skip(data, place, inner)
        return place
    if kind == 12:
        return _struct(data, place)
    raise ValueError("the head of a page holds something unknown")


def _varint(data: bytes, place: int) -> tuple[int, int]:
    value = shift = 0
    while True:
        byte = data[place]
        place += 1
        value |= (byte & 127) << shift
        if byte < 128:
            return value, place
        shift += 7
        if shift > 63:
            raise ValueError("a number is too long")
