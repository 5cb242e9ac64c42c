"""Phone video and compressed sound: files that PyAV writes here, read back and set against what went in."""

from __future__ import annotations

from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pandas as pd
import pytest
import soundfile

from pinscar.decision.media import read_picture, read_track, sharpest
from pinscar.decision.recordings import clock_note, hear_file
from pinscar.errors import InputError

RATE = 16000


def noise(seconds: float = 12.0, quiet: float = 7.0) -> np.ndarray:
    """Noise that is 20 dB weaker from a moment on."""
    t = np.arange(round(seconds * RATE)) / RATE
    return np.random.default_rng(1).normal(0.0, 0.1, t.size) * np.where(t < quiet, 1.0, 0.1)


def write(path: Path, sound: np.ndarray, codec: str, start: float = 0.0, pause: float = 0.0, **more) -> None:
    """Write a sound track; it may begin late, and its clock may jump by a pause after a quarter."""
    with av.open(str(path), "w", **more) as box:
        stream = box.add_stream(codec, rate=RATE, layout="mono")
        size = 1024
        for at in range(0, sound.size - size, size):
            plane = np.asarray(np.clip(sound[at : at + size], -1, 1) * 32767, dtype=np.int16)[None]
            frame = av.AudioFrame.from_ndarray(plane, format="s16", layout="mono")
            frame.sample_rate, frame.time_base = RATE, Fraction(1, RATE)
            late = start + (pause if at > sound.size / 4 else 0.0)
            frame.pts = at + round(late * RATE)
            box.mux(stream.encode(frame))
        box.mux(stream.encode(None))


CODECS = {".mp4": "aac", ".m4a": "aac", ".mov": "aac", ".3gp": "aac", ".webm": "libopus", ".ogg": "libopus",
          ".flac": "flac", ".mp3": "libmp3lame"}  # fmt: skip


@pytest.mark.parametrize("ending", CODECS)
def test_the_end_of_the_noise_is_heard_in_every_kind_of_file(tmp_path, ending):
    path = tmp_path / f"1{ending}"
    write(path, noise(), CODECS[ending])
    heard = hear_file(path, 12.0)
    assert heard.reason == ""
    assert heard.quiet_time == pytest.approx(7.0, abs=0.2)


def test_a_lossless_track_is_what_another_reader_gives(tmp_path):
    write(tmp_path / "1.flac", noise(), "flac")
    other, rate = soundfile.read(tmp_path / "1.flac")
    track = read_track(tmp_path / "1.flac")
    assert track.rate == rate
    assert np.array_equal(track.samples, other)


def test_a_track_that_begins_late_and_pauses_keeps_the_file_s_clock(tmp_path):
    write(tmp_path / "1.webm", noise(12.0, 5.0), "libopus", pause=1.5)
    paused = hear_file(tmp_path / "1.webm", 13.5)
    # the clock jumped by 1.5 s at 3 s, so what was at 5 s is at 6.5 s
    assert paused.quiet_time == pytest.approx(6.5, abs=0.2)


