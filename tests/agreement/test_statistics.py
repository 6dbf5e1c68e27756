"""Each statistic against another program, or against the same thing computed in another way."""

from __future__ import annotations

import math
from itertools import combinations
from typing import Any, get_args

import numpy as np
import pytest
from scipy import stats
from statsmodels.regression.linear_model import OLS
from statsmodels.stats.inter_rater import cohens_kappa
from statsmodels.stats.proportion import proportion_confint

from quietlimb.agreement.categories import category_table, detection, kappa
from quietlimb.agreement.components import one_way
from quietlimb.agreement.concordance import concordance, coverage, deviation
from quietlimb.agreement.correlation import correlation
from quietlimb.agreement.differences import bias_by_range, bias_of, proportional_bias
from quietlimb.agreement.jackknife import jackknife_interval
from quietlimb.agreement.limits import limits_of_agreement
from quietlimb.agreement.pairs import Pairs, Truth
from quietlimb.agreement.regression import deming, deming_line, pairwise_slopes, passing_bablok
from quietlimb.agreement.shares import effective_size, share_of, shares_within, wilson
from quietlimb.agreement.trending import trending
from quietlimb.engine.errors import PairsError, ParameterError


def invented(seed: int, animals: int = 12, each: int = 1, truth: Truth | None = None, **changed: Any) -> Pairs:
    """Pairs with a bias, levels of animals and noise of either method."""
    rng = np.random.default_rng(seed)
    n = animals * each
    true = rng.normal(140.0, 25.0, n) if truth != "constant" else np.repeat(rng.normal(140.0, 25.0, animals), each)
    level = np.repeat(rng.normal(3.0, 4.0, animals), each)
    given: dict[str, Any] = {
        "quantity": "systolic",
        "animal": [f"animal {i}" for i in range(animals) for _ in range(each)],
        "tested": true + level + rng.normal(0.0, 5.0, n),
        "reference": true + rng.normal(0.0, 3.0, n),
        "truth": truth or ("single" if each == 1 else "changing"),
    }
    return Pairs(**(given | changed))


def test_bias_of_one_pair_an_animal_is_that_of_a_paired_t_test() -> None:
    """Mean and interval.

    Oracle: reference library scipy, ttest_rel.
    """
    pairs = invented(1)
    wanted = stats.ttest_rel(pairs.tested, pairs.reference).confidence_interval(0.95)
    found = bias_of(pairs)
    assert (found.bias.low, found.bias.high) == pytest.approx((wanted.low, wanted.high))
    assert found.bias.estimate == pytest.approx(float(np.mean(pairs.tested - pairs.reference)))


@pytest.mark.parametrize("truth", ["constant", "changing"])
def test_with_equal_replicates_the_animals_count(truth: Truth) -> None:
    """The interval of the bias is that of the animals' means, whatever is known of the truth.

    Oracle: reference library scipy, ttest_1samp of the animals' means.
    """
    pairs = invented(2, each=4, truth=truth)
    means = (pairs.tested - pairs.reference).reshape(12, 4).mean(axis=1)
    wanted = stats.ttest_1samp(means, 0.0).confidence_interval(0.95)
    found = bias_of(pairs)
    assert (found.bias.low, found.bias.high) == pytest.approx((wanted.low, wanted.high))
    assert (found.animals, found.pairs) == (12, 48)


def test_unequal_linked_pairs_by_the_sums_written_out() -> None:
    """Variance of the mean of all pairs from both parts of the scatter.

    Oracle: by construction, Var = s_b^2 sum m^2 / N^2 + s_w^2 / N with the parts of the analysis of variance.
    """
    whole = invented(3, each=5)
    pairs = whole.where(np.arange(60) % 7 != 0)
    assert pairs is not None
    table = one_way(pairs.difference, pairs.index)
    sizes = np.bincount(pairs.index)
    between = (table.between_ms - table.within_ms) / table.size
    variance = between * float((sizes**2).sum()) / pairs.n**2 + table.within_ms / pairs.n
    spread = limits_of_agreement(pairs).spread
    assert spread.mean_variance == pytest.approx(variance)
    assert 1.0 <= spread.mean_df <= 11.0


