"""Random streams and the few laws that the simulator draws from."""

from __future__ import annotations

import numpy as np
import pytest

from quietlimb.simulator.draws import autocorrelated, band_noise, log_uniform, streams, truncated_normal


def test_streams_repeat_for_a_seed_and_differ_from_each_other():
    """The same seed gives the same streams; no two streams of it are alike; a generator is advanced.

    Oracle: by construction.
    """
    first, again = ([rng.uniform() for rng in streams(7, 5)] for _ in range(2))
    assert first == again
    assert len(set(first)) == 5
    shared = np.random.default_rng(7)
    assert streams(shared, 1)[0].uniform() != streams(shared, 1)[0].uniform()


def test_streams_do_not_depend_on_how_many_are_asked_for():
    """The first two of five streams are the two of two.

    Oracle: by construction: a session's first recordings stay what they are when more are taken.
    """
    assert [rng.uniform() for rng in streams(7, 2)] == [rng.uniform() for rng in streams(7, 5)][:2]


def test_band_noise_holds_its_band_and_its_size():
    """Noise of 8 to 10 Hz has SD 1 and no power elsewhere.

    Oracle: by construction. Tolerance: 10 % of the SD, 0.1 % of the power at the cut ends of the piece.
    """
    noise = band_noise(np.random.default_rng(1), 60_000, 1000.0, 8.0, 10.0)
    power = np.abs(np.fft.rfft(noise * np.hanning(noise.size))) ** 2
    frequency = np.fft.rfftfreq(noise.size, 0.001)
    assert noise.std() == pytest.approx(1.0, rel=0.1)
    assert power[(frequency < 7.5) | (frequency > 10.5)].sum() < 0.001 * power.sum()


def test_short_band_noise_still_has_the_size_on_average():
    """Pieces of 0.3 s of 1 to 8 Hz noise have mean square 1 over many draws.

    Oracle: by construction. Tolerance: four standard errors, about 0.05 (400 draws of two or so independent values).
    """
    rng = np.random.default_rng(1)
    square = [np.mean(band_noise(rng, 300, 1000.0, 1.0, 8.0) ** 2) for _ in range(400)]
    assert np.mean(square) == pytest.approx(1.0, abs=4 * np.std(square) / 20)


def test_autocorrelated_numbers_have_sd_one_and_their_correlation():
    """Standard deviation 1, correlation 0.6 at lag one.

    Oracle: by construction. Tolerance: four standard errors at 20,000 numbers, at most 0.03.
    """
    values = autocorrelated(np.random.default_rng(1), 20_000, 0.6)
    assert values.std() == pytest.approx(1.0, abs=0.03)
    assert np.corrcoef(values[1:], values[:-1])[0, 1] == pytest.approx(0.6, abs=0.03)


def test_bounded_draws_stay_in_bounds():
    """Truncated normal and log-uniform numbers keep to their limits; the median of the latter is the geometric mean.

    Oracle: by construction. Tolerance: four standard errors of a median of 2,000 numbers.
    """
    rng = np.random.default_rng(1)
    assert all(80.0 <= truncated_normal(rng, 90.0, 30.0, 80.0, 100.0) <= 100.0 for _ in range(200))
    values = [log_uniform(rng, 0.2, 4.0) for _ in range(2000)]
    assert min(values) >= 0.2
    assert max(values) <= 4.0
    assert np.log(np.median(values)) == pytest.approx(np.log(np.sqrt(0.8)), abs=4 * 0.5 * np.log(20.0) / np.sqrt(2000))
