"""Conversions: estimated with levels of animals pooled in part, applied beside what was measured, refused elsewhere."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import statsmodels.api as sm
from statsmodels.regression.mixed_linear_model import MixedLM

from quietlimb.agreement.conversion import estimate_conversion
from quietlimb.agreement.mixed import fit_mixed
from quietlimb.agreement.pairs import Pairs
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.conversion import Conversion, convert
from quietlimb.engine.errors import ConversionError
from quietlimb.engine.interpretation.interpret import interpret_systolic
from quietlimb.engine.values import TWO_SIDED_95, Estimate

SIZES = (2, 5, 4, 7, 3, 6, 4, 1, 5, 8)
AROUND = Circumstances(species="cat", site="tail", instrument="invented", cuff_width_cm=2.5, limb_circumference_cm=7.5)
TOLD: dict[str, Any] = {
    "reference_is": "intra-arterial",
    "converts_to": "arterial pressure",
    "species": "cat",
    "site": "tail",
    "technique": "oscillometric",
    "sedation": "awake",
    "study": "Invented 2026",
    "version": "1",
}


def invented(seed: int, between: float = 6.0, within: float = 5.0) -> Pairs:
    """Ten cats with unequal numbers of pairs: the tested value is (reference - 20) / 0.9, levels of their own."""
    rng = np.random.default_rng(seed)
    animal = [f"cat {i}" for i, m in enumerate(SIZES) for _ in range(m)]
    levels = np.repeat(rng.normal(0.0, between, len(SIZES)), SIZES)
    reference = rng.uniform(100.0, 200.0, len(animal))
    tested = (reference - 20.0 + levels + rng.normal(0.0, within, len(animal))) / 0.9
    return Pairs(quantity="systolic", animal=animal, tested=tested, reference=reference, truth="changing")


def conversion(**changed: Any) -> Conversion:
    given: dict[str, Any] = {
        "quantity": "systolic",
        "middle": 140.0,
        "at_middle": 150.0,
        "slope": 1.2,
        "middle_sd": 2.0,
        "slope_sd": 0.05,
        "correlation": 0.0,
        "between_sd": 6.0,
        "residual_sd": 5.0,
        "df": 20.0,
        "low": 90.0,
        "high": 190.0,
        "animals": 12,
        "pairs": 60,
    }
    told = {name: value for name, value in TOLD.items() if name != "reference_is"}
    return Conversion(**(told | given | changed))


@pytest.mark.parametrize("seed", [31, 32, 33])
def test_the_mixed_line_is_that_of_another_program(seed: int) -> None:
    """Coefficients, their standard errors and both variances.

    Oracle: reference library statsmodels 0.15, MixedLM by REML. Tolerance: that of its optimiser; its standard
    errors come from the observed information, ours from the expected, which differ by less than 1 %.
    """
    pairs = invented(seed)
    x = sm.add_constant(pairs.reference)
    other = MixedLM(pairs.tested, x, groups=pairs.animal).fit(reml=True)
    found = fit_mixed(pairs.tested, x, pairs.index)
    assert found.coefficients == pytest.approx(other.fe_params, rel=1e-4)
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx(other.bse_fe, rel=0.01)
    assert found.residual_variance == pytest.approx(other.scale, rel=1e-3)
    assert found.between_variance == pytest.approx(float(np.asarray(other.cov_re)[0, 0]), rel=2e-3)


def test_the_mixed_line_of_a_balanced_mean_has_closed_forms() -> None:
    """With equal numbers and no slope, variances are those of the analysis of variance, and the mean has k - 1 degrees
    of freedom.

    Oracle: by construction, the closed forms of REML with equal groups.
    """
    rng = np.random.default_rng(6)
    k, m = 9, 4
    y = np.repeat(rng.normal(0.0, 5.0, k), m) + rng.normal(0.0, 3.0, k * m)
    index = np.repeat(np.arange(k), m)
    found = fit_mixed(y, np.ones((k * m, 1)), index)
    table = y.reshape(k, m)
    between_ms = m * table.mean(axis=1).var(ddof=1)
    within_ms = table.var(axis=1, ddof=1).mean()
    assert found.residual_variance == pytest.approx(within_ms, rel=1e-6)
    assert found.between_variance == pytest.approx((between_ms - within_ms) / m, rel=1e-6)
    variance, df = found.variance_and_df(np.array([1.0]), new_animal=False)
    assert variance == pytest.approx(between_ms / (k * m), rel=1e-6)
    assert df == pytest.approx(k - 1, rel=1e-5)
    _, df_new = found.variance_and_df(np.array([1.0]), new_animal=True)
    parts = np.array([between_ms * (1.0 + 1.0 / k) / m, within_ms * (1.0 - 1.0 / m)])
    expected = parts.sum() ** 2 / (parts[0] ** 2 / (k - 1) + parts[1] ** 2 / (k * (m - 1)))
    assert df_new == pytest.approx(expected, rel=1e-4)


def test_a_conversion_is_estimated_from_pairs() -> None:
    """It finds the line and both spreads again, within four standard errors, and tells its range.

    Oracle: by construction, the invented cats.
    """
    pairs = invented(34)
    found = estimate_conversion(pairs, **TOLD)
    assert abs(found.slope - 0.9) < 4.0 * found.slope_sd
    assert abs(found.at_middle - (20.0 + 0.9 * found.middle)) < 4.0 * found.middle_sd
    assert found.between_sd is not None
    assert 2.0 < found.between_sd < 14.0
    assert 3.5 < found.residual_sd < 7.0
    assert (found.low, found.high) == (pairs.tested.min(), pairs.tested.max())
    assert (found.animals, found.pairs) == (10, 45)
    assert estimate_conversion(pairs, **TOLD) == found


def test_one_pair_an_animal_gives_one_spread() -> None:
    """Then the line is that of least squares, turned round; what differs between animals cannot be told from the rest.

    Oracle: reference library statsmodels 0.15, OLS of the tested value; errors of the turned line by their derivatives.
    """
    rng = np.random.default_rng(35)
    reference = rng.uniform(90.0, 200.0, 20)
    tested = (reference - 10.0 + rng.normal(0.0, 6.0, 20)) / 1.1
    pairs = Pairs(
        quantity="systolic", animal=[str(i) for i in range(20)], tested=tested, reference=reference, truth="single"
    )
    found = estimate_conversion(pairs, **TOLD)
    other = sm.OLS(tested, sm.add_constant(reference)).fit()
    intercept, slope = other.params
    assert found.between_sd is None
    assert found.slope == pytest.approx(1.0 / slope)
    assert found.slope_sd == pytest.approx(other.bse[1] / slope**2)
    assert found.residual_sd == pytest.approx(math.sqrt(other.scale) / slope)
    assert found.df == 18.0
    exact = Estimate(value=150.0, low=150.0, high=150.0, own_sd=0.0, shared_sd=0.0)
    got = convert(exact, found, AROUND, "systolic").converted
    value = (150.0 - intercept) / slope
    by_both = np.array([-1.0 / slope, -value / slope])
    sd = math.sqrt(float(by_both @ other.cov_params() @ by_both) + other.scale / slope**2)
    half = 2.100922 * sd  # t of 18 degrees of freedom
    assert (got.value, got.low, got.high) == pytest.approx((value, value - half, value + half), rel=1e-6)
    assert got.own_sd == 0.0


@pytest.mark.parametrize(
    ("truth", "reference_is", "within", "reference_error", "most"),
    [
        ("changing", "intra-arterial", 3.0, 0.0, 0.012),
        ("changing", "intra-arterial", 3.0, 2.0, 0.03),
        ("changing", "indirect", 3.0, 8.0, 0.012),
        ("constant", "intra-arterial", 0.0, 2.0, 0.012),
        ("constant", "indirect", 0.0, 8.0, 0.012),
    ],
)
def test_scatter_does_not_flatten_the_line(
    truth: Any, reference_is: str, within: float, reference_error: float, most: float
) -> None:
    """Twenty cats with five pairs each, whose pressure hardly moved between them or not at all, under a tested scatter
    of 8 mmHg: over 60 studies the slope is 1, but for what a catheter's own scatter does, and a pressure far from
    the middle comes out right.

    Oracle: by construction; `most` comes on top of three Monte Carlo errors.
    """
    rng = np.random.default_rng(36)
    slopes, errors = [], []
    for _ in range(60):
        true = np.repeat(rng.normal(140.0, 25.0, 20), 5) + rng.normal(0.0, within, 100)
        level = np.repeat(rng.normal(0.0, 3.0, 20), 5)
        pairs = Pairs(
            quantity="systolic",
            animal=[f"cat {i // 5}" for i in range(100)],
            tested=true - 8.0 + level + rng.normal(0.0, 8.0, 100),
            reference=true + rng.normal(0.0, reference_error, 100),
            truth=truth,
        )
        found = estimate_conversion(pairs, **(TOLD | {"reference_is": reference_is}))
        slopes.append(found.slope)
        errors.append(found.at_middle + found.slope * (177.0 - found.middle) - 185.0)
    assert abs(np.mean(slopes) - 1.0) < most + 3.0 * np.std(slopes) / math.sqrt(60.0)
    assert abs(np.mean(errors)) < 1.5


def test_a_slope_that_is_hardly_known_is_refused() -> None:
    """Eight animals whose pressures lie close together, under a scatter as large: no line can be turned round.

    Oracle: by construction.
    """
    rng = np.random.default_rng(37)
    reference = rng.normal(140.0, 8.0, 8)
    pairs = Pairs(
        quantity="systolic",
        animal=[str(i) for i in range(8)],
        tested=reference + rng.normal(0.0, 8.0, 8),
        reference=reference,
        truth="single",
    )
    with pytest.raises(ConversionError) as caught:
        estimate_conversion(pairs, **TOLD)
    assert caught.value.code in ("slope-not-known", "no-relation")


def test_a_reference_that_only_scatters_is_refused() -> None:
    """Replicates of pressures that are all alike tell nothing of a slope.

    Oracle: by construction.
    """
    rng = np.random.default_rng(38)
    noise = rng.normal(140.0, 5.0, (2, 40))
    pairs = Pairs(
        quantity="systolic",
        animal=[f"cat {i // 4}" for i in range(40)],
        tested=noise[0],
        reference=noise[1],
        truth="constant",
    )
    with pytest.raises(ConversionError) as caught:
        estimate_conversion(pairs, **TOLD)
    assert caught.value.code in ("pressures-alike", "slope-not-known", "no-relation")


@pytest.mark.parametrize(
    ("changed", "told", "code"),
    [
        ({"unit": "kPa"}, {}, "not-mmhg"),
        ({"species": ("dog",) * 45}, {}, "other-species"),
        ({"site": ("tail",) * 44 + ("forelimb",)}, {}, "other-site"),
        ({"reference": np.full(45, 120.0)}, {}, "pressures-alike"),
        ({"tested": np.full(45, 120.0)}, {}, "pressures-alike"),
        ({"reference": -np.asarray(invented(34).tested)}, {}, "no-relation"),
        ({}, {"study": " "}, "no-source"),
    ],
)
def test_pairs_that_give_no_conversion_are_refused(changed: dict[str, Any], told: dict[str, Any], code: str) -> None:
    """Each with its own code.

    Oracle: by construction.
    """
    with pytest.raises(ConversionError) as caught:
        estimate_conversion(replace(invented(34), **changed), **(TOLD | told))
    assert caught.value.code == code


def test_seven_animals_are_too_few() -> None:
    """They are refused.

    Oracle: by construction, the least that the veterinary list asks for.
    """
    pairs = invented(34)
    part = pairs.where(pairs.index < 7)
    assert part is not None
    with pytest.raises(ConversionError, match="7 animals"):
        estimate_conversion(part, **TOLD)


def test_what_was_measured_stays_beside_what_was_converted() -> None:
    """The value moves along the line, and the spread is that of a new animal with the readings' own times the slope.

    Oracle: by construction, the formulas written out.
    """
    measured = Estimate(value=150.0, low=140.0, high=160.0, own_sd=3.0, shared_sd=4.0)
    found = convert(measured, conversion(), AROUND, "systolic")
    assert found.measured is measured
    assert found.label == "Invented 2026, version 1"
    got = found.converted
    assert got.value == pytest.approx(162.0)
    line = math.hypot(2.0, 0.05 * 10.0)
    level = math.hypot(line, 6.0, 5.0 * math.sqrt(12.0 / 60.0))  # 12 animals with 60 pairs
    assert got.shared_sd == pytest.approx(level)
    assert got.own_sd == pytest.approx(3.6)
    own = 1.2 * math.sqrt((10.0 / TWO_SIDED_95) ** 2 - 16.0)
    half = math.hypot(2.0859634 * level, TWO_SIDED_95 * own)
    assert got.high - got.value == pytest.approx(half, rel=1e-6)
    assert got.value - got.low == pytest.approx(half, rel=1e-6)


def test_a_value_that_tells_no_scatter_gets_that_of_the_pairs() -> None:
    """A single value is as far from the artery as single pairs were.

    Oracle: by construction, the formula written out.
    """
    bare = Estimate(value=140.0, low=140.0, high=140.0, own_sd=0.0, shared_sd=0.0)
    got = convert(bare, conversion(), AROUND, "systolic").converted
    assert math.hypot(got.own_sd, got.shared_sd or 0.0) == pytest.approx(math.hypot(2.0, 6.0, 5.0))
    assert got.high - got.value == pytest.approx(2.0859634 * math.hypot(2.0, 6.0, 5.0), rel=1e-6)


@pytest.mark.parametrize(
    ("around", "of", "value", "quantity", "code"),
    [
        ({"species": "dog"}, {}, 150.0, "systolic", "other-species"),
        ({"site": "forelimb"}, {}, 150.0, "systolic", "other-site"),
        ({"site": None}, {}, 150.0, "systolic", "other-site"),
        ({"method": "doppler"}, {}, 150.0, "systolic", "other-method"),
        ({"sedation": "anaesthetised"}, {}, 150.0, "systolic", "other-sedation"),
        ({}, {"instrument": "another"}, 150.0, "systolic", "other-instrument"),
        ({}, {"cuff_shares": (0.38, 0.42)}, 150.0, "systolic", "other-cuff"),
        ({"cuff_width_cm": None}, {"cuff_shares": (0.3, 0.42)}, 150.0, "systolic", "other-cuff"),
        ({}, {}, 150.0, "mean", "other-quantity"),
        ({}, {}, 89.0, "systolic", "beyond-range"),
        ({}, {}, 191.0, "systolic", "beyond-range"),
    ],
)
def test_a_conversion_is_refused_where_it_was_not_found(
    around: dict[str, Any], of: dict[str, Any], value: float, quantity: str, code: str
) -> None:
    """Other circumstances, circumstances that are not told, another quantity, a pressure beyond the range.

    Oracle: by construction.
    """
    measured = Estimate(value=value, low=value - 9.0, high=value + 9.0, own_sd=3.0, shared_sd=3.0)
    with pytest.raises(ConversionError) as caught:
        convert(measured, conversion(**of), replace(AROUND, **around), quantity)
    assert caught.value.code == code
    assert "as measured" in caught.value.remedy or "another" in caught.value.remedy


def test_another_unit_is_refused() -> None:
    """A conversion knows mmHg.

    Oracle: by construction.
    """
    with pytest.raises(ConversionError, match="kPa"):
        convert(
            Estimate(value=20.0, low=19.0, high=21.0, own_sd=0.5, shared_sd=0.5, unit="kPa"),
            conversion(),
            AROUND,
            "systolic",
        )


@pytest.mark.parametrize(
    "changed",
    [
        {"slope": 0.0},
        {"middle_sd": -1.0},
        {"correlation": 1.5},
        {"df": 0.5},
        {"low": 200.0},
        {"residual_sd": float("nan")},
        {"version": ""},
    ],
)
def test_figures_that_make_no_conversion_are_refused(changed: dict[str, Any]) -> None:
    """A conversion that exists is sound.

    Oracle: by construction.
    """
    with pytest.raises(ConversionError):
        conversion(**changed)


def test_categories_follow_from_the_wider_estimate() -> None:
    """The converted estimate is interpreted as any other, and its probabilities are spread wider.

    Oracle: by construction, shares of the estimate's own law; nothing is converted unless it was asked for.
    """
    measured = Estimate(value=150.0, low=144.0, high=156.0, own_sd=3.0, shared_sd=0.0)
    converted = convert(measured, conversion(), AROUND, "systolic").converted
    plain, carried = (interpret_systolic(each, species="cat") for each in (measured, converted))
    assert plain.category == "prehypertensive"
    assert carried.category == "hypertensive"
    assert max(each.probability for each in carried.today) < max(each.probability for each in plain.today)
    assert carried.today[0].probability == pytest.approx(converted.share_below(140.0))


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"correlation": math.nan}, "not-finite"),
        ({"df": math.nan}, "not-finite"),
        ({"cuff_shares": (0.3, math.nan)}, "not-finite"),
        ({"cuff_shares": (0.4, 0.3)}, "impossible-conversion"),
        ({"cuff_shares": (0.0, 0.3)}, "impossible-conversion"),
    ],
)
def test_a_figure_that_is_no_number_makes_no_conversion(changed: dict[str, Any], code: str) -> None:
    """It would pass every comparison with a limit, and turn the interval into nothing.

    Oracle: by construction.
    """
    with pytest.raises(ConversionError) as caught:
        conversion(**changed)
    assert caught.value.code == code
