"""Bias, limits and repeatability against the data of Bland and Altman.

Oracle of every test with data: published. Bland & Altman 1986, Lancet i: 307-310, and 1999, Stat Methods Med Res 8:
135-160. What the authors print is from memory; the further digits were recomputed from the data by other programs (R
4.2.2 among them). Tolerance: half of the last digit, unless said otherwise.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from agreement import published
from quietlimb.agreement.components import one_way
from quietlimb.agreement.differences import bias_of, variance_interval
from quietlimb.agreement.limits import limit_factors, limits_of_agreement, rough_se_of_limit, tolerance_factor
from quietlimb.agreement.pairs import Replicates
from quietlimb.agreement.repeatability import repeatability, repeatability_of
from quietlimb.agreement.spread import spread_of
from quietlimb.engine.values import TWO_SIDED_95

FIRST_READINGS = {
    "JS": (-16.2941, 19.6110, -54.732, 22.143, 2.1271, 3.6843, 3.6495),
    "RS": (-16.5765, 19.6204, -55.033, 21.880, 2.1281, 3.6860, 3.6513),
    "JR": (0.2824, 2.1191, -3.871, 4.436, 0.2299, 0.3981, 0.3944),
}
T_INTERVALS = {
    "JS": ((-20.524, -12.064), (-61.989, -47.474), (14.886, 29.401)),
    "RS": ((-20.808, -12.344), (-62.293, -47.772), (14.619, 29.141)),
    "JR": ((-0.175, 0.739), (-4.655, -3.087), (3.652, 5.220)),
}
CONSTANT = {
    "JS": (-15.6196, 358.4925, 438.8585, 20.9489, -56.6795, 25.4403, 3.3180),
    "RS": (-15.7059, 353.1651, 433.9128, 20.8306, -56.5338, 25.1220, 3.2901),
    "JR": (0.0863, 1.7861, 52.0449, 7.2142, -14.0536, 14.2261, 0.5446),
}
MOVER = {
    "JS": ((350.37, 578.62), (-63.976, -50.736), (19.497, 32.737)),
    "RS": ((346.71, 571.63), (-63.769, -50.640), (19.228, 32.357)),
    "JR": ((45.54, 61.03), (-15.259, -13.097), (13.269, 15.431)),
}
LINKED = {
    "JS": (1075.4774, 88.4235, 329.0180, 20.4314, -55.6651, 24.4259),
    "RS": (1059.4953, 86.4549, 324.3468, 20.2682, -55.4316, 24.0199),
    "JR": (5.3584, 4.9882, 0.1234, 2.2609, -4.3451, 4.5176),
}


@published.needs_data
@pytest.mark.parametrize("who", ["JS", "RS", "JR"])
def test_first_readings_of_85_people(who: str) -> None:
    """One pair each: bias, SD, limits, their standard errors, and the t intervals."""
    found = limits_of_agreement(published.first_pairs(*who))
    mean, sd, lower, upper, se_mean, rough, se_limit = FIRST_READINGS[who]
    assert found.bias.estimate == pytest.approx(mean, abs=5e-5)
    assert found.sd == pytest.approx(sd, abs=5e-5)
    assert (found.lower.estimate, found.upper.estimate) == pytest.approx((lower, upper), abs=5e-4)
    assert math.sqrt(found.spread.mean_variance) == pytest.approx(se_mean, abs=5e-5)
    assert rough_se_of_limit(found.sd, 85) == pytest.approx(rough, abs=5e-5)
    assert found.se_of_limit == pytest.approx(se_limit, abs=5e-5)
    for each, ends in zip((found.bias, *found.approximate()), T_INTERVALS[who], strict=True):
        assert (each.low, each.high) == pytest.approx(ends, abs=5e-4)


@published.needs_data
def test_exact_intervals_of_the_limits() -> None:
    """Of J minus S, by the noncentral t law."""
    found = limits_of_agreement(published.first_pairs("J", "S"))
    assert found.how == "noncentral t"
    assert (found.upper.low, found.upper.high) == pytest.approx((15.794, 30.368), abs=0.0015)
    assert (found.lower.low, found.lower.high) == pytest.approx((-62.957, -48.383), abs=5e-4)


@published.needs_data
@pytest.mark.parametrize("who", ["JS", "RS", "JR"])
def test_replicates_of_a_constant_truth(who: str) -> None:
    """The scatter that averaging took away is added again, and the intervals are joined from their parts.

    The joined intervals were made with the multiplier 1.95996 in place of 1.96.
    """
    found = limits_of_agreement(published.all_pairs(*who, truth="constant"))
    mean, of_means, variance, sd, lower, upper, se = CONSTANT[who]
    assert found.how == "MOVER"
    assert found.bias.estimate == pytest.approx(mean, abs=5e-5)
    assert found.spread.parts[0].variance == pytest.approx(of_means, abs=5e-5)
    assert found.spread.variance == pytest.approx(variance, abs=5e-5)
    assert found.sd == pytest.approx(sd, abs=5e-5)
    assert (found.lower.estimate, found.upper.estimate) == pytest.approx((lower, upper), abs=6e-5)
    assert found.se_of_limit == pytest.approx(se, abs=5e-5)
    of_variance, of_lower, of_upper = MOVER[who]
    assert variance_interval(found.spread) == pytest.approx(of_variance, abs=5e-3)
    joined = limits_of_agreement(published.all_pairs(*who, truth="constant"), multiplier=TWO_SIDED_95)
    assert (joined.lower.low, joined.lower.high) == pytest.approx(of_lower, abs=6e-4)
    assert (joined.upper.low, joined.upper.high) == pytest.approx(of_upper, abs=6e-4)


@published.needs_data
@pytest.mark.parametrize("who", ["JS", "RS", "JR"])
def test_linked_pairs(who: str) -> None:
    """Two parts of the scatter by one-way analysis of variance, and their sum."""
    pairs = published.all_pairs(*who, truth="changing")
    table = one_way(pairs.difference, pairs.index)
    between_ms, within_ms, between, sd, lower, upper = LINKED[who]
    assert table.between_ms == pytest.approx(between_ms, abs=5e-5)
    assert table.within_ms == pytest.approx(within_ms, abs=5e-5)
    assert table.between_variance == pytest.approx(between, abs=6e-5)
    found = limits_of_agreement(pairs)
    assert found.sd == pytest.approx(sd, abs=5e-5)
    assert (found.lower.estimate, found.upper.estimate) == pytest.approx((lower, upper), abs=6e-5)


@published.needs_data
@pytest.mark.parametrize(
    ("who", "variance", "sd", "coefficient"),
    [("J", 37.4078, 6.1162, 16.953), ("R", 37.9804, 6.1628, 17.082), ("S", 83.1412, 9.1182, 25.274)],
)
def test_repeatability_in_85_people(who: str, variance: float, sd: float, coefficient: float) -> None:
    """Scatter within people, and 1.96 sqrt(2) of it."""
    found = repeatability_of(tuple(published.systolic(who)))
    assert found.within_sd.estimate**2 == pytest.approx(variance, abs=5e-5)
    assert found.within_sd.estimate == pytest.approx(sd, abs=5e-5)
    assert found.coefficient.estimate == pytest.approx(coefficient, abs=5e-4)
    assert (found.df, found.animals, found.values) == (170, 85, 255)


@published.needs_data
def test_peak_flow_in_17_people() -> None:
    """Limits with 2 standard deviations and with 1.96, and the repeatability of either meter."""
    large, mini = published.peak_flow("large"), published.peak_flow("mini")
    pairs = published.Pairs(
        quantity="peak flow",
        animal=[str(i) for i in range(17)],
        tested=large[:, 0],
        reference=mini[:, 0],
        truth="single",
        unit="l/min",
    )
    found = limits_of_agreement(pairs, multiplier=2.0)
    assert found.bias.estimate == pytest.approx(-2.1176, abs=5e-5)
    assert found.sd == pytest.approx(38.7651, abs=5e-5)
    assert (found.lower.estimate, found.upper.estimate) == pytest.approx((-79.648, 75.413), abs=5e-4)
    usual = limits_of_agreement(pairs)
    assert (usual.lower.estimate, usual.upper.estimate) == pytest.approx((-78.097, 73.862), abs=5e-4)
    assert math.sqrt(found.spread.mean_variance) == pytest.approx(9.4019, abs=5e-5)
    assert rough_se_of_limit(found.sd, 17) == pytest.approx(16.2846, abs=5e-5)
    assert (found.bias.high - found.bias.low) / 2.0 / 9.4019 == pytest.approx(2.1199, abs=5e-5)
    for values, within, twice in ((large, 15.3067, 43.294), (mini, 19.9108, 56.316)):
        of_meter = repeatability_of(tuple(values), multiplier=2.0)
        assert of_meter.within_sd.estimate == pytest.approx(within, abs=6e-5)
        assert of_meter.coefficient.estimate == pytest.approx(twice, abs=6e-4)


@published.needs_data
def test_unequal_replicates_of_cardiac_output() -> None:
    """Twelve people, 60 pairs, unequal numbers, with either belief about the truth."""
    constant = spread_of(published.cardiac_output("constant"))
    assert constant.mean == pytest.approx(0.70924, abs=5e-6)
    assert constant.parts[0].variance == pytest.approx(0.91269, abs=5e-6)
    mean_inverse = 0.209722
    for part, within in zip(constant.parts[1:], (0.107228, 0.137874), strict=True):
        assert part.variance / (1.0 - mean_inverse) == pytest.approx(within, abs=5e-7)
    assert constant.variance == pytest.approx(1.10639, abs=5e-6)
    assert constant.sd == pytest.approx(1.05185, abs=5e-6)
    found = limits_of_agreement(published.cardiac_output("constant"))
    assert (found.lower.estimate, found.upper.estimate) == pytest.approx((-1.35239, 2.77086), abs=5e-6)

    pairs = published.cardiac_output("changing")
    table = one_way(pairs.difference, pairs.index)
    assert (table.mean, table.between_ms, table.within_ms) == pytest.approx((0.60217, 4.20909, 0.170714), abs=5e-6)
    assert (table.size, table.between_variance) == pytest.approx((4.98182, 0.810622), abs=5e-6)
    linked = limits_of_agreement(pairs)
    assert linked.sd == pytest.approx(0.990624, abs=5e-7)
    assert (linked.lower.estimate, linked.upper.estimate) == pytest.approx((-1.33946, 2.54379), abs=5e-6)


@pytest.mark.parametrize(
    ("n", "near", "far", "joint"), [(10, 1.163, 3.801, 3.382), (17, 1.315, 3.148, 2.859), (85, 1.636, 2.379, 2.261)]
)
def test_factors_of_the_exact_interval_and_of_the_tolerance_interval(
    n: int, near: float, far: float, joint: float
) -> None:
    """The factors for 10, 17 and 85 pairs.

    Oracle: derived from Carkeet 2015, Optom Vis Sci 92: e71, and Howe 1969, by another program. Tolerance: half of the
    last digit.
    """
    assert limit_factors(n) == pytest.approx((near, far), abs=6e-4)
    assert tolerance_factor(n) == pytest.approx(joint, abs=6e-4)


def test_the_exact_factors_by_another_law() -> None:
    """(limit - mean) / (sd / sqrt n) follows the noncentral t law: its shares by integrating over chi squared.

    Oracle: by construction. P(mean + k sd < limit) with the mean normal given sd, averaged over a grid of quantiles of
    sd. Tolerance: the grid's.
    """
    n = 12
    near, far = limit_factors(n)
    sds = np.sqrt(stats.chi2.ppf((np.arange(200_000) + 0.5) / 200_000, n - 1) / (n - 1))
    for k, wanted in ((near, 0.975), (far, 0.025)):
        beyond = stats.norm.sf((k * sds - 1.96) * math.sqrt(n))
        assert 1.0 - float(beyond.mean()) == pytest.approx(1.0 - wanted, abs=1e-5)


def test_replicates_need_not_be_equal_in_number_between_methods() -> None:
    """Three values by one method and one by the other: only the first is corrected.

    Oracle: by construction, the formula written out for two animals.
    """
    given = Replicates(
        quantity="systolic",
        animals=("a", "b"),
        tested=(np.array([120.0, 124.0, 122.0]), np.array([150.0, 158.0, 154.0])),
        reference=(np.array([121.0]), np.array([149.0])),
    )
    found = spread_of(given)
    assert found.mean == pytest.approx((1.0 + 5.0) / 2.0)
    within = (8.0 + 32.0) / 4.0
    assert [part.variance for part in found.parts] == pytest.approx([8.0, within * 2.0 / 3.0])
    assert found.pairs == 2
    assert repeatability(given, "tested").within_sd.estimate == pytest.approx(math.sqrt(within))
    with pytest.raises(published.PairsError, match="no animal has two values"):
        repeatability(given, "reference")


def test_one_animal_tells_nothing_of_how_animals_differ() -> None:
    """It is refused, with a remedy.

    Oracle: by construction.
    """
    one = published.Pairs(
        quantity="systolic", animal=["a", "a"], tested=[1.0, 2.0], reference=[1.0, 2.0], truth="changing"
    )
    with pytest.raises(published.PairsError, match="two animals"):
        bias_of(one)
