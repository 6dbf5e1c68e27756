"""Advice with its source: by the rule set, by a cited number, by common practice."""

from __future__ import annotations

from dataclasses import replace

from quietlimb.engine.interpretation.case import Case
from quietlimb.engine.interpretation.interpretation import Advice
from quietlimb.engine.standards.rule_set import Window
from quietlimb.engine.values import Cited, Standing

TODAY = (0.0, 0.0)
OLD_SCHEME = Advice(
    code="category-of-an-old-scheme",
    source="Quietlimb",
    place="old schemes are for reading old charts",
    standing="invented",
)


def by_rules(
    case: Case,
    code: str,
    *,
    within_days: tuple[float, float] | None = None,
    place: str = "decision flow",
    standing: Standing = "from memory",
    **numbers: float,
) -> Advice:
    """Advice by the chosen rule set."""
    return Advice(
        code=code, within_days=within_days, numbers=numbers, source=case.rules.source, place=place, standing=standing
    )


def by(cited: Cited, code: str, *, within_days: tuple[float, float] | None = None, **numbers: float) -> Advice:
    """Advice with the source and standing of a number."""
    return Advice(
        code=code,
        within_days=within_days,
        numbers=numbers,
        source=cited.source,
        place=cited.place,
        standing=cited.standing,
    )


def windowed(code: str, window: Window, **numbers: float) -> Advice:
    """Advice within the days of a window, with the source and standing of the last one."""
    return replace(by(window.latest, code, within_days=window.days, **numbers), place=window.place)


def practice(code: str, place: str, *, within_days: tuple[float, float] | None = None, **numbers: float) -> Advice:
    """Advice by common practice."""
    return Advice(
        code=code,
        within_days=within_days,
        numbers=numbers,
        source="practice",
        place=place,
        standing="common practice",
    )
