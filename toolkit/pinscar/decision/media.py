"""Pictures, phone video and compressed sound on disk: read one, and the error that names it."""

from __future__ import annotations

import contextlib
import logging
import struct
import time
import warnings
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps, UnidentifiedImageError

from pinscar.campaign.codes import too_large
from pinscar.errors import InputError, Problem, Severity

if TYPE_CHECKING:
    from av.container import InputContainer


FloatArray = NDArray[np.float64]

KINDS = MappingProxyType(
    {
        ".mp4": "mov", ".mov": "mov", ".m4a": "mov", ".3gp": "mov", ".webm": "matroska", ".flac": "flac",
        ".ogg": "ogg", ".mp3": "mp3",
    }
)  # fmt: skip
"""What a file is taken apart as, by its ending."""

CLIPS = (".mp4", ".mov", ".webm", ".3gp")
"""Endings of files that may hold moving pictures."""

SAMPLES = 32_000_000
"""Most samples of a sound track that are read, its channels together; half as many of one channel."""

LONGEST = 3600.0
"""Longest recording that is taken apart [s]."""

PATIENCE = 30.0
"""Longest time that taking a file apart may take [s]."""

FRAME_POINTS = 16_000_000
"""Most points of a moving picture."""

NEAR = 0.5
"""The sharpest picture is looked for that long before and after a moment [s]."""

FRAMES = 600
"""Most pictures of a clip that are looked at."""

