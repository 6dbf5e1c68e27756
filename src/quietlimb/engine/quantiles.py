"""Quantiles of finite values, by straight lines between neighbours, without the many checks that numpy makes.

A reading asks for dozens of them, mostly of short arrays, where numpy's checks take ten times as long as the sorting.
Nothing here may hold nan: sorted last, it would shift every quantile unseen.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

SORTED_UP_TO = 500  # values: to sort more takes longer than to part them


def median(values: Array) -> float:
    """Median of (n,) values, n >= 1."""
    if values.size > SORTED_UP_TO:
        return quantile(values, 0.5)
    ordered, half = np.sort(values), values.size // 2
    return float(ordered[half] if values.size % 2 else 0.5 * (ordered[half - 1] + ordered[half]))


def medians(rows: Array) -> Array:
    """Median of each row. (..., n) -> (...), n >= 1"""
    ordered, half = np.sort(rows, axis=-1), rows.shape[-1] // 2
    return np.asarray(ordered[..., half] if rows.shape[-1] % 2 else 0.5 * (ordered[..., half - 1] + ordered[..., half]))


def quantile(values: Array, share: float) -> float:
    """Quantile of (n,) values, n >= 1, at a share of 0 to 1."""
    low, part = _place(values.size, share)
    if values.size < 2:
        return float(values[0])
    parted = np.partition(values, (low, low + 1))
    return float(parted[low] + part * (parted[low + 1] - parted[low]))


def running_median(values: Array, width: int) -> Array:
    """Median of the `width` values around each, an odd number; the first and the last stand for what lies beyond."""
    return medians(np.lib.stride_tricks.sliding_window_view(with_ends(values, width // 2), width))


def high_quantiles(padded: Array, width: int, stride: int, share: float) -> Array:
    """Quantile, near the top, of every window of `width` values that begins at a multiple of `stride`.

    Of each `stride` values only the highest can be among the highest of a window, so that most are put aside once
    instead of anew in each window.
    """
    low, part = _place(width, share)
    highest = width - low  # so many are at or above the quantile
    windows = (padded.size - width) // stride + 1
    whole, rest = divmod(width, stride)
    if highest >= stride or whole == 0:
        every = np.lib.stride_tricks.sliding_window_view(padded, width)[::stride]
        parted = np.partition(every, (low, low + 1), axis=1)
        return np.asarray(parted[:, low] + part * (parted[:, low + 1] - parted[:, low]))
    blocks = padded[: (windows - 1 + whole) * stride].reshape(-1, stride)
    top = np.partition(blocks, stride - highest, axis=1)[:, stride - highest :]
    candidates = np.lib.stride_tricks.sliding_window_view(top.ravel(), whole * highest)[::highest]
    if rest:
        after = np.lib.stride_tricks.sliding_window_view(padded[whole * stride :], rest)[::stride][:windows]
        candidates = np.concatenate((candidates, after), axis=1)
    k = candidates.shape[1] - highest
    parted = np.partition(candidates, (k, k + 1), axis=1)
    return np.asarray(parted[:, k] + part * (parted[:, k + 1] - parted[:, k]))


def with_ends(values: Array, reach: int) -> Array:
    """The values with the first and the last repeated `reach` times."""
    return np.concatenate((np.full(reach, values[0]), values, np.full(reach, values[-1])))


def _place(size: int, share: float) -> tuple[int, float]:
    """Index below the quantile, and how far behind it the quantile lies."""
    place = share * (size - 1)
    low = min(int(place), max(size - 2, 0))
    return low, place - low
