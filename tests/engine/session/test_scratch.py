"""Memory that is used again."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np

from engine.session.examples import series_of
from quietlimb.engine.session.charting import chart
from quietlimb.engine.session.scratch import Scratch


def test_memory_is_used_again_and_grows() -> None:
    """A smaller array stands where a larger one stood; another name stands elsewhere. Oracle: by construction."""
    scratch = Scratch()
    first = scratch.array("a", (4, 5), np.float64)
    smaller = scratch.array("a", (3,), np.float32)
    assert np.shares_memory(first, smaller)
    assert (smaller.shape, smaller.dtype) == ((3,), np.float32)
    assert not np.shares_memory(first, scratch.array("b", (4, 5), np.float64))
    assert not np.shares_memory(first, scratch.array("a", (40, 5), np.float64))


def test_threads_do_not_write_into_each_other() -> None:
    """Series charted at the same time by several threads are charted as one after the other.

    Oracle: by construction, the same series charted alone. Tolerance: exact.
    """
    rng = np.random.default_rng(3)
    many = [series_of(np.round(rng.normal(150.0, 12.0, 3 + k % 7)).tolist()) for k in range(24)]
    alone = [chart(series).systolic for series in many]
    with ThreadPoolExecutor(4) as pool:
        together = [charted.systolic for charted in pool.map(chart, many)]
    assert together == alone
