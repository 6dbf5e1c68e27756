"""Charting held against published repeated readings, where the data are at hand.

The data are not part of the project. QUIETLIMB_ORACLE_DATA names the folder that holds them.
"""

from __future__ import annotations

import csv
import os
from pathlib import Path

import numpy as np
import pytest

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.session.charting import chart
from quietlimb.engine.session.series import series_from_values

FOLDER = os.environ.get("QUIETLIMB_ORACLE_DATA")

pytestmark = pytest.mark.skipif(
    not FOLDER, reason="QUIETLIMB_ORACLE_DATA is not set: it names the folder with the published data"
)


@pytest.fixture(scope="module")
def replicates() -> dict[str, np.ndarray]:
    """(85, 3) systolic pressures of observers J and R and of the machine S."""
    with (Path(str(FOLDER)) / "bland-altman-1999-systolic.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return {who: np.array([[float(row[f"{who}{k}"]) for k in (1, 2, 3)] for row in rows]) for who in "JRS"}


def test_the_data_are_those_of_the_paper(replicates: dict[str, np.ndarray]) -> None:
    """First readings of J minus S have the printed bias and SD.

    Oracle: published, Bland & Altman 1999, Stat Methods Med Res 8: 135-160, table 1; the printed values are from memory
    and agree with the data. Tolerance: half of the last digit.
    """
    difference = replicates["J"][:, 0] - replicates["S"][:, 0]
    assert difference.size == 85
    assert difference.mean() == pytest.approx(-16.29, abs=0.005)
    assert difference.std(ddof=1) == pytest.approx(19.61, abs=0.005)


@pytest.mark.parametrize(("who", "method", "within_sd"), [("J", "doppler", 6.1162), ("S", "oscillometric", 9.1182)])
def test_two_readings_foretell_the_third(
    replicates: dict[str, np.ndarray], who: str, method: str, within_sd: float
) -> None:
    """The interval charted from two readings, widened by the scatter of one, holds the third in 9 of 10 and more.

    Oracle: published, the same data; within-subject SDs recomputed from them by one-way analysis of variance. The prior
    on scatter was made for cats and dogs, so these people are foreign to it. Tolerance: three standard errors of a
    share of 0.95 in 85 are 0.07.
    """
    held = []
    for first, second, third in replicates[who]:
        series = series_from_values(
            circumstances=Circumstances(species="dog", method=method), minute=[0.0, 1.0], systolic=[first, second]
        )
        charted = chart(series).systolic
        assert charted is not None
        reach_up = np.hypot(charted.high - charted.value, 1.96 * within_sd)
        reach_down = np.hypot(charted.value - charted.low, 1.96 * within_sd)
        held.append(charted.value - reach_down <= third <= charted.value + reach_up)
    assert np.mean(held) >= 0.88


def test_the_charted_value_of_three_readings_is_near_their_mean(replicates: dict[str, np.ndarray]) -> None:
    """Charted values of three replicates differ from their means by less than one reading scatters.

    Oracle: published, the same data: within-subject SD of the machine 9.1182. A level at the series' end is less
    precise than the mean of a constant truth, but it must not be worse than a single reading.
    """
    off = []
    for readings in replicates["S"]:
        series = series_from_values(
            circumstances=Circumstances(species="dog"), minute=[0.0, 1.0, 2.0], systolic=readings.tolist()
        )
        charted = chart(series).systolic
        assert charted is not None
        off.append(charted.value - readings.mean())
    assert np.sqrt(np.mean(np.square(off))) < 9.1182
    assert abs(np.mean(off)) < 3 * 9.1182 / np.sqrt(85)