@pytest.mark.parametrize("against", ["average", "reference"])
def test_proportional_bias_is_least_squares_with_one_pair_each(against: Any) -> None:
    """Slope, intercept and their intervals.

    Oracle: reference library scipy, linregress.
    """
    pairs = invented(4, animals=25)
    x = pairs.average if against == "average" else pairs.reference
    wanted = stats.linregress(x, pairs.difference)
    found = proportional_bias(pairs, against=against)
    t = stats.t.ppf(0.975, 23)
    for each, value, se in (
        (found.slope, wanted.slope, wanted.stderr),
        (found.intercept, wanted.intercept, wanted.intercept_stderr),
    ):
        assert each.estimate == pytest.approx(value)
        assert each.high - each.estimate == pytest.approx(t * se)


def test_a_reference_that_errs_makes_a_slope_where_there_is_none() -> None:
    """On the reference the slope is minus the share of its error in its variance; on the mean of the two it is near 0.

    Oracle: by construction, errors of SD 10 in either method and truths of SD 20: -100 / 500. Tolerance: four standard
    errors of 20,000 pairs.
    """
    rng = np.random.default_rng(5)
    true = rng.normal(140.0, 20.0, 20_000)
    pairs = Pairs(
        quantity="systolic",
        animal=[str(i) for i in range(true.size)],
        tested=true + rng.normal(0.0, 10.0, true.size),
        reference=true + rng.normal(0.0, 10.0, true.size),
        truth="single",
    )
    on_reference, on_mean = (proportional_bias(pairs, against=each) for each in ("reference", "average"))
    assert on_reference.slope.estimate == pytest.approx(-0.2, abs=0.018)
    assert on_mean.slope.estimate == pytest.approx(0.0, abs=0.018)
    assert on_reference.is_shown
    assert not on_mean.is_shown


def test_bias_by_range_parts_the_pairs() -> None:
    """Thirds by the mean of the two; bounds as given; a range without a pair, and one with a single animal.

    Oracle: by construction.
    """
    pairs = invented(6, animals=30)
    thirds = bias_by_range(pairs)
    assert [each.pairs for each in thirds] == [10, 10, 10]
    order = np.argsort(pairs.average)
    for i, each in enumerate(thirds):
        assert each.bias is not None
        assert each.bias.estimate == pytest.approx(float(pairs.difference[order[10 * i : 10 * i + 10]].mean()))
    top = float(np.sort(pairs.reference)[-1])
    by_bounds = bias_by_range(pairs, by="reference", bounds=(1.0, top))
    assert by_bounds[0].bias is None
    assert by_bounds[2].bias is not None
    assert not by_bounds[2].bias.is_known
    with pytest.raises(PairsError, match="bounds"):
        bias_by_range(pairs, bounds=(160.0, 90.0))


def test_intervals_of_linked_limits_are_the_exact_ones_of_the_scatter() -> None:
    """The joined interval of a variance with one part is that of chi squared.

    Oracle: by construction, (n - 1) s^2 over the quantiles of chi squared.
    """
    pairs = invented(7)
    found = bias_of(pairs).sd
    variance = float(np.var(pairs.tested - pairs.reference, ddof=1))
    wanted = [math.sqrt(11 * variance / stats.chi2.ppf(p, 11)) for p in (0.975, 0.025)]
    assert (found.low, found.high) == pytest.approx(wanted)


def test_deming_with_equal_errors_is_the_first_principal_axis() -> None:
    """The line of least right-angled distances.

    Oracle: by construction, the singular vectors of the centred points; other ratios by stretching one axis.
    """
    pairs = invented(8, animals=30)
    x, y = pairs.reference, pairs.tested
    for ratio in (1.0, 2.5, 0.4):
        stretched = np.column_stack([x * math.sqrt(ratio), y])
        axis = np.linalg.svd(stretched - stretched.mean(axis=0))[2][0]
        slope = float(axis[1] / axis[0]) * math.sqrt(ratio)
        found = deming_line(x, y, ratio)
        assert found[0] == pytest.approx(slope)
        assert found[1] == pytest.approx(float(y.mean() - slope * x.mean()))
        assert deming(pairs, error_ratio=ratio).slope.estimate == found[0]
    with pytest.raises(ParameterError):
        deming(pairs, error_ratio=0.0)


