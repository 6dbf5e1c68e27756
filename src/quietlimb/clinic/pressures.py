"""A pressure as it stands in a list or a sentence: never rounded across a boundary that something hangs on."""

from __future__ import annotations

from dataclasses import replace

from quietlimb.engine.circumstances import Species
from quietlimb.engine.session.charted import GuidelineAverage
from quietlimb.engine.standards.acvim_2018 import SEVERELY_HYPERTENSIVE_FROM
from quietlimb.engine.standards.rule_sets import rule_set
from quietlimb.engine.units import kpa_from_mmhg
from quietlimb.engine.values import Estimate
from quietlimb.reports.phrases import with_interval
from quietlimb.words.numerals import decimals_beside


def mmhg(systolic_mmhg: float, *, rules: str, species: Species, least: int = 0) -> str:
    """The number alone: whole, unless that would put it on the other side of a boundary of the rule set, or of the line
    from which a session is urgent.

    least : decimals in any case
    """
    edges = [*(edge.value for edge in rule_set(rules, species).systolic_from), SEVERELY_HYPERTENSIVE_FROM.value]
    return f"{systolic_mmhg:.{decimals_beside(systolic_mmhg, edges, least)}f}"


def as_chosen(systolic_mmhg: float, *, rules: str, species: Species) -> str:
    """The number that somebody chose, with the decimal that she typed."""
    return mmhg(systolic_mmhg, rules=rules, species=species, least=int(systolic_mmhg != round(systolic_mmhg)))


def kpa(pressure_mmhg: float) -> str:
    """The number in kPa with one decimal, as displays have it; boundaries are those of the mmHg beside it."""
    return f"{kpa_from_mmhg(pressure_mmhg):.1f}"


def kpa_with_interval(pressure: Estimate) -> str:
    """`19.7 (18.9 to 20.7)`, of a pressure in mmHg."""
    in_kpa = {name: kpa_from_mmhg(getattr(pressure, name)) for name in ("value", "low", "high")}
    return with_interval(replace(pressure, unit="kPa", **in_kpa), 1)


def guideline_in_kpa(found: GuidelineAverage | None) -> str:
    """`22.0/17.6/14.8`, of systolic, mean and diastolic pressure as far as they are known; empty without an average."""
    if found is None or found.systolic is None:
        return ""
    parts = [found.systolic, found.mean, found.diastolic]
    if found.mean is None and found.diastolic is None:
        parts = parts[:1]
    return "/".join("-" if part is None else kpa(part) for part in parts)
