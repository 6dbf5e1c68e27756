"""Exhaust and bleed valve from recordings."""

from __future__ import annotations

import math

import numpy as np
import pytest

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.recording import Recording, recording
from quietlimb.instruments.valve import bleed_rate, exhaust
from quietlimb.simulator.closed_cuff import ClosedCuff, record_bleed, record_closed_cuff, record_exhaust

CUFF = ClosedCuff(leak_mmhg_per_min=3.0, settling_share=0.02, settling_s=5.0)


def codes(result: object) -> list[str]:
    """Of the findings."""
    return [finding.code for finding in result.findings]  # type: ignore[attr-defined]


def cut(made: Recording, until_s: float) -> Recording:
    """The recording up to a moment."""
    kept = made.time_s <= until_s
    return recording(made.time_s[kept], made.cuff_pressure_mmhg[kept], made.circumstances)


@pytest.mark.parametrize(("constant_s", "verdict"), [(1.5, "passes"), (3.4, "passes"), (3.7, "fails")])
def test_an_exponential_exhaust_takes_the_logarithm_of_its_pressures(constant_s: float, verdict: str):
    """260 to 15 mmHg takes tau ln(260/15), and the interval holds it.

    Oracle: by construction, the simulator's law; limit from memory, 10 s.
    """
    found = exhaust(record_exhaust(41, time_constant_s=constant_s))
    time, truth = found.figures["time"], constant_s * math.log(260.0 / 15.0)
    assert time.value == pytest.approx(truth, abs=0.05)
    assert time.low <= truth <= time.high
    assert found.verdict == verdict


def test_the_small_limit_starts_lower():
    """150 to 5 mmHg within 5 s.

    Oracle: by construction, tau ln 30; limit from memory.
    """
    slow, fast = (exhaust(record_exhaust(42, time_constant_s=tau), "neonatal") for tau in (1.7, 1.2))
    assert (slow.verdict, fast.verdict) == ("fails", "passes")
    assert fast.figures["time"].value == pytest.approx(1.2 * math.log(30.0), abs=0.08)


def test_a_sensor_that_may_be_off_makes_the_time_less_sure():
    """At the end of the fall, 1 mmHg is a long time.

    Oracle: by construction: 15 -/+ 1.96 mmHg moves the end by tau ln of their ratio.
    """
    made = record_exhaust(43, time_constant_s=2.0)
    sure, unsure = (exhaust(made, standard_mmhg=sd).figures["time"] for sd in (0.0, 1.0))
    assert sure.high - sure.low < 0.1
    late = 2.0 * (math.log(260.0 - 1.96) - math.log(15.0 - 1.96))
    assert unsure.high == pytest.approx(late, abs=0.1)


def test_from_too_low_it_can_fail_but_not_pass():
    """From 200 mmHg: quick is not judged, slow fails, for from 260 it takes longer still.

    Oracle: by construction.
    """
    quick, slow = (exhaust(record_exhaust(44, start_mmhg=200.0, time_constant_s=tau)) for tau in (1.0, 5.0))
    assert (quick.verdict, slow.verdict) == ("not-judged", "fails")
    assert codes(quick) == ["starts-too-low"]


def test_a_recording_that_ends_too_early_can_fail_but_not_pass():
    """Cut at 40 mmHg: not judged within 10 s of the opening, failed after.

    Oracle: by construction.
    """
    made = record_exhaust(45, time_constant_s=9.0)
    early, late = exhaust(cut(made, 14.0)), exhaust(cut(made, 22.0))
    assert (early.verdict, late.verdict) == ("not-judged", "fails")
    assert late.figures["time"].high == math.inf
    assert codes(early) == ["ends-too-high"]


def test_what_shows_no_exhaust_is_not_judged():
    """A closed cuff for 60 s, and a bleed at 2.5 mmHg/s, each before it is let out: the valve was not opened.

    Oracle: by construction; under 5 mmHg/s there is no exhaust, invented.
    """
    held = cut(record_closed_cuff(51, CUFF), 62.0)
    bled = cut(record_bleed(52), 60.0)
    for found, code in ((exhaust(held), "stayed-closed"), (exhaust(bled), "no-exhaust")):
        assert (found.verdict, codes(found), found.figures) == ("not-judged", [code], {})


@pytest.mark.parametrize("constant_s", [60.0, 90.0, 140.0])
@pytest.mark.parametrize("seed", [61, 62])
def test_an_opened_valve_that_is_blocked_fails(constant_s: float, seed: int):
    """An exponential fall that is nowhere as fast as 5 mmHg/s fails, with the time that it took from 260 to 15 mmHg;
    and so it does where it was recorded for two time constants only, with no upper end.

    Oracle: by construction, tau ln(260/15).
    """
    made = record_exhaust(seed, time_constant_s=constant_s)
    found = exhaust(made)
    assert (found.verdict, codes(found)) == ("fails", ["blocked"])
    assert found.figures["time"].value == pytest.approx(constant_s * math.log(260.0 / 15.0), rel=0.03)
    early = exhaust(cut(made, 8.0 + 2.0 * constant_s))
    assert (early.verdict, codes(early), early.figures["time"].high) == ("fails", ["blocked"], math.inf)
    assert early.figures["time"].value < found.figures["time"].value
    assert exhaust(made, "neonatal").verdict == "fails"


