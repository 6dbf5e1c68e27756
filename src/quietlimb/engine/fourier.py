"""Sizes at which a Fourier transform is quick: a large prime takes twenty times as long as its neighbour."""

from __future__ import annotations


def quick_size(least: int, step: int = 1) -> int:
    """The first of least, least + step, least + 2 step ... whose prime factors are all 2, 3, 5 or 7. step : 1 or -1"""
    size = max(least, 1)
    while not _only_small_factors(size):
        size += step
    return size


def _only_small_factors(size: int) -> bool:
    for prime in (2, 3, 5, 7):
        while size % prime == 0:
            size //= prime
    return size == 1
