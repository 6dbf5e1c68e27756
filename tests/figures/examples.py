"""Invented readings and series to draw. Nothing here comes from an animal."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.findings import Finding, verdict_of
from quietlimb.engine.interpretation.interpretation import (
    Advice,
    CategoryProbability,
    Caution,
    Interpretation,
    OrganCheck,
)
from quietlimb.engine.pulses import Pulses
from quietlimb.engine.reading import Evidence, Reading
from quietlimb.engine.recording import recording
from quietlimb.engine.session.charted import ChartedPressure, GuidelineAverage, ReadingInSeries
from quietlimb.engine.session.series import Series, series_from_values
from quietlimb.engine.standards.acvim_2018 import PROTOCOL
from quietlimb.engine.values import Estimate

CAT = Circumstances(
    species="cat",
    animal="Pebble",
    breed="domestic shorthair",
    site="forelimb",
    side="left",
    position="on-lap",
    place="carrier",
    instrument="Bench sensor 2",
    cuff="cuff 2.5",
    cuff_width_cm=2.5,
    limb_circumference_cm=7.1,
    acclimatisation_min=8.0,
    sedation="awake",
    read_by="R. Alder",
    held_by="M. Birch",
    started_at="2031-03-03T09:10",
)


def estimate(value: float, half: float, *, unit: str = "mmHg") -> Estimate:
    """A plausible estimate with a symmetric interval."""
    sd = half / 1.96
    return Estimate(value=value, low=value - half, high=value + half, own_sd=0.6 * sd, shared_sd=0.8 * sd, unit=unit)


def reading(
    *,
    circumstances: Circumstances = CAT,
    findings: tuple[Finding, ...] = (),
    systolic: float | None = 143.0,
    mean: float | None = 108.0,
    diastolic: float | None = 88.0,
    seed: int = 3,
) -> Reading:
    """A linear deflation from 190 to 40 mmHg with pulses of a bell-shaped envelope and a burst of motion."""
    rng = np.random.default_rng(seed)
    time = np.arange(0.0, 36.0, 1.0 / 100.0)
    cuff = np.interp(time, [0.0, 4.0, 34.0, 35.0, 36.0], [0.0, 190.0, 45.0, 3.0, 0.0])

    def envelope(p: np.ndarray) -> np.ndarray:
        return 2.4 * np.exp(-0.5 * ((p - 106.0) / np.where(p > 106.0, 26.0, 20.0)) ** 2)

    period = 0.36
    phase = (time % period) / period
    pulse = envelope(cuff) * np.where((time > 4.2) & (time < 34.0), (phase * np.exp(1 - phase / 0.2) / 0.2), 0.0)
    motion = np.where((time > 21.0) & (time < 22.0), 6.0 * np.sin(2 * np.pi * 3.0 * time), 0.0)
    pressure = np.clip(cuff + pulse + motion + rng.normal(0.0, 0.15, time.size), -2.0, 340.0)
    foot = np.arange(5.0, 33.8, period)
    under = np.interp(foot, time, cuff)
    set_aside = tuple("limb-moved" if 20.8 < t < 22.1 else "" for t in foot)
    height = envelope(under) + rng.normal(0.0, 0.12, foot.size)
    height = np.where([reason != "" for reason in set_aside], height + rng.uniform(0.5, 7.0, foot.size), height)
    curve = np.linspace(45.0, 190.0, 120)
    evidence = Evidence(
        recording=recording(time, pressure, circumstances),
        deflation_s=(4.0, 34.0),
        pulses=Pulses(
            time_s=foot,
            period_s=np.full(foot.size, period),
            cuff_pressure_mmhg=under,
            height_mmhg=np.abs(height),
            height_sd_mmhg=np.full(foot.size, 0.12),
            set_aside=set_aside,
        ),
        envelope_pressure_mmhg=curve,
        envelope_height_mmhg=envelope(curve),
    )
    return Reading(
        systolic=None if systolic is None else estimate(systolic, 6.0),
        mean=None if mean is None else estimate(mean, 4.0),
        diastolic=None if diastolic is None else estimate(diastolic, 5.0),
        pulse_rate=estimate(167.0, 3.0, unit="/min"),
        method="artery fit",
        findings=findings,
        verdict=verdict_of(findings),
        evidence=evidence,
    )


MOVED = Finding(code="limb-moved", severity="doubt", at_s=21.0, at_mmhg=108.0, numbers={"seconds": 1.1, "share": 0.04})
IRREGULAR = Finding(code="irregular-rhythm", severity="note", at_s=21.6, numbers={"interval_cv": 0.22})
SATURATED = Finding(code="saturated", severity="note", at_s=33.5, numbers={"seconds": 0.2, "at_mmhg": 50.0})
FEW = Finding(code="few-pulses", severity="doubt", numbers={"pulses": 5.0, "needed": 8.0})


def without_pulses() -> Reading:
    """A recording in which nothing was found: no deflation, no pulses, no value."""
    whole = reading(findings=(Finding(code="no-pulse", severity="spoils", numbers={"pulses": 0.0}),))
    assert whole.evidence is not None
    nothing = replace(
        whole.evidence,
        deflation_s=None,
        pulses=None,
        envelope_pressure_mmhg=np.array([]),
        envelope_height_mmhg=np.array([]),
    )
    return replace(whole, systolic=None, mean=None, diastolic=None, pulse_rate=None, evidence=nothing)


def series(n: int = 6, *, circumstances: Circumstances = CAT, only_systolic: bool = False) -> Series:
    """n readings that fall and level off; the third was spoiled by movement when there are that many."""
    rng = np.random.default_rng(11)
    minute = [round(1.5 * k, 1) for k in range(n)]
    systolic = [round(148.0 + 16.0 * np.exp(-k / 1.5) + float(rng.normal(0.0, 2.0))) for k in range(n)]
    if n >= 3:
        systolic[2] = 192
    findings = tuple((MOVED,) if k == 2 else () for k in range(n))
    if only_systolic:
        return series_from_values(circumstances=circumstances, minute=minute, systolic=systolic, findings=findings)
    typed = series_from_values(
        circumstances=circumstances,
        minute=minute,
        systolic=systolic,
        mean=[s - 36.0 for s in systolic],
        diastolic=[s - 57.0 for s in systolic],
        pulse_rate=[180.0 - k for k in range(n)],
        findings=findings,
    )
    sd = np.full(n, 3.2)
    shared = np.full(n, 2.5)
    return replace(
        typed, origin="recorded", systolic_sd=sd, mean_sd=sd * 0.8, diastolic_sd=sd, systolic_shared_sd=shared
    )


def charted(n: int = 6, *, circumstances: Circumstances = CAT, only_systolic: bool = False) -> ChartedPressure:
    """A charted pressure over `series(n)`, with numbers chosen by hand."""
    taken = series(n, circumstances=circumstances, only_systolic=only_systolic)
    spoils = replace(MOVED, severity="spoils")
    readings = tuple(
        ReadingInSeries(
            minute=float(taken.minute[k]),
            verdict="discard" if k == 2 else ("doubtful" if k == 1 else "keep"),
            systolic_weight=0.02 if k == 2 else min(1.0, 0.35 + 0.2 * k),
            mean_weight=None if only_systolic else 0.8,
            diastolic_weight=None if only_systolic else 0.7,
            findings=(spoils,) if k == 2 else ((MOVED,) if k == 1 else ()),
        )
        for k in range(n)
    )
    return ChartedPressure(
        series=taken,
        systolic=estimate(148.4, 6.3),
        mean=None if only_systolic else estimate(112.0, 5.0),
        diastolic=None if only_systolic else estimate(91.0, 5.0),
        pulse_rate=None if only_systolic else estimate(176.0, 3.0, unit="/min"),
        course="falling" if n < 4 else "level",
        course_probability=(0.71, 0.22, 0.07),
        fall_mmhg=14.0,
        readings=readings,
        guideline=GuidelineAverage(
            protocol=PROTOCOL,
            rule="first dropped, then 5 to 7 consecutive",
            kept=tuple(k + 1 for k in range(1, n) if k != 2) or (1,),
            systolic=151.2,
            mean=None if only_systolic else 114.0,
            diastolic=None if only_systolic else 93.0,
            spread=0.06,
            consistent=True,
            enough=n >= 6,
        ),
        findings=(),
    )


def uncharted() -> ChartedPressure:
    """A series of which no reading could be used."""
    whole = charted(3)
    return replace(
        whole,
        systolic=None,
        mean=None,
        diastolic=None,
        pulse_rate=None,
        course="unclear",
        course_probability=(1 / 3, 1 / 3, 1 / 3),
        fall_mmhg=None,
        guideline=None,
        findings=(Finding(code="no-usable-reading", severity="spoils", numbers={"readings": 3.0}),),
    )


NAMES = ("normotensive", "prehypertensive", "hypertensive", "severely hypertensive")
EDGES = (None, 140.0, 160.0, 180.0, None)


def categories(*probabilities: float) -> tuple[CategoryProbability, ...]:
    """The four categories with these probabilities."""
    return tuple(
        CategoryProbability(name=name, from_mmhg=EDGES[k], to_mmhg=EDGES[k + 1], probability=probabilities[k])
        for k, name in enumerate(NAMES)
    )


def interpretation(
    *, next_steps: tuple[Advice, ...] = (), cautions: tuple[Caution, ...] = (), category: str | None = "prehypertensive"
) -> Interpretation:
    """An interpretation with probabilities chosen by hand."""
    return Interpretation(
        rule_set="ACVIM 2018",
        category=category,
        near_boundary=False,
        today=categories(0.01, 0.98, 0.01, 0.0),
        animal=categories(0.24, 0.58, 0.17, 0.01),
        day_to_day_sd=11.0,
        organ_damage="not examined",
        organs=(
            OrganCheck(organ="eyes", state="not examined"),
            OrganCheck(organ="brain", state="absent"),
            OrganCheck(organ="heart", state="unclear"),
            OrganCheck(organ="kidneys", state="present"),
        ),
        next=next_steps,
        cautions=cautions,
    )
