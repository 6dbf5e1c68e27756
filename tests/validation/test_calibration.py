"""Counting truths inside intervals: right on errors whose law is known, and at least run on readings."""

from __future__ import annotations

from pathlib import Path

import calibration as script
import numpy as np
import pytest

NORMAL = np.random.default_rng(1).normal(size=40000)
HALF_WAY = int(np.argmin(np.abs(script.NOMINAL - 0.50)))
NEARLY_ALL = int(np.argmin(np.abs(script.NOMINAL - 0.95)))


def test_normal_errors_of_the_sd_told_are_calibrated() -> None:
    """Every interval holds what it promises and every bin a tenth, whatever the SDs are.

    Oracle: by construction, normal errors of SD 1 to 9. Tolerance: four binomial standard deviations of 40,000.
    """
    sd = np.linspace(1.0, 9.0, NORMAL.size)
    found = script.calibrated("systolic", NORMAL * sd, sd)
    assert found.n == NORMAL.size
    np.testing.assert_array_less(np.abs(found.observed - script.NOMINAL), 4.0 * found.binomial_sd(script.NOMINAL))
    assert found.bins == pytest.approx(np.full(10, 0.1), abs=4.0 * float(found.binomial_sd(np.array([0.1]))[0]))
    assert found.bins.sum() == pytest.approx(1.0)


def test_sds_twice_too_large_show() -> None:
    """Twice the SD: the 50 % interval holds 82.3 % and the bins heap up in the middle; half of it: 26.4 % and the ends.

    Oracle: by hand, P(|z| < 2 x 0.674) = 0.823 and P(|z| < 0.674 / 2) = 0.264. Tolerance: four binomial SDs, 0.01.
    """
    wide = script.calibrated("mean", NORMAL, np.full(NORMAL.size, 2.0))
    narrow = script.calibrated("mean", NORMAL, np.full(NORMAL.size, 0.5))
    assert wide.observed[HALF_WAY] == pytest.approx(0.823, abs=0.01)
    assert narrow.observed[HALF_WAY] == pytest.approx(0.264, abs=0.01)
    assert min(wide.bins[4:6]) > 0.1 > max(wide.bins[0], wide.bins[-1])
    assert max(narrow.bins[4:6]) < 0.1 < min(narrow.bins[0], narrow.bins[-1])


def test_reading_too_low_heaps_the_upper_end() -> None:
    """Values one SD too low: the truth lies in the upper bins, as the page and the script's own help say.

    Oracle: by construction.
    """
    low = script.calibrated("diastolic", NORMAL - 1.0, np.ones(NORMAL.size))
    assert low.bins[-1] > 0.25
    assert low.bins[0] < 0.02


def test_the_sd_is_that_of_the_interval() -> None:
    """From outcomes: an error of 1.96 SD lies on the edge of the 95 % interval; doubtful readings do not count.

    Oracle: by construction, an interval of width 2 x 1.96 x 3 mmHg.
    """

    def outcome(error: float, verdict: str) -> script.Outcome:
        values = {"systolic": (error, 1.0, 2.0 * 1.959964 * 3.0, 0.0, True)}
        return script.Outcome(
            scenario="",
            noise=1.0,
            rate=1.0,
            family="",
            deflation="",
            species="",
            verdict=verdict,
            values=values,
        )

    found = [outcome(5.8, "keep"), outcome(6.0, "keep"), outcome(0.0, "doubtful")]
    (one,) = script.calibration(found)
    assert one.name == "systolic"
    assert one.n == 2
    assert one.observed[NEARLY_ALL] == pytest.approx(0.5)


def test_a_small_run_prints_and_draws(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Twelve recordings a stratum: a table for each stratum and for all, shares that rise with the interval, a picture.

    Oracle: by construction.
    """
    path = tmp_path / "calibration.svg"
    script.main(["--count", "12", "--seed", "20370101", "--workers", "1", "--picture", str(path)])
    printed = capsys.readouterr().out
    for label in (*script.SCORED, "together"):
        assert f"\n{label}\n" in printed
    rows = [line.split() for line in printed.split("\ntogether\n")[1].splitlines()]
    shares = [row for row in rows if row[0] == "systolic"]
    inside, bins = ([float(cell) for cell in row[2:]] for row in shares)
    assert inside == sorted(inside)
    assert 50.0 < inside[-1] <= 100.0
    assert sum(bins) == pytest.approx(100.0, abs=0.6)
    picture = path.read_text(encoding="utf-8")
    assert picture.startswith("<svg")
    assert "of 36 simulated recordings" in picture
