"""The published data that the statistics are held against, where they are at hand.

They are not part of the project. QUIETLIMB_ORACLE_DATA names the folder that holds them.
"""

from __future__ import annotations

import csv
import os
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from quietlimb.agreement.pairs import Pairs, Truth
from quietlimb.engine.errors import PairsError

__all__ = ["Pairs", "PairsError"]

FOLDER = os.environ.get("QUIETLIMB_ORACLE_DATA")
needs_data = pytest.mark.skipif(
    not FOLDER, reason="QUIETLIMB_ORACLE_DATA is not set: it names the folder with the published data"
)


def rows(name: str) -> list[dict[str, str]]:
    """The rows of one file."""
    with (Path(str(FOLDER)) / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def systolic(who: str) -> NDArray[np.float64]:
    """(85, 3) systolic pressures by J, R or S: Bland and Altman 1999, table 1."""
    return np.array([[float(r[f"{who}{k}"]) for k in (1, 2, 3)] for r in rows("bland-altman-1999-systolic.csv")])


def first_pairs(tested: str, reference: str) -> Pairs:
    """The first of the three readings of each, as pairs."""
    return Pairs(
        quantity="systolic",
        animal=[str(i) for i in range(85)],
        tested=systolic(tested)[:, 0],
        reference=systolic(reference)[:, 0],
        truth="single",
    )


def all_pairs(tested: str, reference: str, truth: Truth) -> Pairs:
    """All three readings of each."""
    return Pairs(
        quantity="systolic",
        animal=[str(i) for i in range(85) for _ in range(3)],
        tested=systolic(tested).ravel(),
        reference=systolic(reference).ravel(),
        truth=truth,
    )


def cardiac_output(truth: Truth) -> Pairs:
    """Unequal numbers of pairs in twelve people: Bland and Altman 1999, table 4."""
    table = rows("bland-altman-1999-cardiac-output.csv")
    return Pairs(
        quantity="cardiac output",
        animal=[r["subject"] for r in table],
        tested=[float(r["RV_l_per_min"]) for r in table],
        reference=[float(r["IC_l_per_min"]) for r in table],
        truth=truth,
        unit="l/min",
    )


def peak_flow(name: str) -> NDArray[np.float64]:
    """(17, 2) peak flows by the "large" or "mini" meter: Bland and Altman 1986."""
    table = rows("bland-altman-1986-peak-flow.csv")
    return np.array([[float(r[f"{name}_{k}"]) for k in ("first", "second")] for r in table])
