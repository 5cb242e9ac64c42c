"""Quiet times from synthetic recordings whose truth is known, and what is said of useless recordings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
import soundfile
from scipy import signal as filters

from pinscar.evidence.sound import hear_quiet, relative_loudness, stretches
from pinscar.evidence.sound_level import band_level, is_clipped, read_recording, recording_fault

RATE = 8000
DURATION = 60.0


@dataclass(frozen=True)
class Run:
    """How a synthetic recording is made."""

    seed: int
    quiet: float
    contrast: float
    fade: float = 0.0
    squeal: float = 0.0
    knocks: int = 0
    gain: float = 0.05


def coloured(rng: np.random.Generator, low: float, high: float, size: int) -> np.ndarray:
    sections = filters.butter(2, (low, high), btype="bandpass", fs=RATE, output="sos")
    noise = filters.sosfilt(sections, rng.standard_normal(size))
    return noise / np.std(noise)


def recording(run: Run, duration: float = DURATION) -> np.ndarray:
    """Rubbing noise that pulses with the ring and wanders, over hum, fan and the odd knock or squeal.

    The contrast is that of noise and remainder together over the remainder in the band listened to, before
    the A-weighting, which is nearly flat there.
    """
    rng = np.random.default_rng(run.seed)
    size = int(duration * RATE)
    t = np.arange(size) / RATE
    fan = coloured(rng, 200.0, 3500.0, size)
    rubbing = coloured(rng, 600.0, 3500.0, size)
    inside = filters.butter(4, (500.0, 3600.0), btype="bandpass", fs=RATE, output="sos")
    fan, rubbing = (
        fan / np.std(filters.sosfilt(inside, fan)),
        rubbing / np.std(filters.sosfilt(inside, rubbing)),
    )
    wander = np.interp(t, np.arange(0.0, duration + 2.0), rng.normal(0.0, 0.5, int(duration) + 2))
    pulse = 1.0 + 0.3 * np.sin(2 * np.pi * 700.0 / 60.0 * t)
    excess = np.sqrt(10 ** (run.contrast / 10.0) - 1.0)
    # Fading goes steadily in decibels, down to 15 dB under what remains; that is its end.
    least = 20.0 * np.log10(excess) + 15.0
    if run.fade:
        fading = np.clip((t - (run.quiet - run.fade)) / run.fade, 0.0, 1.0) * least
    else:
        fading = np.zeros(size)
    envelope = excess * 10 ** (-(fading + wander) / 20.0) * pulse / np.sqrt(1.045)
    envelope[t >= run.quiet] = 0.0
    hum = 3.0 * sum(np.sin(2 * np.pi * f * t + f) / n for n, f in enumerate((50.0, 100.0, 150.0), start=1))
    sound = fan + hum + envelope * rubbing
    sound += np.where(t < run.squeal, 4.0 * excess * np.sin(2 * np.pi * 1900.0 * t), 0.0)
    for when in rng.uniform(1.0, duration - 1.0, run.knocks):
        sound += 15.0 * np.exp(-np.abs(t - when) / 0.01) * (t >= when) * rubbing
    return run.gain * sound / 3.0


def drawn(number: int) -> list[Run]:
    """Runs as they come: down to 6 dB, some fading, some squealing at first, some with knocks."""
    rng = np.random.default_rng(number)
    return [
        Run(
            seed=1000 + index,
            quiet=float(rng.uniform(8.0, 54.0)),
            contrast=float(rng.uniform(6.0, 20.0)) if index % 3 else 6.0,
            fade=float(rng.uniform(0.0, 2.0)) if index % 2 else 0.0,
            squeal=float(rng.uniform(2.0, 6.0)) if index % 4 == 0 else 0.0,
            knocks=int(rng.integers(0, 5)),
        )
        for index in range(number)
    ]


def heard_errors(runs: list[Run]) -> tuple[np.ndarray, float, int]:
    heard = [hear_quiet(recording(run), RATE, DURATION) for run in runs]
    taken = [(one, run) for one, run in zip(heard, runs, strict=True) if one.accepted]
    errors = np.array([one.quiet_time - run.quiet for one, run in taken])
    covered = np.mean([one.low - 0.2 <= run.quiet <= one.high + 0.2 for one, run in taken])
    return errors, float(covered), len(taken)


def test_quiet_times_are_found():
    errors, _, taken = heard_errors(drawn(8))
    assert taken == 8
    assert np.median(np.abs(errors)) < 0.5


@pytest.mark.slow
def test_quiet_times_of_many_recordings_are_found():
    errors, covered, taken = heard_errors(drawn(60))
    assert taken >= 57
    assert np.median(np.abs(errors)) < 0.5
    assert np.quantile(np.abs(errors), 0.95) < 2.0
    assert covered > 0.9  # frames of 0.1 s allowed for


@pytest.mark.slow
def test_at_six_decibel_too():
    """A quiet time is heard in all of 20 recordings whose noise falls by 6 dB only."""
    runs = [Run(seed, 8.0 + 45.0 * seed / 20, 6.0, knocks=2) for seed in range(20)]
    errors, _, taken = heard_errors(runs)
    assert taken == 20
    assert np.median(np.abs(errors)) < 0.5


def test_what_is_told_of_a_run():
    heard = hear_quiet(recording(Run(3, quiet=20.0, contrast=12.0)), RATE, DURATION)
    # One window of the level, half a second.
    assert heard.quiet_time == pytest.approx(20.0, abs=0.5)
    assert heard.low <= heard.quiet_time <= heard.high
    assert heard.contrast == pytest.approx(12.0, abs=1.0)
    assert heard.scrape_share == pytest.approx(20.0 / 60.0, abs=0.02)
    assert heard.contrast == pytest.approx(heard.noise_level - heard.quiet_level)


def test_a_later_start_moves_the_time_and_a_gain_does_not():
    sound = recording(Run(4, quiet=30.0, contrast=10.0))
    plain = hear_quiet(sound, RATE).quiet_time
    # A tenth of a window; a shifted start moves the windows too.
    assert hear_quiet(0.2 * sound, RATE).quiet_time == pytest.approx(plain, abs=0.05)
    assert hear_quiet(sound[5 * RATE :], RATE).quiet_time == pytest.approx(plain - 5.0, abs=0.2)


def test_a_wider_confidence_is_a_wider_interval():
    sound = recording(Run(5, quiet=30.0, contrast=6.0, fade=2.0))
    narrow, wide = (hear_quiet(sound, RATE, confidence=confidence) for confidence in (0.5, 0.99))
    assert wide.high - wide.low > narrow.high - narrow.low


@pytest.mark.parametrize(
    ("sound", "reason"),
    [
        (recording(Run(1, quiet=60.0, contrast=10.0)), "no change"),
        (recording(Run(1, quiet=0.0, contrast=10.0)), "no change"),
        (recording(Run(1, quiet=30.0, contrast=1.5)), "no change"),
        (recording(Run(1, quiet=30.0, contrast=10.0))[::-1], "came back"),
        (np.zeros(60 * RATE), "silent"),
        (np.full(60 * RATE, 0.3), "silent"),
        (recording(Run(1, quiet=30.0, contrast=10.0))[: 30 * RATE], "too short"),
        (np.tile(recording(Run(1, quiet=30.0, contrast=10.0)), 2), "too long"),
        (np.clip(recording(Run(1, quiet=30.0, contrast=15.0, gain=1.0)), -0.9, 0.9), "clipped"),
        (np.full(60 * RATE, np.nan), "damaged"),
    ],
)
def test_a_recording_that_cannot_tell_is_refused_in_words(sound, reason):
    heard = hear_quiet(sound, RATE, DURATION)
    assert not heard.accepted
    assert reason in heard.reason
    assert (heard.quiet_time, heard.low, heard.high, heard.scrape_share) == (None, None, None, None)


@pytest.mark.parametrize("seed", range(3))
def test_a_noise_that_only_fades_has_no_end(seed):
    sound = recording(Run(seed, quiet=59.0, contrast=12.0, fade=58.0))
    ringing = np.arange(sound.size) / RATE
    telephone = (ringing > 38.0) & (ringing < 41.0) & (ringing % 1.0 < 0.7)
    sound += np.where(telephone, 0.08 * np.sin(2 * np.pi * 1100.0 * ringing), 0.0)
    assert not hear_quiet(sound, RATE, DURATION).accepted


def test_short_and_slow_recordings_are_refused():
    assert "too short" in recording_fault(np.ones(100), RATE)
    assert "sampled too slowly" in recording_fault(np.ones(60000), 1000.0)
    with pytest.raises(ValueError, match="does not fit"):
        band_level(np.ones(60000), 1000.0)
    with pytest.raises(ValueError, match="shorter than a frame"):
        band_level(np.ones(10), RATE)


def test_a_tone_or_noise_of_full_scale_is_not_clipped():
    t = np.arange(RATE) / RATE
    assert not is_clipped(np.sin(2 * np.pi * 440.0 * t))
    assert is_clipped(np.clip(1.4 * np.sin(2 * np.pi * 440.0 * t), -1, 1))
    assert not is_clipped(recording(Run(1, quiet=30.0, contrast=10.0, gain=0.2)))


def test_hum_under_the_band_does_not_count():
    t = np.arange(10 * RATE) / RATE
    noise = np.random.default_rng(1).normal(0.0, 0.01, t.size)
    hum = 0.5 * np.sin(2 * np.pi * 100.0 * t)
    quiet, humming = (band_level(one, RATE).level[5:-5] for one in (noise, noise + hum))
    # A tenth of a decibel, which nobody hears.
    assert np.allclose(quiet, humming, atol=0.1)


def test_stretches_of_a_known_level():
    """Three stretches of known level are told apart at the right places."""
    rng = np.random.default_rng(6)
    level = np.concatenate([np.full(150, 8.0), np.full(60, 14.0), np.full(240, 2.0)]) + rng.normal(
        0, 0.5, 450
    )
    found = stretches(level)
    # Mean of 60 to 240 values with noise of 0.5 dB; stops within three values.
    assert [one.level for one in found] == pytest.approx([8.0, 14.0, 2.0], abs=0.3)
    assert [one.stop for one in found] == pytest.approx([150, 210, 450], abs=3)


@pytest.mark.parametrize("subtype", ["PCM_U8", "PCM_16", "PCM_24", "FLOAT"])
def test_recordings_of_any_depth_are_read(tmp_path, subtype):
    sound = recording(Run(7, quiet=25.0, contrast=10.0))
    soundfile.write(tmp_path / "a.wav", np.column_stack([sound, sound]), RATE, subtype=subtype)
    samples, rate = read_recording(tmp_path / "a.wav")
    assert (samples.shape, rate) == ((60 * RATE,), 8000.0)
    # One window of the level, half a second.
    assert hear_quiet(samples, rate, DURATION).quiet_time == pytest.approx(25.0, abs=0.5)


def test_a_file_that_is_no_sound_is_refused(tmp_path):
    (tmp_path / "a.wav").write_text("not a recording")
    with pytest.raises(ValueError, match="not readable"):
        read_recording(tmp_path / "a.wav")


def test_loudness_needs_equal_gain():
    levels = {"a": -30.0, "b": -33.5}
    assert relative_loudness(levels, "b", equal_gain=True) == {"a": 3.5, "b": 0.0}
    with pytest.raises(ValueError, match="equal_gain"):
        relative_loudness(levels, "b", equal_gain=False)
    with pytest.raises(ValueError, match="reference"):
        relative_loudness(levels, "c", equal_gain=True)


def test_channels_of_opposite_phase_are_heard(tmp_path):
    sound = recording(Run(8, quiet=25.0, contrast=10.0))
    soundfile.write(tmp_path / "a.wav", np.column_stack([sound, -sound]), RATE)
    samples, _ = read_recording(tmp_path / "a.wav")
    assert np.std(samples) == pytest.approx(np.std(sound), rel=1e-3)
    assert hear_quiet(samples, RATE, DURATION).quiet_time == pytest.approx(25.0, abs=0.5)


def test_an_overdriven_squeal_at_first_is_tolerated_and_said():
    run = Run(9, quiet=35.0, contrast=12.0, squeal=4.0)
    sound = recording(run)
    limit = float(np.quantile(np.abs(sound[4 * RATE :]), 0.9999))
    clipped = np.clip(sound / limit, -1.0, 1.0)
    assert is_clipped(clipped)
    heard = hear_quiet(clipped, RATE, DURATION)
    assert heard.quiet_time == pytest.approx(35.0, abs=0.5)
    assert "overdriven" in heard.note


@pytest.mark.parametrize("seed", range(4))
def test_a_slow_fade_is_an_interval_and_no_moment(seed):
    quiet = 30.0 + 4.0 * seed
    heard = hear_quiet(recording(Run(seed, quiet=quiet, contrast=14.0, fade=20.0)), RATE, DURATION)
    assert not heard.accepted
    assert heard.faded
    assert heard.quiet_time is None
    # the fade goes on 15 dB below what remains, where nothing is heard of it: a tenth of its length
    assert quiet - 20.0 - 3.0 < heard.low < quiet - 8.0
    assert quiet - 9.0 < heard.high < quiet + 5.0
    assert f"between {heard.low:.0f} and {heard.high:.0f} s" in heard.reason


def test_after_a_pause_the_last_end_of_the_noise_counts_and_a_telephone_is_left_out():
    t = np.arange(60 * RATE) / RATE
    paused = recording(Run(11, quiet=40.0, contrast=12.0))
    still = recording(Run(11, quiet=0.0, contrast=12.0))
    back = np.where((t > 28.0) & (t < 36.5), still, paused)  # silent for 8.5 s, then rubbing for 3.5 s
    assert hear_quiet(back, RATE, DURATION).quiet_time == pytest.approx(40.0, abs=0.5)
    rings = (t > 36.5) & (t < 40.0)
    telephone = np.where(t > 28.0, still, paused)
    telephone += np.where(rings, np.std(paused) * np.sin(2 * np.pi * 1100.0 * t), 0.0)
    heard = hear_quiet(telephone, RATE, DURATION)
    # what rings after the end at 28 s is no scrape: it is left out, and the end is read
    assert heard.quiet_time == pytest.approx(28.0, abs=0.5)
    assert heard.low - 0.2 <= 28.0 <= heard.high + 0.2
    assert heard.quiet_level == pytest.approx(
        hear_quiet(np.where(t > 28.0, still, paused), RATE).quiet_level, abs=0.2
    )


def test_one_product_with_the_spectrum_is_the_filter_run_both_ways():
    """The band's squared gain is that of scipy's Butterworth filter, forwards and backwards (sosfiltfilt)."""
    noise = np.random.default_rng(3).normal(0.0, 0.1, 20 * RATE)
    sections = filters.butter(4, (500.0, 3600.0), btype="bandpass", fs=RATE, output="sos")
    passed = filters.sosfiltfilt(sections, noise).reshape(-1, RATE // 10)
    wanted = 10.0 * np.log10(np.mean(passed**2, axis=1))
    found = band_level(noise, RATE, weighted=False).level
    # the first and last frames differ, since the two begin differently
    assert np.allclose(found[3:-3], wanted[3:-3], atol=0.01)


def longer_than_the_run(seed, before, after, loud=10.0):
    """A run of 60 s with the drive off before and after: only the room is heard there."""
    rng = np.random.default_rng([7, seed])
    room = 0.002 * rng.standard_normal(round((before + DURATION + after) * RATE))
    room[round(before * RATE) : round((before + DURATION) * RATE)] += recording(
        Run(seed, quiet=30.0 + seed, contrast=loud)
    )
    return room


@pytest.mark.parametrize("seed", range(3))
def test_a_recording_that_began_before_the_run_is_counted_from_where_the_noise_sets_in(seed):
    heard = hear_quiet(longer_than_the_run(seed, 7.0 + seed, 11.0), RATE, DURATION)
    assert heard.accepted
    # the start is heard to a few frames of 0.1 s
    assert heard.quiet_time == pytest.approx(30.0 + seed, abs=0.6)
    assert heard.low <= 30.0 + seed <= heard.high
    assert f"began {7 + seed}." in heard.note or f"began {6 + seed}." in heard.note


def test_a_trial_before_the_run_leaves_its_start_unsure():
    sound = longer_than_the_run(1, 20.0, 5.0)
    sound[2 * RATE : 8 * RATE] = sound[25 * RATE : 31 * RATE]
    heard = hear_quiet(sound, RATE, DURATION)
    assert not heard.accepted
    assert "isn't heard for sure" in heard.reason
