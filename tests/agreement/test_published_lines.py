"""Lines, concordance and intraclass correlation against published data and other programs.

Oracle: Bland & Altman 1999 and Shrout & Fleiss 1979, Psychol Bull 86: 420-428, recomputed from their data; concordance
and intraclass correlation confirmed with R epiR 2.0.57 and psych 2.2.9. Tolerance: half of the last digit.
"""

from __future__ import annotations

import numpy as np
import pytest

from agreement import published
from quietlimb.agreement.concordance import concordance
from quietlimb.agreement.correlation import correlation
from quietlimb.agreement.intraclass import intraclass, intraclass_of_pairs
from quietlimb.agreement.regression import deming, passing_bablok
from quietlimb.engine.errors import PairsError

DEMING = {
    "JS": (1.08050, 5.9461, 2.22256, 0.99320, 17.1687),
    "RS": (1.08948, 5.0995, 2.18906, 1.00218, 16.2963),
    "JR": (0.99330, 0.5792, 1.01531, 0.99328, 0.5814),
}
PASSING_BABLOK = {
    "JS": ((1.01450, 0.91935, 1.16667), (12.5937, -6.6667, 25.0323)),
    "RS": ((1.02564, 0.92308, 1.15), (10.4359, -4.40, 23.3077)),
    "JR": ((1.0, 1.0, 1.0), (0.0, 0.0, 0.0)),
}
CONCORDANCE = {
    "JS": (0.81977, 0.72589, 0.6234, 0.8038),
    "RS": (0.81882, 0.72135, 0.6182, 0.8001),
    "JR": (0.99774, 0.99768, 0.9964, 0.9985),
}
SHROUT_FLEISS = np.array([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]], float)


@published.needs_data
@pytest.mark.parametrize("who", ["JS", "RS", "JR"])
def test_lines_through_85_people(who: str) -> None:
    """Deming's with equal errors and with the ratio of the variances within people; that of Passing and Bablok."""
    pairs = published.first_pairs(who[1], who[0])
    slope, intercept, ratio, of_ratio, intercept_of_ratio = DEMING[who]
    equal, weighted = deming(pairs), deming(pairs, error_ratio=ratio)
    assert equal.slope.estimate == pytest.approx(slope, abs=5e-6)
    assert equal.intercept.estimate == pytest.approx(intercept, abs=5e-5)
    assert weighted.slope.estimate == pytest.approx(of_ratio, abs=1e-5)
    assert weighted.intercept.estimate == pytest.approx(intercept_of_ratio, abs=1e-3)  # the ratio has six digits
    ranked = passing_bablok(pairs)
    for found, (estimate, low, high) in zip((ranked.slope, ranked.intercept), PASSING_BABLOK[who], strict=True):
        assert (found.estimate, found.low, found.high) == pytest.approx((estimate, low, high), abs=5e-5)


@published.needs_data
@pytest.mark.parametrize("who", ["JS", "RS", "JR"])
def test_concordance_of_85_people(who: str) -> None:
    """Pearson's and Lin's coefficient, and Lin's interval."""
    pairs = published.first_pairs(*who)
    r, estimate, low, high = CONCORDANCE[who]
    assert correlation(pairs).pooled.estimate == pytest.approx(r, abs=5e-6)
    found = concordance(pairs)
    assert found.estimate == pytest.approx(estimate, abs=6e-6)
    assert (found.low, found.high) == pytest.approx((low, high), abs=6e-5)


@published.needs_data
@pytest.mark.parametrize(
    ("who", "value", "low", "high"),
    [("J", 0.96154, 0.94548, 0.97357), ("R", 0.96023, 0.94365, 0.97267), ("S", 0.92203, 0.89072, 0.94597)],
)
def test_intraclass_correlation_of_three_readings(who: str, value: float, low: float, high: float) -> None:
    """One-way, of a single value."""
    found = intraclass(published.systolic(who)).one_way_single
    assert (found.estimate, found.low, found.high) == pytest.approx((value, low, high), abs=6e-6)


@published.needs_data
def test_intraclass_correlation_of_three_raters() -> None:
    """Two-way forms of the first readings of J, R and S."""
    found = intraclass(np.column_stack([published.systolic(who)[:, 0] for who in "JRS"]))
    assert found.two_way_single.estimate == pytest.approx(0.80560, abs=5e-6)
    assert found.consistency_single.estimate == pytest.approx(0.87481, abs=5e-6)
    pair = intraclass_of_pairs(published.first_pairs("J", "S"))
    twin = intraclass(np.column_stack([published.systolic(who)[:, 0] for who in "JS"]))
    assert pair.two_way_single == twin.two_way_single


def test_the_table_of_shrout_and_fleiss() -> None:
    """Six targets and four judges: six forms, three with intervals.

    Oracle: published, .17 .29 .71 .44 .62 .91 (from memory); further digits by R psych 2.2.9 and pingouin 0.7.0.
    """
    found = intraclass(SHROUT_FLEISS)
    for each, told in (
        (found.one_way_single, (0.16574, -0.13293, 0.72256)),
        (found.two_way_single, (0.28976, 0.01879, 0.76108)),
        (found.consistency_single, (0.71484, 0.34246, 0.94586)),
    ):
        assert (each.estimate, each.low, each.high) == pytest.approx(told, abs=6e-6)
    averages = (found.one_way_average, found.two_way_average, found.consistency_average)
    assert [each.estimate for each in averages] == pytest.approx([0.44280, 0.62005, 0.90932], abs=5e-6)


def test_tables_that_tell_nothing_are_refused() -> None:
    """One rater, one target, raters who never differ.

    Oracle: by construction.
    """
    for table in (SHROUT_FLEISS[:, :1], SHROUT_FLEISS[:1], np.ones((3, 2))):
        with pytest.raises(PairsError):
            intraclass(table)
