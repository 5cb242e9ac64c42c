"""Phone video and compressed sound on disk: the sound track of a file, and the sharpest picture of a clip.

FFmpeg, through PyAV, takes the files apart. It is given an open file and the one kind that the name says, so
that no list of further files and no address inside a file is followed.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pinscar.campaign.bounds import too_large

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

POINTS = 16_000_000
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
        if stream.codec_context.width * stream.codec_context.height > POINTS:
            raise ValueError(
                f"its pictures have {stream.codec_context.width} x {stream.codec_context.height} points, and "
                f"at most {POINTS:,} are read"
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
