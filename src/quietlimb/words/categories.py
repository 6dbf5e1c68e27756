"""Risk categories in readable words."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.words.language import _, mark

NAMES: Mapping[str, str] = {
    "normotensive": mark("Normotensive"),
    "prehypertensive": mark("Prehypertensive"),
    "hypertensive": mark("Hypertensive"),
    "severely hypertensive": mark("Severely hypertensive"),
}

RISKS: Mapping[str, str] = {
    "normotensive": mark("minimal risk of organ damage"),
    "prehypertensive": mark("low risk of organ damage"),
    "hypertensive": mark("moderate risk of organ damage"),
    "severely hypertensive": mark("high risk of organ damage"),
}


def category_name(category: str | None) -> str:
    """The readable name of a category; says so where there is none."""
    return _(mark("No category")) if category is None else _(NAMES[category])


def category_risk(category: str) -> str:
    """What the rule set says of the risk of future organ damage."""
    return _(RISKS[category])


def pressure_range(from_mmhg: float | None, to_mmhg: float | None) -> str:
    """The pressures of a half-open category: `under 140 mmHg`, `140 to under 160 mmHg`, `180 mmHg and over`."""
    if not from_mmhg:
        return _("any pressure") if to_mmhg is None else _("under {to:g} mmHg").format(to=to_mmhg)
    if to_mmhg is None:
        return _("{start:g} mmHg and over").format(start=from_mmhg)
    return _("{start:g} to under {to:g} mmHg").format(start=from_mmhg, to=to_mmhg)