def test_jackknife_of_a_mean_is_its_t_interval() -> None:
    """Leaving out one value after the other gives the usual standard error of a mean.

    Oracle: reference library scipy, ttest_1samp.
    """
    values = np.random.default_rng(9).normal(5.0, 2.0, 14)
    wanted = stats.ttest_1samp(values, 0.0).confidence_interval(0.95)
    found = jackknife_interval(lambda kept: float(values[kept].mean()), np.arange(14))
    assert (found.low, found.high) == pytest.approx((wanted.low, wanted.high))


def test_passing_bablok_by_listing_every_pair_of_points() -> None:
    """Slopes, shift, median and ranks by a plain loop, with ties among whole numbers.

    Oracle: a slower twin written here. Vertical pairs are infinite, equal points and slopes of -1 are left out.
    """
    rng = np.random.default_rng(10)
    x = rng.integers(100, 130, 25).astype(float)
    y = np.round(x + rng.normal(0.0, 6.0, 25))
    slopes, same, upright = [], 0, 0
    for i, j in combinations(range(25), 2):
        if x[i] == x[j]:
            same, upright = same + (y[i] == y[j]), upright + (y[i] != y[j])
            if y[i] != y[j]:
                slopes.append(math.inf)
        elif (slope := (y[i] - y[j]) / (x[i] - x[j])) != -1.0:
            slopes.append(slope)
    slopes.sort()
    shift = sum(each < -1.0 for each in slopes)
    middle = float(np.median(slopes[shift:] + [math.inf] * shift))
    half = 1.959964 * math.sqrt(25 * 24 * 55 / 18.0)
    first = round((len(slopes) - half) / 2.0)
    pairs = Pairs(quantity="systolic", animal=[str(i) for i in range(25)], tested=y, reference=x, truth="single")
    found = passing_bablok(pairs)
    assert found.tied == (same, upright)
    assert found.slope.estimate == pytest.approx(middle)
    assert found.slope.low == slopes[first + shift - 1]
    assert found.slope.high == slopes[len(slopes) - first + shift]
    turned = Pairs(
        quantity="systolic", animal=[str(i) for i in range(25)], tested=y[::-1], reference=x[::-1], truth="single"
    )
    assert passing_bablok(turned).slope == found.slope
    assert pairwise_slopes(x, y)[0].size == len(slopes)


def test_passing_bablok_of_linked_pairs_has_a_line_and_no_interval() -> None:
    """Its ranks take points for independent, which pairs of one animal are not.

    Oracle: by construction.
    """
    found = passing_bablok(invented(11, each=3))
    assert not found.slope.is_known
    assert math.isfinite(found.slope.estimate)
    few = passing_bablok(invented(11, animals=3))
    assert few.slope.low == -math.inf


def test_lines_through_what_does_not_rise_together_are_refused() -> None:
    """A falling reference, and two animals.

    Oracle: by construction.
    """
    falling = invented(12, reference=300.0 - invented(12).tested)
    for line in (deming, passing_bablok):
        with pytest.raises(PairsError, match="rise together"):
            line(falling)
        with pytest.raises(PairsError, match="2 animals"):
            line(invented(12, animals=2))


def test_pooled_correlation_is_pearsons_with_fishers_interval() -> None:
    """One pair each; for replicates of a constant truth, of the animals' means.

    Oracle: reference library scipy, pearsonr.
    """
    pairs = invented(13, animals=20)
    wanted = stats.pearsonr(pairs.tested, pairs.reference)
    found = correlation(pairs)
    assert found.pooled.estimate == pytest.approx(wanted.statistic)
    ends = wanted.confidence_interval(0.95)
    assert (found.pooled.low, found.pooled.high) == pytest.approx((ends.low, ends.high))
    assert found.within is None
    still = invented(13, animals=20, each=3, truth="constant")
    means = [v.reshape(20, 3).mean(axis=1) for v in (still.tested, still.reference)]
    assert correlation(still).pooled.estimate == pytest.approx(stats.pearsonr(*means).statistic)


