"""Quantiles of the usual laws, straight from the special functions: a comparison asks for dozens."""

from __future__ import annotations

from scipy.special import chdtri, fdtri, ndtri, stdtrit


def normal_quantile(share: float) -> float:
    """Below which a share of a standard normal law lies."""
    return float(ndtri(share))


def t_quantile(share: float, df: float) -> float:
    """Below which a share of Student's t law lies."""
    return float(stdtrit(df, share))


def chi_squared_quantile(share: float, df: float) -> float:
    """Below which a share of the law of chi squared lies."""
    return float(chdtri(df, 1.0 - share))


def f_quantile(share: float, first_df: float, second_df: float) -> float:
    """Below which a share of the F law lies."""
    return float(fdtri(first_df, second_df, share))