_GAP = 0.02  # a jump of the track's own clock by more is a pause of the recorder [s]
_UNSET_BEFORE = datetime(1990, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Track:
    """A sound track.

    Attributes
    ----------
    samples : ndarray of float
        One channel, full scale at -1 and 1 [1]; it begins with the file, also where the track begins later.
    rate : float
        Samples a second [Hz].
    start : float
        When the track begins, from the beginning of the file [s].
    recorded : datetime or None
        When it was recorded, as the file says.
    """

    samples: FloatArray
    rate: float
    start: float
    recorded: datetime | None


def read_track(path: Path) -> Track:
    """Read the sound track of a file as it is, at its own rate."""
    with _opened(path) as box:
        streams = box.streams.audio
        if not streams:
            raise ValueError("the file has no sound track")
        return _track(box, streams[0])


@contextlib.contextmanager
def _opened(path: Path) -> Iterator[InputContainer]:
    import av

    large = too_large(path, path.name)
    if large:
        raise ValueError(large[0].message)
    log = av.logging.get_level()
    av.logging.set_level(av.logging.PANIC)
    try:
        with path.open("rb") as file:
            # the kind alone decides how the file is read, and nothing beside it is opened
            options = {"protocol_whitelist": "none", "enable_drefs": "0"}
            kind = KINDS[path.suffix.lower()]
            options = options if kind == "mov" else {"protocol_whitelist": "none"}
            with av.open(file, "r", format=kind, container_options=options) as box:
                if box.duration is not None and box.duration / 1e6 > LONGEST:
                    raise ValueError(
                        f"it lasts {box.duration / 1e6:.0f} s, and at most {LONGEST:.0f} s are read"
                    )
                yield box
    except (av.error.FFmpegError, OSError, EOFError, MemoryError, OverflowError, IndexError) as failure:
        raise ValueError(
            f"not readable as {path.suffix.lower()[1:]}: damaged or of another kind"
        ) from failure
    finally:
        av.logging.set_level(log)


def recorded_at(box: Any) -> datetime | None:
    """Read when a file was recorded; none where it does not say, or its clock was not set."""
    said = box.metadata.get("creation_time") or box.metadata.get("com.apple.quicktime.creationdate")
    try:
        at = datetime.fromisoformat(str(said).replace("Z", "+00:00"))
    except ValueError:
        return None
    at = at if at.tzinfo is not None else at.replace(tzinfo=UTC)
    return at if at > _UNSET_BEFORE else None


def _track(box: Any, stream: Any) -> Track:
    import av

    rate, channels = float(stream.codec_context.sample_rate), int(stream.codec_context.channels)
    if rate <= 0 or channels <= 0:
        raise ValueError("the sound track has no samples")
    stream.thread_type = "NONE"
    zero = 0.0 if box.start_time is None else box.start_time / 1e6
    plain = av.AudioResampler(format="fltp", layout=stream.codec_context.layout, rate=int(rate))
    parts: list[NDArray[np.float32]] = []
    count, start, until = 0, None, time.monotonic() + PATIENCE
    for frame in box.decode(stream):
        if time.monotonic() > until:
            raise ValueError(f"taking the file apart took more than {PATIENCE:.0f} s")
        at = count / rate if frame.time is None else float(frame.time) - zero
        if start is None:
            start = max(at, 0.0)
            count = round(start * rate)
        missing = round((at - count / rate) * rate)
        if parts and missing > _GAP * rate and (count + missing) * channels <= SAMPLES:
            parts.append(_like_the_end(parts[-1], missing))  # the recorder paused: its clock goes on
            count += missing
        for block in plain.resample(frame):
            part = np.asarray(block.to_ndarray(), dtype=np.float32)
            parts.append(part)
            count += part.shape[1]
        if count > SAMPLES // 2 or count * channels > SAMPLES:
            raise ValueError(
                f"the recording has more than {SAMPLES // 2:,} samples, the most that is read; "
                "cut it to the run, or save it with fewer samples a second"
            )
    if start is None or not parts:
        raise ValueError("the sound track has no samples")
    late = round(start * rate)
    if late:
        parts.insert(0, _like_the_end(parts[0][:, ::-1], late)[:, ::-1])
    return Track(one_channel(np.concatenate(parts, axis=1)), rate, start, recorded_at(box))


def _like_the_end(part: NDArray[np.float32], count: int) -> NDArray[np.float32]:
    """Go on after a part as it ended, there and back: silence would look like the end of the noise."""
    there = np.concatenate([part[:, ::-1], part], axis=1)
    return np.tile(there, (1, -(-count // there.shape[1])))[:, :count]


def one_channel(channels: NDArray[np.float32]) -> FloatArray:
    """Take the mean of the channels, or the loudest where they cancel, as two of opposite phase do."""
    mean = np.asarray(channels.mean(axis=0), dtype=np.float64)
    powers = np.array([float(np.mean(one.astype(np.float64) ** 2)) for one in channels])
    if float(np.mean(mean**2)) < 0.25 * float(powers.mean()):
        return np.asarray(channels[int(np.argmax(powers))], dtype=np.float64)
    return mean


def sharpest(path: Path, at: float | None = None) -> NDArray[np.uint8]:
    """Give the sharpest picture of a clip near a moment, or of its first ones; upright, in RGB."""
    with _opened(path) as box:
        streams = box.streams.video
        if not streams:
            raise ValueError("the file has no moving pictures")
        stream = streams[0]
        if stream.codec_context.width * stream.codec_context.height > FRAME_POINTS:
            raise ValueError(
                f"its pictures have {stream.codec_context.width} x {stream.codec_context.height} points, and "
                f"at most {FRAME_POINTS:,} are read"
            )
        best = _best_frame(box, stream, at)
    if best is None:
        raise ValueError(f"the clip has no picture near {at:g} s" if at is not None else "it has no picture")
    return best


def _best_frame(box: Any, stream: Any, at: float | None) -> NDArray[np.uint8] | None:
    stream.thread_type = "NONE"
    zero = 0.0 if box.start_time is None else box.start_time / 1e6
    if at is not None and at > NEAR:
        box.seek(int((at + zero - NEAR) * 1e6), backward=True)  # to the key picture before it
    best, sharpness, until, looked = None, -1.0, time.monotonic() + PATIENCE, 0
    for frame in box.decode(stream):
        if time.monotonic() > until:
            raise ValueError(f"taking the file apart took more than {PATIENCE:.0f} s")
        when = 0.0 if frame.time is None else float(frame.time) - zero
        if at is not None and when < at - NEAR:
            continue
        if (at is not None and when > at + NEAR) or looked >= FRAMES:
            break
        looked += 1
        one = _sharpness(np.asarray(frame.reformat(format="gray").to_ndarray()))
        if one > sharpness:
            pixels = np.asarray(frame.to_ndarray(format="rgb24"), dtype=np.uint8)
            turned = np.rot90(pixels, round(getattr(frame, "rotation", 0) / 90.0))
            best, sharpness = np.ascontiguousarray(turned), one
    return best


def _sharpness(grey: NDArray[np.uint8]) -> float:
    """Mean square of the second differences: a blurred picture has little."""
    values = grey.astype(np.float32)
    across = values[1:-1, 2:] + values[1:-1, :-2] + values[2:, 1:-1] + values[:-2, 1:-1]
    return float(np.mean((across - 4.0 * values[1:-1, 1:-1]) ** 2))


FORMATS = ("PNG", "JPEG", "TIFF")
"""What is read, whatever a file's ending says: some other kinds of picture are programs."""

POINTS = 24_000_000
"""Most points of a picture that is measured, such as 6000 x 4000."""

MOST_OF_16_BITS, OPAQUE = 65_535, 255

SUBFILE_TYPE, PAGES = 254, 20
"""TIFF tag whose lowest bit marks a smaller copy of another page (TIFF 6.0, section 8); pages looked at."""

CARD_POINTS = 50_000_000
"""Most points of a photograph of a fling card, which takes less memory to read."""


def read_picture(path: Path, most: int = POINTS, at: float | None = None) -> NDArray[np.generic]:
    """Read a picture, turned upright as its camera says; of a clip the sharpest one near a moment [s]."""
    if path.suffix.lower() in CLIPS:
        return _of_clip(path, at)
    try:
        large = too_large(path, str(path))
        if large:
            raise InputError(large)
        with _without_remarks(), Image.open(path, formats=FORMATS) as picture:
            if picture.width * picture.height > most:
                raise _too_many_points(path, picture, most)
            _one_page(path, picture)
            upright = _opaque(path, ImageOps.exif_transpose(picture))
            if upright.mode in ("P", "CMYK", "YCbCr", "1", "LAB", "HSV"):
                upright = upright.convert("RGB")
            pixels: NDArray[np.generic] = np.asarray(upright)
    except FileNotFoundError:
        raise wrong_picture(path, "picture-missing", "there is no such picture", "check the name") from None
    except IsADirectoryError:
        raise wrong_picture(
            path,
            "picture-missing",
            "this is a folder",
            "name one picture; pinscar gather reads whole folders",
        ) from None
    except UNREADABLE:
        mend = "save it again as PNG, JPEG or TIFF"
        raise wrong_picture(path, "picture-unreadable", "this can't be read as a picture", mend) from None
    pixels = pixels.astype(pixels.dtype.newbyteorder("="), copy=False)
    if pixels.dtype == np.int32 and int(pixels.min()) >= 0 and int(pixels.max()) <= MOST_OF_16_BITS:
        # Pillow gives some 16-bit greys as 32-bit numbers.
        pixels = pixels.astype(np.uint16)
    if pixels.dtype not in (np.uint8, np.uint16):
        mend = "save it with 8 or 16 bits per channel"
        raise wrong_picture(
            path, "picture-unreadable", f"its pixel format is not supported, {pixels.dtype}", mend
        )
    return pixels


def _one_page(path: Path, picture: Image.Image) -> None:
    """Refuse a file of several pictures: which of them is the scar, nobody can tell."""
    pages = getattr(picture, "n_frames", 1)
    if pages == 1 or picture.format not in ("TIFF", "PNG"):
        return  # the further pictures of a telephone's JPEG are previews of the first
    shown = []
    for page in range(min(pages, PAGES)):
        picture.seek(page)
        tags = getattr(picture, "tag_v2", {})
        if not int(tags.get(SUBFILE_TYPE, 0)) & 1:
            shown.append(page)
    picture.seek(0)
    if shown != [0]:
        message = f"the file holds {pages} pictures"
        raise wrong_picture(path, "picture-unreadable", message, "save the one to be measured by itself")


def _opaque(path: Path, picture: Image.Image) -> Image.Image:
    """Take off a transparency that hides nothing, and refuse one that does."""
    if picture.mode == "P" and "transparency" in picture.info:
        picture = picture.convert("RGBA")
    if picture.mode not in ("LA", "RGBA", "PA", "La", "RGBa"):
        return picture
    if picture.getchannel(picture.mode[-1]).getextrema()[0] != OPAQUE:
        message = "parts of the picture are transparent, and what they hide may be no picture"
        raise wrong_picture(path, "picture-unreadable", message, "save it without transparency")
    return picture.convert("L" if picture.mode[0] == "L" else "RGB")


def _of_clip(path: Path, at: float | None) -> NDArray[np.generic]:
    try:
        return sharpest(path, at)
    except FileNotFoundError:
        raise wrong_picture(path, "picture-missing", "there is no such clip", "check the name") from None
    except ValueError as error:
        mend = "name a moment within it, or save one picture of it as PNG"
        raise wrong_picture(path, "picture-unreadable", str(error), mend) from None


UNREADABLE = (
    UnidentifiedImageError,
    Image.DecompressionBombError,
    Image.DecompressionBombWarning,
    OSError,
    ValueError,
    SyntaxError,
    struct.error,
    zlib.error,
    MemoryError,
    OverflowError,
    TypeError,
    KeyError,
)
"""What the library raises on damaged pictures."""


def _too_many_points(path: Path, picture: Image.Image, most: int) -> InputError:
    message = f"the picture has {picture.width} x {picture.height} points, and at most {most:,} are read"
    return wrong_picture(path, "picture-too-large", message, "cut it to what is measured, or save it smaller")


@contextlib.contextmanager
def _without_remarks() -> Iterator[None]:
    """Keep the library from printing what it thinks of a damaged picture beside our one line."""
    log = logging.getLogger("PIL")
    level = log.level
    log.setLevel(logging.CRITICAL + 1)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            yield
    finally:
        log.setLevel(level)


def wrong_picture(path: Path, code: str, message: str, mend: str) -> InputError:
    """Build the error that names a picture."""
    return InputError(
        [Problem(code=code, severity=Severity.ERROR, file=str(path), message=message, mend=mend)]
    )
