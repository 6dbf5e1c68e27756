"""Thinning keeps what the eye sees."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from quietlimb.figures.trace import thin_trace


@given(st.integers(1, 20_000), st.integers(0, 2**32 - 1))
def test_peak_trough_and_ends_survive(n: int, seed: int) -> None:
    """Of any trace at most 1500 samples stay, in order, with both ends, the highest and the lowest among them.

    Oracle: by construction.
    """
    values = np.random.default_rng(seed).normal(100.0, 20.0, n)
    index = thin_trace(values, 1500)
    assert index.size == min(n, index.size) <= 1500
    assert (np.diff(index) > 0).all()
    assert index[0] == 0
    assert index[-1] == n - 1
    assert {int(values.argmax()), int(values.argmin())} <= set(index.tolist())


def test_a_single_spike_in_a_long_flat_trace_is_kept() -> None:
    """One sample in 100 000 that jumps is still drawn: every second of 200 Hz holds a pulse somewhere.

    Oracle: by construction.
    """
    values = np.zeros(100_000)
    values[54_321] = 30.0
    assert 54_321 in thin_trace(values, 1500)