def test_correlation_within_animals_is_that_of_an_analysis_of_covariance() -> None:
    """Root of the share of the sum of squares within animals that the reference explains, with the sign of its slope.

    Oracle: reference library statsmodels 0.15, analysis of covariance with the animals as factor.
    """
    whole = invented(14, animals=9, each=5)
    pairs = whole.where(np.arange(45) % 6 != 1)
    assert pairs is not None
    animals = (pairs.index[:, None] == np.arange(9)).astype(float)
    full = OLS(pairs.tested, np.column_stack([pairs.reference, animals])).fit()
    without = OLS(pairs.tested, animals).fit()
    r = math.copysign(math.sqrt(1.0 - full.ssr / without.ssr), full.params[0])
    found = correlation(pairs).within
    assert found is not None
    assert found.estimate == pytest.approx(r)
    z, half = math.atanh(r), 1.959964 / math.sqrt(full.df_resid - 1.0)
    assert (found.low, found.high) == pytest.approx((math.tanh(z - half), math.tanh(z + half)), rel=1e-6)


def test_coverage_and_deviation_index_are_each_others_inverse() -> None:
    """The share within the index is the share that it was asked for.

    Oracle: by construction; the approximation by Lin is exact without bias.
    """
    pairs = invented(15, animals=40)
    found = deviation(pairs, share=0.9)
    sd = float(pairs.difference.std(ddof=1))
    assert coverage(float(pairs.difference.mean()), sd, found.index.estimate) == pytest.approx(0.9)
    flat = deviation(invented(15, animals=40, tested=pairs.tested - pairs.difference.mean()))
    assert flat.index.estimate == pytest.approx(flat.index_by_lin)
    within = deviation(pairs, within=found.index.estimate)
    assert within.coverage.estimate == pytest.approx(0.9)
    assert within.coverage.low < 0.9 < within.coverage.high


def test_concordance_of_linked_pairs_leaves_out_whole_animals() -> None:
    """The estimate is that of all pairs; the interval is wider than if each pair were an animal.

    Oracle: by construction.
    """
    pairs = invented(16, animals=8, each=6)
    alone = Pairs(
        quantity="systolic",
        animal=[str(i) for i in range(48)],
        tested=pairs.tested,
        reference=pairs.reference,
        truth="single",
    )
    linked, single = concordance(pairs), concordance(alone)
    assert linked.estimate == pytest.approx(single.estimate)
    assert math.atanh(linked.high) - math.atanh(linked.low) > math.atanh(single.high) - math.atanh(single.low)


@pytest.mark.parametrize(("count", "n"), [(0, 8), (1, 8), (7, 9), (8, 8), (50, 99), (250, 255)])
def test_wilson_interval(count: int, n: int) -> None:
    """Of whole numbers.

    Oracle: reference libraries statsmodels 0.15 and scipy.
    """
    found = wilson(count / n, n)
    assert (found.low, found.high) == pytest.approx(proportion_confint(count, n, method="wilson"), abs=1e-12)
    other = stats.binomtest(count, n).proportion_ci(method="wilson")
    assert (found.low, found.high) == pytest.approx((other.low, other.high), abs=1e-12)


