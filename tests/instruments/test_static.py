"""Static accuracy and the display beside a manometer."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm, t

from quietlimb.instruments.checks import DisplayPoints, Reference, StaticPoints
from quietlimb.instruments.static import display, half_width_of_all, static_accuracy

LEVELS = (0.0, 50.0, 100.0, 150.0, 200.0, 250.0)
EXACT = Reference(expanded_mmhg=0.0, resolution_mmhg=0.0)


def points(up: tuple[float, ...], down: tuple[float, ...] = (), **known: object) -> StaticPoints:
    """Errors at `LEVELS` going up, and at the same going down again."""
    back = tuple(reversed(LEVELS)) if down else ()
    reference = LEVELS + back
    return StaticPoints(
        reference_mmhg=reference,
        instrument_mmhg=tuple(r + e for r, e in zip(reference, up + tuple(reversed(down)), strict=True)),
        direction=("up",) * len(up) + ("down",) * len(down),
        **known,  # type: ignore[arg-type]
    )


def codes(result: object) -> list[str]:
    """Of the findings."""
    return [finding.code for finding in result.findings]  # type: ignore[attr-defined]


def test_worst_mean_and_hysteresis_of_a_worked_table():
    """Twelve points: worst +3 at 250, mean 23/12, the falling course 1 mmHg above the rising one.

    Oracle: by construction, worked by hand.
    """
    found = static_accuracy(points((0, 1, 1, 2, 2, 3), (1, 2, 2, 3, 3, 3)))
    worst, hysteresis = found.figures["worst_error"], found.figures["hysteresis"]
    assert (worst.value, worst.at_mmhg) == (3.0, 250.0)
    assert found.figures["mean_error"].value == pytest.approx(23.0 / 12.0)
    assert hysteresis.value == pytest.approx(1.0)
    assert found.verdict == "passes-crossing"
    assert found.passed
    assert next(iter(found.figures)) == "worst_error"


def test_the_certificates_correction_is_added_to_the_reference():
    """A manometer that reads 2 mmHg too low makes an instrument that agrees with it 2 mmHg too low.

    Oracle: common practice, the reference's own error is added.
    """
    found = static_accuracy(points((0.0,) * 6, reference=Reference(correction_mmhg=2.0)))
    assert found.figures["worst_error"].value == pytest.approx(-2.0)


def test_an_automated_instrument_is_judged_at_each_pressure_by_its_own_limit():
    """+4.5 mmHg pass at 250 (limit 5); +3.5 mmHg fail at 50 (limit 3), and that is the worst.

    Oracle: from memory, IEC 80601-2-30: 3 mmHg or 2 % of the reading.
    """
    alike = (0, 0, 0, 0, 0, 4.5)
    fine = static_accuracy(points(alike, alike, reference=EXACT, resolution_mmhg=0.1), "automated")
    assert fine.verdict == "passes"
    both = static_accuracy(points((0, 3.5, 0, 0, 0, 4.5), reference=EXACT, resolution_mmhg=0.1), "automated")
    assert both.verdict == "fails"
    assert both.figures["worst_error"].at_mmhg == 50.0


def test_the_largest_error_is_told_beside_the_worst_against_its_limit():
    """+5 at 150 (limit 3) is worst, +7 at 250 (limit 5) is largest; by a limit alike everywhere there is one worst.

    Oracle: by construction; the limit of 3 mmHg or 2 % is from memory, IEC 80601-2-30.
    """
    made = points((0, 0, 0, 5.0, 0, 7.0), reference=EXACT, resolution_mmhg=0.1)
    found = static_accuracy(made, "automated").figures
    worst, largest = found["worst_error"], found["largest_error"]
    assert (worst.value, worst.at_mmhg) == (pytest.approx(5.0), 150.0)
    assert (largest.value, largest.at_mmhg) == (pytest.approx(7.0), 250.0)
    alike = static_accuracy(made, "non-automated").figures
    assert "largest_error" not in alike
    assert alike["worst_error"].value == pytest.approx(7.0)


def test_the_interval_of_the_mean_is_students_and_the_certificates():
    """t of five degrees of freedom on the scatter, and 1.96 certificate SDs, in quadrature.

    Oracle: reference library, scipy.stats 1.17; GUM type A and type B combined.
    """
    errors = (0.0, 1.0, -1.0, 2.0, 0.5, 1.5)
    found = static_accuracy(points(errors, reference=Reference(expanded_mmhg=1.2))).figures["mean_error"]
    by_t = t.ppf(0.975, 5) * np.std(errors, ddof=1) / np.sqrt(6.0)
    assert found.high - found.value == pytest.approx(np.hypot(by_t, norm.ppf(0.975) * 0.6))


@pytest.mark.parametrize(
    ("count", "sd", "steps", "half"),
    [
        (1, 1.0, (1e-6, 1e-7), norm.ppf(0.975)),
        (1, 0.0, (2.0, 1e-9), 0.95),
        (1, 0.0, (1.0, 1.0), 1.0 - np.sqrt(0.05)),
        (4, 0.0, (2.0, 1e-9), 0.95**0.25),
    ],
)
def test_the_half_width_has_its_limiting_cases(count: int, sd: float, steps: tuple[float, float], half: float):
    """A certificate alone is normal; one rounding is even; two alike make a triangle; four roundings their product.

    Oracle: by construction, closed forms; reference library, scipy.stats for the normal. Tolerance: the mesh of the
    integral over the certificate's error, 0.005 SD.
    """
    assert half_width_of_all(count, sd, steps) == pytest.approx(half, abs=1e-3 + 0.005 * sd)


def test_the_half_width_holds_all_points_at_once():
    """Of 200,000 sets of twelve errors 95 % lie inside altogether.

    Oracle: by simulation, a slower twin with its own draws. Tolerance: four Monte Carlo errors.
    """
    rng = np.random.default_rng(71)
    half = half_width_of_all(12, 0.5, (1.0, 0.2))
    errors = rng.normal(0.0, 0.5, (200_000, 1)) + rng.uniform(-0.5, 0.5, (200_000, 12))
    errors += rng.uniform(-0.1, 0.1, (200_000, 12))
    assert np.mean(np.abs(errors).max(axis=1) <= half) == pytest.approx(0.95, abs=0.002)


def test_what_beside_the_verdict_is_worth_knowing():
    """Too few points, a narrow range, one direction, a coarse manometer, a zero that is off.

    Oracle: common practice; the shares are our own.
    """
    few = StaticPoints(
        reference_mmhg=(80.0, 120.0),
        instrument_mmhg=(80.0, 120.0),
        direction=("up", "up"),
        reference=Reference(expanded_mmhg=2.0),
    )
    assert codes(static_accuracy(few)) == ["few-points", "narrow-range", "reference-uncertain", "one-direction-only"]
    assert "zero-off" in codes(static_accuracy(points((2.0, 0, 0, 0, 0, 0), (0,) * 6)))
    assert codes(static_accuracy(points((0.0,) * 6, (0.0,) * 6))) == []


@pytest.mark.parametrize(
    ("reference", "direction"),
    [
        ((0.0, 50.0), ("up", "up")),
        ((0.0, 250.0, 0.0), ("up", "up", "down")),
        ((0.0, 40.0, 80.0, 120.0, 160.0, 120.0, 80.0), ("up",) * 5 + ("down",) * 2),
        ((0.0, 50.0, 100.0, 150.0, 200.0), ("up",) * 5),
    ],
    ids=["two-points", "few-points", "only-low", "only-up"],
)
def test_points_that_leave_out_much_can_fail_but_not_pass(reference: tuple[float, ...], direction: tuple[str, ...]):
    """Not a single error, yet no verdict; +5 mmHg at the same points fails.

    Oracle: common practice, points over the whole range, up and down; that less than this is no pass is our own.
    """
    for off, verdict in ((0.0, "not-judged"), (5.0, "fails")):
        taken = StaticPoints(
            reference_mmhg=reference,
            instrument_mmhg=tuple(each + off for each in reference),
            direction=direction,  # type: ignore[arg-type]
        )
        assert static_accuracy(taken).verdict == verdict


def test_an_error_is_told_as_growing_or_as_alike():
    """A gain that is off is for the service; one error everywhere may be the zero; a crooked one is neither.

    Oracle: by construction; common practice (linear shift: adjust, non-linear: replace).
    """
    growing = (0.0, 1.0, 2.0, 3.0, 4.0, 5.0)
    assert "error-grows-with-pressure" in codes(static_accuracy(points(growing, growing)))
    alike = (4.0,) * 6
    assert "error-alike" in codes(static_accuracy(points(alike, alike)))
    crooked = (0.0, 5.0, -4.0, 5.0, -4.0, 0.0)
    assert not {"error-alike", "error-grows-with-pressure"} & set(codes(static_accuracy(points(crooked, crooked))))


def test_hysteresis_over_4_mmhg_fails_though_every_error_is_within_the_limit():
    """-2.8 going up and +2.8 coming down: each within 3 mmHg, 5.6 mmHg apart.

    Oracle: from memory, hysteresis of a dial at most 4 mmHg.
    """
    up, down = (0, -2.8, -2.8, -2.8, -2.8, 0), (0, 2.8, 2.8, 2.8, 2.8, 0)
    found = static_accuracy(points(up, down, resolution_mmhg=0.1, reference=EXACT))
    assert found.figures["worst_error"].verdict == "passes"
    assert found.figures["hysteresis"].value == pytest.approx(5.6)
    assert found.verdict == "fails"
    assert "hysteresis-large" in codes(found)


def test_a_display_is_judged_by_5_mmhg():
    """Within 5 mmHg of a hand-held manometer it is usable between formal tests.

    Oracle: common practice.
    """
    for error, passed in ((5.0, True), (-5.0, True), (6.0, False)):
        found = display(DisplayPoints(manometer_mmhg=(120.0, 180.0), display_mmhg=(120.0, 180.0 + error)))
        assert found.passed is passed
        assert found.figures["worst_error"].most is not None
        assert found.figures["worst_error"].most.standing == "common practice"