def test_a_hold_before_a_blocked_valve_is_no_part_of_it():
    """Held closed at 280 mmHg for 40 s, then opened: the time counts from the opening on.

    Oracle: by construction, 80 ln(260/15) s.
    """
    rise, hold = np.linspace(0.0, 280.0, 600), np.full(4000, 280.0)
    fall = 280.0 * np.exp(-np.arange(1, 32_000) / 100.0 / 80.0)
    pressure = np.concatenate((rise, hold, fall)) + np.random.default_rng(5).normal(0.0, 0.2, 600 + 4000 + 31_999)
    found = exhaust(recording(np.arange(pressure.size) / 100.0, pressure, Circumstances(species="cat")))
    assert (found.verdict, codes(found)) == ("fails", ["blocked"])
    assert found.figures["time"].value == pytest.approx(80.0 * math.log(260.0 / 15.0), rel=0.03)


@pytest.mark.parametrize("seed", range(71, 77))
@pytest.mark.parametrize(("leak", "share", "settling_s"), [(0.0, 0.06, 20.0), (12.0, 0.06, 20.0), (30.0, 0.03, 5.0)])
def test_a_closed_cuff_never_passes_for_a_blocked_valve(seed: int, leak: float, share: float, settling_s: float):
    """The largest settling that is simulated and a leak of up to 30 mmHg/min, closed for two minutes: not judged.

    Oracle: by construction, the valve was never opened.
    """
    cuff = ClosedCuff(leak_mmhg_per_min=leak, settling_share=share, settling_s=settling_s)
    made = cut(record_closed_cuff(seed, cuff, levels_mmhg=(280.0,), hold_s=120.0), 120.0)
    found = exhaust(made)
    assert (found.verdict, found.figures) == ("not-judged", {})
    assert codes(found)[0] in ("stayed-closed", "no-exhaust")


@pytest.mark.parametrize("rates", [(2.5,), (2.9, 2.6, 2.4, 2.2), (1.0,), (4.2,)])
def test_a_bleed_that_keeps_its_rate_is_not_judged_as_an_exhaust(rates: tuple[float, ...]):
    """The bleed valve was used and not the exhaust: whether that is blocked, nobody knows.

    Oracle: by construction, rates from the simulator.
    """
    found = exhaust(cut(record_bleed(78, rates_mmhg_per_s=rates), 7.0 + 220.0 / max(rates)))
    assert (found.verdict, codes(found)) == ("not-judged", ["no-exhaust"])


def test_a_hold_before_the_opening_is_no_part_of_the_exhaust():
    """Closed for 60 s and then let out at once: from 150 mmHg the limit for small cuffs sees a second or two, and from
    too low a pressure nothing is judged, and nothing fails.

    Oracle: by construction, time constants of 0.12 to 0.3 s from the simulator.
    """
    made = record_closed_cuff(53, CUFF, levels_mmhg=(200.0,))
    small = exhaust(made, "neonatal")
    assert small.verdict == "passes"
    assert small.figures["time"].value == pytest.approx(0.21 * math.log(30.0), abs=0.4)
    large = exhaust(made)
    assert (large.verdict, codes(large)) == ("not-judged", ["starts-too-low"])
    assert large.figures["time"].value < 2.0


@pytest.mark.parametrize(
    ("rates", "verdict"),
    [((2.5,), "passes"), ((1.5,), "fails"), ((3.6,), "fails"), ((2.9, 2.6, 2.4, 2.2), "passes")],
)
def test_a_bleed_valve_must_keep_2_to_3_in_every_part(rates: tuple[float, ...], verdict: str):
    """Each quarter of 250 to 50 mmHg is judged.

    Oracle: by construction; limit from memory.
    """
    assert bleed_rate(record_bleed(46, rates_mmhg_per_s=rates)).verdict == verdict


def test_a_valve_right_on_the_whole_and_wrong_in_its_parts_fails():
    """4 mmHg/s at the top and 1.6 at the bottom make 2.3 on the whole.

    Oracle: by construction.
    """
    found = bleed_rate(record_bleed(47, rates_mmhg_per_s=(4.0, 3.0, 2.0, 1.6)))
    assert found.figures["rate"].verdict == "passes"
    assert found.verdict == "fails"
    assert found.figures["fastest"].at_mmhg == 225.0
    assert "uneven-bleed" in codes(found)


def test_a_closed_cuff_and_an_exhaust_are_no_bleed():
    """Held at 250 mmHg and let out, and let out at once: not judged, though no rate is within 2 to 3 mmHg/s.

    Oracle: by construction; the ends of what is a bleed are invented.
    """
    held = record_closed_cuff(54, CUFF, levels_mmhg=(260.0,), hold_s=240.0)
    for made in (held, record_exhaust(55)):
        found = bleed_rate(made)
        assert (found.verdict, codes(found)) == ("not-judged", ["no-bleed"])


def test_a_bleed_seen_in_part_can_fail_but_not_pass():
    """From 180 mmHg down the upper part of the range was not seen.

    Oracle: by construction.
    """
    fine = bleed_rate(record_bleed(48, start_mmhg=180.0))
    assert (fine.verdict, codes(fine)) == ("not-judged", ["starts-too-low"])
    assert bleed_rate(record_bleed(48, start_mmhg=180.0, rates_mmhg_per_s=(5.0,))).verdict == "fails"
    time = np.arange(0.0, 20.0, 0.01)
    flat = recording(time, 100.0 + 3.0 * np.sin(time), Circumstances(species="cat"))
    assert codes(bleed_rate(flat)) == ["starts-too-low", "ends-too-high", "no-fall"]


def test_an_impossible_uncertainty_is_refused():
    """Oracle: by construction."""
    with pytest.raises(ParameterError, match="standard uncertainty"):
        exhaust(record_exhaust(49), standard_mmhg=-1.0)