def test_pairs_of_one_animal_are_worth_less() -> None:
    """Sets that are all alike are worth one each, sets that are no more alike than chance are worth all.

    Oracle: by construction, the design effect at its two ends; one animal is worth one pair.
    """
    index = np.repeat(np.arange(6), 4)
    alike = np.repeat([1.0, 0.0, 1.0, 1.0, 0.0, 1.0], 4)
    assert effective_size(alike, index) == pytest.approx(6.0)
    assert effective_size(np.tile([1.0, 0.0, 1.0, 0.0], 6), index) == pytest.approx(24.0)
    assert effective_size(np.ones(24), index) == 6.0
    assert effective_size(np.ones(24), np.zeros(24, dtype=np.int64)) == 1.0
    found = share_of(alike == 1.0, index)
    assert (found.count, found.n, found.animals) == (16, 24, 6)
    assert found.by_animal.low < found.plain.low < found.plain.high < found.by_animal.high
    single = share_of(np.array([True, False, True]), np.arange(3))
    assert single.plain == single.by_animal
    within = shares_within(invented(17))
    assert [each.limit for each in within] == [5.0, 10.0, 15.0, 20.0]
    assert [each.share.count for each in within] == [
        int((np.abs(invented(17).difference) <= limit).sum()) for limit in (5.0, 10.0, 15.0, 20.0)
    ]


@pytest.mark.parametrize("kind", ["linear", "quadratic"])
def test_weighted_kappa_and_its_standard_error(kind: Any) -> None:
    """Of a table of four categories.

    Oracle: reference library statsmodels 0.15, cohens_kappa with the same weights.
    """
    counts = np.array([[43, 11, 1, 4], [2, 5, 3, 2], [0, 1, 4, 3], [0, 0, 0, 6]])
    wanted = cohens_kappa(counts, wt="linear" if kind == "linear" else "quadratic")
    value, se = kappa(counts, kind)
    assert value == pytest.approx(wanted.kappa)
    assert se == pytest.approx(wanted.std_kappa)


def test_kappa_of_perfect_agreement_has_no_interval() -> None:
    """Pairs that all agree show no scatter, which proves none; the others' interval ends below 1.

    Oracle: by construction, 1 - (1 - kappa) exp(-/+ t se / (1 - kappa)) with the standard error tested above.
    """
    same = invented(18, animals=20, each=1)
    perfect = category_table(invented(18, animals=20, tested=same.reference)).linear
    assert perfect is not None
    assert perfect.estimate == 1.0
    assert not perfect.is_known
    table = category_table(same)
    value, se = kappa(table.counts, "linear")
    assert table.linear is not None
    factor = math.exp(stats.t.ppf(0.975, 19) * se / (1.0 - value))
    assert table.linear.high == pytest.approx(1.0 - (1.0 - value) / factor)
    assert table.linear.low == pytest.approx(max(-1.0, 1.0 - (1.0 - value) * factor))


def test_categories_stand_in_a_table_with_the_reference_in_rows() -> None:
    """Boundaries belong to the upper category; what is told too low lies left of the diagonal.

    Oracle: by construction, the half-open categories of the rule set.
    """
    pairs = Pairs(
        quantity="systolic",
        animal=list("abcdef"),
        tested=[139.9, 140.0, 165.0, 150.0, 185.0, 181.0],
        reference=[120.0, 159.9, 160.0, 162.0, 180.0, 175.0],
        truth="single",
    )
    found = category_table(pairs)
    assert found.counts.tolist() == [[1, 0, 0, 0], [0, 1, 0, 0], [0, 1, 1, 1], [0, 0, 0, 1]]
    assert (found.same.count, found.lower.count, found.higher.count) == (4, 1, 1)
    assert found.linear is not None
    one = category_table(invented(18, tested=np.full(12, 120.0), reference=np.full(12, 121.0)))
    assert one.linear is None
    linked = category_table(invented(18, each=4))
    assert linked.quadratic is not None
    assert linked.quadratic.is_known
    with pytest.raises(PairsError, match="systolic"):
        category_table(invented(18, quantity="mean"))


