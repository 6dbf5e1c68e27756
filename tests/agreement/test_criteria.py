"""Criteria: the figures as printed, and verdicts that say what the interval leaves open."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import optimize, stats

from quietlimb.agreement.criteria import ORDER, Verdict, animal_mean_sd, effective_pairs, judge, judge_each, verdict_of
from quietlimb.agreement.human_table import LARGEST_SD, largest_sd
from quietlimb.agreement.interval import Interval
from quietlimb.agreement.pairs import Pairs, Truth
from quietlimb.agreement.schemes import (
    CONTINUOUS,
    GRADED,
    HUMAN_STANDARD,
    INTERNATIONAL,
    SCHEMES,
    VETERINARY,
    ReferenceKind,
    Scheme,
)

EVEN_40 = np.linspace(80.0, 220.0, 40)


def pairs_of(difference: np.ndarray, *, each: int = 1, reference: np.ndarray | None = None) -> Pairs:
    """Pairs with these differences, `each` of them of one animal, evenly spread over the pressures."""
    truth: Truth = "single" if each == 1 else "changing"
    base = np.linspace(80.0, 220.0, difference.size) if reference is None else reference
    return Pairs(
        quantity="systolic",
        animal=[f"animal {i // each}" for i in range(difference.size)],
        tested=base + difference,
        reference=base,
        truth=truth,
    )


def normal_like(n: int, mean: float, sd: float) -> np.ndarray:
    """n values with exactly this mean and SD, shaped like a normal law, in an order that goes with nothing."""
    values = stats.norm.ppf((np.arange(n) + 0.5) / n)
    values = np.random.default_rng(20).permutation(values)
    return np.asarray(mean + sd * (values - values.mean()) / values.std(ddof=1))


def verdicts(pairs: Pairs, scheme: Scheme = VETERINARY, reference_is: ReferenceKind | None = "intra-arterial") -> dict:
    return {each.criterion.key: each.verdict for each in judge(pairs, scheme, reference_is=reference_is).judged}


def test_the_printed_table_is_its_equation() -> None:
    """The largest SD leaves 85 % of subjects with mean errors within 10 mmHg, to within 0.024 mmHg in all 51 cells.

    Oracle: derived, the equation solved here; the table was read. Tolerance: what the dossier found.
    """
    printed = [value for row in LARGEST_SD for value in row]
    assert len(printed) == 51
    for step, value in enumerate(printed):
        mean = step / 10.0
        solved = optimize.brentq(
            lambda s, m=mean: stats.norm.cdf((10.0 - m) / s) - stats.norm.cdf((-10.0 - m) / s) - 0.85, 1.0, 20.0
        )
        assert value == pytest.approx(solved, abs=0.024)


@pytest.mark.parametrize(
    ("mean", "allowed"),
    [(4.2, 5.49), (-4.2, 5.49), (0.0, 6.95), (4.249, 5.49), (4.25, 5.41), (5.04, 4.79), (5.05, None), (-9.0, None)],
)
def test_the_table_is_looked_up_at_the_mean_rounded_to_a_tenth(mean: float, allowed: float | None) -> None:
    """A half goes upwards; beyond 5.0 nothing is allowed.

    Oracle: published, the standard's own worked example 4.2 -> 5.49; the other cells by construction.
    """
    found = largest_sd(mean)
    assert (None if found is None else found.value) == allowed


@pytest.mark.parametrize(
    ("interval", "verdict"),
    [
        ((3.0, -1.0, 7.0), "passes"),
        ((3.0, -4.0, 10.0), "passes"),
        ((8.0, 4.0, 12.0), "passes-crossing"),
        ((12.0, 8.0, 16.0), "fails-crossing"),
        ((15.0, 11.0, 19.0), "fails"),
        ((-15.0, -19.0, -11.0), "fails"),
        ((3.0, float("nan"), float("nan")), "passes-crossing"),
        ((13.0, float("nan"), float("nan")), "fails-crossing"),
    ],
)
def test_the_estimate_decides_and_the_interval_says_what_is_open(
    interval: tuple[float, float, float], verdict: Verdict
) -> None:
    """Within 10 to either side.

    Oracle: by construction.
    """
    estimate, low, high = interval
    assert verdict_of(Interval(estimate=estimate, low=low, high=high), -10.0, 10.0) == verdict


def test_the_veterinary_list_binds_by_its_shares() -> None:
    """Bias 10 and SD 15 pass the first two criteria and fail the shares; bias 0 and SD 10 pass all.

    Oracle: derived, the dossier's table of normal errors. 400 animals, so that no interval hides it.
    """
    edge = verdicts(pairs_of(normal_like(400, 9.9, 14.9)))
    assert edge["bias"] == edge["sd"] == "passes-crossing"
    assert edge["within-10"] == edge["within-20"] == "fails"
    good = verdicts(pairs_of(normal_like(400, 0.0, 10.0)))
    assert {good[key] for key in ("bias", "sd", "within-10", "within-20", "correlation", "animals")} == {"passes"}
    assert good["publication"] == "not-judged"


def test_eight_animals_cannot_tell_ten_from_nothing() -> None:
    """With SD 12 the interval of the bias is 10 to either side, so the best bias is the only one that passes plainly.

    Oracle: derived, t(7) x 12 / sqrt 8 = 10.03. With 25 animals it is 5.
    """
    few = judge(pairs_of(normal_like(8, 3.0, 12.0)), reference_is="intra-arterial")
    found = {each.criterion.key: each for each in few.judged}
    assert found["bias"].verdict == "passes-crossing"
    assert found["bias"].value is not None
    assert found["bias"].value.high - found["bias"].value.estimate == pytest.approx(10.03, abs=0.005)
    assert found["animals"].verdict == "passes"
    assert few.verdict == "passes-crossing"
    assert verdicts(pairs_of(normal_like(25, 3.0, 12.0)))["bias"] == "passes"


def test_animals_that_are_too_few_are_told_so() -> None:
    """Seven against a catheter, 24 against a cuff; where the reference is not told nothing passes.

    Oracle: by construction, the counts of the list.
    """
    seven = judge(pairs_of(normal_like(7, 0.0, 3.0)), reference_is="intra-arterial")
    assert seven.verdict == "not-enough-animals"
    many = pairs_of(normal_like(24, 0.0, 3.0))
    assert judge(many, reference_is="intra-arterial").verdict == "passes"
    assert judge(many, reference_is="indirect").verdict == "not-enough-animals"
    assert judge(many).verdict == "not-judged"
    one = judge(pairs_of(np.array([1.0])), reference_is="intra-arterial")
    assert {each.verdict for each in one.judged} <= {"not-enough-animals", "not-judged", "passes-crossing"}
    assert one.verdict == "not-enough-animals"


def test_ranges_are_judged_by_the_reference() -> None:
    """A method that fails at high pressure only fails there, and the whole may pass.

    Oracle: by construction.
    """
    reference = np.linspace(80.0, 220.0, 300)
    difference = normal_like(300, 0.0, 4.0) - np.where(reference >= 160.0, 14.0, 0.0)
    found = judge(pairs_of(difference, reference=reference), reference_is="intra-arterial", bounds=(100.0, 160.0))
    by_name = {each.name: {one.criterion.key: one.verdict for one in each.judged} for each in found.ranges}
    assert by_name["low"]["bias"] == by_name["normal"]["bias"] == "passes"
    assert by_name["high"]["bias"] == by_name["high"]["within-10"] == "fails"
    assert "correlation" not in by_name["high"]
    whole = {each.criterion.key: each.verdict for each in found.judged}
    assert whole["bias"] == "passes"
    assert [each.pairs for each in found.ranges] == [
        int((reference < 100.0).sum()),
        int(((reference >= 100.0) & (reference < 160.0)).sum()),
        int((reference >= 160.0).sum()),
    ]
    empty = judge(pairs_of(normal_like(20, 0.0, 4.0)), reference_is="indirect", bounds=(10.0, 20.0))
    assert {one.verdict for one in empty.ranges[0].judged} == {"not-enough-animals"}


def test_the_human_standard_by_both_routes() -> None:
    """Criterion 2 only against a cuff; counts and spread as told for either; a mean beyond 5.0 allows no scatter.

    Oracle: by construction.
    """
    rng = np.random.default_rng(5)
    animals = normal_like(85, 1.0, 3.0)
    difference = np.repeat(animals, 3) + rng.normal(0.0, 4.0, 255)
    reference = rng.permutation(np.linspace(80.0, 200.0, 255))
    pairs = pairs_of(difference, each=3, reference=reference)
    indirect = verdicts(pairs, HUMAN_STANDARD, "indirect")
    assert set(indirect.values()) == {"passes"}
    assert "criterion-2" in indirect
    arterial = verdicts(pairs, HUMAN_STANDARD, "intra-arterial")
    assert "criterion-2" not in arterial
    assert arterial["pairs-of-an-animal"] == "passes"
    moved = pairs_of(difference + 5.0, each=3, reference=reference)
    assert verdicts(moved, HUMAN_STANDARD, "indirect")["criterion-2"] == "fails"
    narrow = pairs_of(difference, each=3, reference=np.full(255, 120.0) + np.arange(255) / 100.0)
    spread = verdicts(narrow, HUMAN_STANDARD, "indirect")
    assert spread["low-enough"] == spread["high-enough"] == spread["raised-enough"] == "fails"


def test_scatter_of_the_animals_means() -> None:
    """Around the mean of all pairs, with one less than animals below the line.

    Oracle: by construction, three animals by hand: means 1, 2, 6 of 1, 1, 2 pairs; mean of all 15 / 4.
    """
    pairs = Pairs(
        quantity="systolic",
        animal=["a", "b", "c", "c"],
        tested=[101.0, 102.0, 105.0, 107.0],
        reference=[100.0, 100.0, 100.0, 100.0],
        truth="changing",
    )
    mean = 15.0 / 4.0
    expected = ((1.0 - mean) ** 2 + (2.0 - mean) ** 2 + (6.0 - mean) ** 2) / 2.0
    assert animal_mean_sd(pairs).estimate == pytest.approx(expected**0.5)


def test_grades_and_which_of_them_are_open() -> None:
    """Shares of exactly 55, 80 and 92 % are grade B, and a hundred pairs leave A and C open.

    Oracle: published grades, A 60/85/95, B 50/75/90, C 40/65/85; the pairs by construction.
    """
    difference = np.concatenate([np.full(55, 3.0), np.full(25, -8.0), np.full(12, 12.0), np.full(8, 30.0)])
    found = judge(pairs_of(difference), GRADED)
    assert found.grade == "B"
    assert found.grades_allowed == ("A", "C")
    assert found.verdict == "not-judged"
    assert judge(pairs_of(np.full(100, 30.0) + np.arange(100) / 1000.0), GRADED).grade == "D"


def test_the_international_protocol_counts_by_animal() -> None:
    """33 with three pairs each: two of three shares, and how many have two of three, or none, within 5.

    Oracle: by construction: 30 animals with errors 1, 2, 7 and three with 8, 9, 30.
    """
    difference = np.array([1.0, 2.0, 7.0] * 30 + [8.0, 9.0, 30.0] * 3)
    found = judge(pairs_of(difference, each=3), INTERNATIONAL)
    values = {each.criterion.key: each for each in found.judged}
    counted = values["two-of-three-of-an-animal"].value
    assert counted is not None
    assert counted.estimate == 30.0
    assert values["none-of-an-animal"].verdict == "passes"
    # 60.6, 97.0 and 97.0 % within 5, 10 and 15: two of three reached, the first share of "all" not
    assert values["two-of-three"].verdict.startswith("passes")
    assert values["within-5"].verdict.startswith("fails")
    other = judge(pairs_of(difference[:96], each=3), INTERNATIONAL)
    assert {e.criterion.key: e.verdict for e in other.judged}["none-of-an-animal"] == "not-judged"


def test_effective_readings_of_the_continuous_standard() -> None:
    """With no likeness within animals each pair counts, with full likeness each animal.

    Oracle: published formula 6 as quoted, k (1 + (1 - ICC)(N / k - 1)), at its two ends.
    """
    alike = pairs_of(np.repeat(np.arange(10.0), 4), each=4)
    assert effective_pairs(alike) == pytest.approx(10.0)
    unlike = pairs_of(np.tile([-3.0, -1.0, 1.0, 3.0], 10), each=4)
    assert effective_pairs(unlike) == pytest.approx(40.0)
    assert verdicts(unlike, CONTINUOUS)["effective-pairs"] == "not-enough-animals"


def test_limits_are_inclusive_whatever_the_binary_digits() -> None:
    """Differences of exactly 10.0 in decimals lie within 10.

    Oracle: common practice, abs(d) <= 10. 130.1 - 120.1 is a hair less as a binary number, 140.3 - 130.3 may be more.
    """
    reference = np.array([120.1, 130.3, 99.7, 64.4, 151.9, 77.7, 180.2, 143.6])
    pairs = Pairs(
        quantity="systolic",
        animal=[str(i) for i in range(8)],
        tested=[130.1, 140.3, 109.7, 74.4, 161.9, 87.7, 190.2, 153.6],
        reference=reference,
        truth="single",
    )
    found = {each.criterion.key: each for each in judge(pairs, reference_is="intra-arterial").judged}
    assert found["within-10"].value is not None
    assert found["within-10"].value.estimate == 1.0
    assert found["bias"].verdict == "passes"


def test_every_figure_has_a_source_and_a_standing() -> None:
    """No limit without where it comes from; what was not seen in print says so.

    Oracle: by construction, the dossier: of the veterinary list only the SD and the shares were seen, as quoted.
    """
    for scheme in SCHEMES.values():
        for each in scheme.criteria:
            cited = [each.limit] if each.limit is not None else [share for _, share in each.bands]
            assert cited or each.key == "criterion-2"
            assert all(one is not None and one.source and one.place for one in cited)
    seen = {each.key for each in VETERINARY.criteria if each.limit and each.limit.standing == "as quoted"}
    assert seen == {"sd", "within-10", "within-20"}
    assert set(ORDER) < set(Verdict.__args__)


def test_what_is_not_judged_says_why() -> None:
    """A kind of reference that is not told, a method that gave one value, a range without a pair, another design.

    Oracle: by construction.
    """
    found = {each.criterion.key: each for each in judge(pairs_of(normal_like(20, 0.0, 4.0))).judged}
    assert "not told" in (found["animals"].why or "")
    assert found["bias"].why is None
    rng = np.random.default_rng(9)
    flat = Pairs(
        quantity="systolic",
        animal=[f"A{k // 3}" for k in range(30)],  # type: ignore[arg-type]
        tested=np.full(30, 170.0),
        reference=rng.normal(168.0, 3.0, 30),
        truth="changing",
    )
    judged = {each.criterion.key: each for each in judge(flat, reference_is="intra-arterial").judged}
    assert (judged["correlation"].verdict, judged["correlation"].value) == ("not-judged", None)
    assert "same value throughout" in (judged["correlation"].why or "")
    assert judge(flat, reference_is="intra-arterial").verdict == "not-judged"
    other = judge(pairs_of(normal_like(20, 0.0, 4.0)), INTERNATIONAL).judged
    assert {each.criterion.key for each in other if each.why} == {"two-of-three-of-an-animal", "none-of-an-animal"}


def test_each_species_is_judged_by_itself() -> None:
    """Fifteen cats and fifteen dogs are not thirty animals, and a bias of either way is no bias of nought.

    Oracle: by construction.
    """
    apart = np.concatenate([normal_like(15, -8.0, 4.0), normal_like(15, 8.0, 4.0)])
    both = replace(pairs_of(apart), species=("cat",) * 15 + ("dog",) * 15)
    cats, dogs = judge_each(both, reference_is="indirect")
    assert (cats.species, dogs.species) == ("cat", "dog")
    for found, bias in ((cats, -8.0), (dogs, 8.0)):
        values = {each.criterion.key: each for each in found.judged}
        assert values["bias"].value is not None
        assert values["bias"].value.estimate == pytest.approx(bias)
        assert values["animals"].verdict == "not-enough-animals"
        assert found.verdict != "passes"
    (alone,) = judge_each(replace(both, species=("cat",) * 30), reference_is="indirect")
    assert alone == judge(replace(both, species=("cat",) * 30), reference_is="indirect")
    assert alone.species is None