def video(path: Path, seconds: float = 2.0, times: list[float] | None = None, **metadata: str) -> None:
    """Write a clip of vertical stripes: the pictures are blurred but near 1.2 s."""
    with av.open(str(path), "w") as box:
        box.metadata.update(metadata)
        stream = box.add_stream("mpeg4", rate=25)
        stream.width, stream.height, stream.pix_fmt = 320, 240, "yuv420p"
        stream.codec_context.time_base = Fraction(1, 1000)
        for when in times or list(np.arange(0.0, seconds, 0.04)):
            step = 4 if abs(when - 1.2) < 0.021 else 40
            row = np.where(np.arange(320) // step % 2, 200, 50).astype(np.uint8)
            picture = np.repeat(np.repeat(row[None, :, None], 240, axis=0), 3, axis=2)
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts, frame.time_base = round(when * 1000), Fraction(1, 1000)
            box.mux(stream.encode(frame))
        box.mux(stream.encode(None))


def changes(picture: np.ndarray) -> int:
    """Count the edges of the stripes in a row."""
    return int(np.count_nonzero(np.diff((picture[120, :, 1] > 125).astype(int))))


def test_the_sharpest_picture_near_a_moment_is_taken(tmp_path):
    video(tmp_path / "c.mp4")
    assert changes(sharpest(tmp_path / "c.mp4", 1.0)) == 79  # 320 / 4 stripes
    assert changes(sharpest(tmp_path / "c.mp4", 0.3)) == 7
    assert changes(read_picture(tmp_path / "c.mp4", at=1.5)) == 79
    assert changes(sharpest(tmp_path / "c.mp4")) == 79
    with pytest.raises(InputError, match=r"no picture near 50 s"):
        read_picture(tmp_path / "c.mp4", at=50.0)


def test_a_clip_of_uneven_pace_is_read_by_its_clock(tmp_path):
    video(tmp_path / "c.mov", times=[0.0, 0.5, 0.55, 0.6, 1.19, 1.9, 2.4, 3.0])
    assert changes(sharpest(tmp_path / "c.mov", 1.3)) == 79
    assert changes(sharpest(tmp_path / "c.mov", 2.4)) == 7


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "not readable as mp4"),
        (b"not a film at all" * 50, "not readable as mp4"),
        (b"#EXTM3U\n#EXTINF:1,\nfile:///etc/hostname\n", "not readable as mp4"),
        (b"ffconcat version 1.0\nfile /etc/hostname\n", "not readable as mp4"),
    ],
)
def test_what_is_no_film_is_one_plain_line(tmp_path, content, words):
    (tmp_path / "1.mp4").write_bytes(content)
    assert hear_file(tmp_path / "1.mp4", 60.0).reason.startswith(words)


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_a_damaged_film_is_one_plain_line_or_what_is_left_of_it(tmp_path, share):
    write(tmp_path / "a.m4a", noise(), "aac")
    whole = bytearray((tmp_path / "a.m4a").read_bytes())
    (tmp_path / "1.m4a").write_bytes(whole[: round(share * len(whole))])
    assert "\n" not in hear_file(tmp_path / "1.m4a", 12.0).reason
    for place in np.random.default_rng(2).integers(0, len(whole), 200):
        whole[place] ^= 0xFF
    (tmp_path / "2.m4a").write_bytes(whole)
    assert "\n" not in hear_file(tmp_path / "2.m4a", 12.0).reason


def test_a_clip_without_sound_and_a_missing_one(tmp_path):
    video(tmp_path / "1.mp4")
    assert hear_file(tmp_path / "1.mp4", 60.0).reason == "the file has no sound track"
    assert hear_file(tmp_path / "2.mp4", 60.0).reason.startswith("not readable as mp4")
    write(tmp_path / "3.mp4", noise(), "aac")
    with pytest.raises(ValueError, match="no moving pictures"):
        sharpest(tmp_path / "3.mp4", 1.0)


def test_the_time_of_recording_is_set_against_the_run(tmp_path):
    write(tmp_path / "1.mp4", noise(), "aac")
    video(tmp_path / "v.mp4", creation_time="2026-03-03T08:07:00Z")
    with av.open(str(tmp_path / "v.mp4")) as box:
        assert box.metadata["creation_time"].startswith("2026-03-03T08:07")
    at = datetime(2026, 3, 3, 8, 7, tzinfo=UTC)
    assert clock_note(at, pd.Timestamp("2026-03-03T09:05")) == ""  # a zone of one hour
    assert clock_note(at, pd.Timestamp("2026-03-03")) == ""
    assert "and the run was at 2026-03-05 08:05" in clock_note(at, pd.Timestamp("2026-03-05T08:05"))
    assert "recorded at 2026-03-03 08:07 UTC" in clock_note(at, pd.Timestamp("2026-03-03T08:45"))
    assert clock_note(at, pd.NaT) == clock_note(None, pd.Timestamp("2026-03-03")) == ""