def test_detection_counts_against_the_reference() -> None:
    """Two of three high pressures found, one false alarm among three others.

    Oracle: by construction.
    """
    pairs = Pairs(
        quantity="systolic",
        animal=list("abcdef"),
        tested=[170.0, 160.0, 150.0, 165.0, 120.0, 85.0],
        reference=[175.0, 160.0, 162.0, 155.0, 125.0, 88.0],
        truth="single",
    )
    found = detection(pairs, 160.0, "high")
    assert [
        (each.count, each.n)
        for each in (found.sensitivity, found.specificity, found.positive_value, found.negative_value)
        if each is not None
    ] == [(2, 3), (2, 3), (2, 3), (2, 3)]
    low = detection(pairs, 90.0, "low")
    assert low.sensitivity is not None
    assert (low.sensitivity.count, low.sensitivity.n, low.prevalence.count) == (1, 1, 1)
    none = detection(pairs, 50.0, "low")
    assert none.sensitivity is None
    assert none.positive_value is None


def test_trending_leaves_out_the_small_changes_and_those_between_animals() -> None:
    """Six changes within two animals: two in the square of 5 mmHg, three together, one against.

    Oracle: by construction; a method that stood still while the other moved does not go along.
    """
    pairs = Pairs(
        quantity="mean",
        animal=["a", "b", "a", "b", "a", "b", "a", "b"],
        tested=[80.0, 90.0, 90.0, 94.0, 85.0, 80.0, 85.0, 70.0],
        reference=[82.0, 88.0, 95.0, 92.0, 90.0, 79.0, 80.0, 60.0],
        truth="changing",
    )
    found = trending(pairs)
    assert (found.changes, found.left_out) == (6, 2)
    assert found.concordance is not None
    assert (found.concordance.count, found.concordance.n) == (3, 4)
    assert trending(pairs, exclusion=100.0).concordance is None
    with pytest.raises(PairsError):
        trending(invented(19))
    with pytest.raises(ParameterError):
        trending(pairs, exclusion=-1.0)


@pytest.mark.parametrize(
    "compute", [correlation, concordance, proportional_bias, deming, passing_bablok, deviation, bias_of]
)
def test_one_animal_is_refused_everywhere(compute: Any) -> None:
    """Every statistic that tells of animals says that there are too few.

    Oracle: by construction.
    """
    with pytest.raises(PairsError) as caught:
        compute(invented(20, animals=1, each=5))
    assert caught.value.code == "too-few-animals"


@pytest.mark.parametrize("compute", [correlation, concordance, proportional_bias, deviation])
def test_values_that_never_differ_are_refused(compute: Any) -> None:
    """Nothing is divided by no scatter.

    Oracle: by construction.
    """
    flat = invented(21, tested=np.full(12, 120.0), reference=np.full(12, 118.0))
    with pytest.raises(PairsError) as caught:
        compute(flat)
    assert caught.value.code in ("pressures-alike", "differences-alike")


@pytest.mark.parametrize("value", [170.0, 170.1])
@pytest.mark.parametrize("truth", get_args(Truth))
def test_a_method_that_says_the_same_throughout_has_no_correlation(value: float, truth: Truth) -> None:
    """Whatever the truth did, and whatever the binary digits of the value.

    Oracle: by construction, a correlation with what does not vary is none.
    """
    rng = np.random.default_rng(77)
    animals = [f"A{k}" for k in range(8)] * (1 if truth == "single" else 3)
    pairs = Pairs(
        quantity="systolic",
        animal=animals,  # type: ignore[arg-type]
        tested=np.full(len(animals), value),
        reference=rng.normal(130.0, 20.0, len(animals)),
        truth=truth,
    )
    with pytest.raises(PairsError) as caught:
        correlation(pairs)
    assert caught.value.code == "pressures-alike"


def test_a_method_that_says_the_same_of_each_animal_has_no_correlation_within() -> None:
    """Its values differ between animals and not within.

    Oracle: by construction.
    """
    rng = np.random.default_rng(78)
    animals = [f"A{k}" for k in range(8) for _ in range(3)]
    own = np.repeat(rng.normal(130.1, 20.0, 8), 3)
    pairs = Pairs(
        quantity="systolic",
        animal=animals,  # type: ignore[arg-type]
        tested=own,
        reference=own + rng.normal(0.0, 5.0, 24),
        truth="changing",
    )
    assert correlation(pairs).within is None
