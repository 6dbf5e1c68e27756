"""Risk categories in readable words."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.interpretation.acting import category_is_open
from quietlimb.engine.interpretation.categories import CLOSE_MMHG
from quietlimb.engine.interpretation.interpretation import Interpretation
from quietlimb.engine.standards.low_pressure import SYSTOLIC_BELOW
from quietlimb.engine.standards.rule_sets import rule_set_of
from quietlimb.words.language import _, in_a_sentence, mark
from quietlimb.words.numerals import decimals_beside

NAMES: Mapping[str, str] = {
    "normotensive": mark("Normotensive"),
    "prehypertensive": mark("Prehypertensive"),
    "hypertensive": mark("Hypertensive"),
    "severely hypertensive": mark("Severely hypertensive"),
    # ACVIM 2007
    "category I": mark("Category I"),
    "category II": mark("Category II"),
    "category III": mark("Category III"),
    "category IV": mark("Category IV"),
    # IRIS 2015
    "AP0": mark("Stage AP0"),
    "AP1": mark("Stage AP1"),
    "AP2": mark("Stage AP2"),
    "AP3": mark("Stage AP3"),
}

RISKS: Mapping[str, str] = {
    "normotensive": mark("minimal risk of organ damage"),
    "prehypertensive": mark("low risk of organ damage"),
    "hypertensive": mark("moderate risk of organ damage"),
    "severely hypertensive": mark("high risk of organ damage"),
    "category I": mark("minimal risk of organ damage"),
    "category II": mark("mild risk of organ damage"),
    "category III": mark("moderate risk of organ damage"),
    "category IV": mark("severe risk of organ damage"),
    "AP0": mark("normal pressure"),
    "AP1": mark("borderline pressure"),
    "AP2": mark("high pressure"),
    "AP3": mark("severely high pressure"),
}

LOW_CODES = frozenset({"confirm-low-pressure", "confirm-low-mean-pressure"})


def category_name(category: str | None) -> str:
    """The readable name of a category; says so where there is none."""
    return _(mark("No category")) if category is None else _(NAMES[category])


def share_name(interpretation: Interpretation, category: str) -> str:
    """The name of a category beside its share. Where the pressure is low the lowest is only called what it is, not
    raised: its usual name would tell the animal as sound."""
    lowest = bool(interpretation.today) and category == interpretation.today[0].name
    return _("Not raised") if lowest and is_low(interpretation) else category_name(category)


def value_name(systolic_mmhg: float, category: str) -> str:
    """What a pressure is called where its category stands alone behind it. Categories sort high pressures only: the
    lowest of them would tell a low pressure as one without fault."""
    low = SYSTOLIC_BELOW.value
    if systolic_mmhg < low:
        return _("below {low:.0f}: possible hypotension").format(low=low)
    return in_a_sentence(category_name(category))


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


def decimals(interpretation: Interpretation | None, systolic_mmhg: float | None) -> int:
    """Decimals of the systolic pressure: none away from a boundary, one close to it, more where one would still show it
    on the other side of it than its category, by this rule set or by one that is told beside it to differ."""
    if interpretation is None or systolic_mmhg is None:
        return 0
    boundaries = [each.from_mmhg for each in interpretation.today if each.from_mmhg]
    close = any(abs(edge - systolic_mmhg) <= CLOSE_MMHG for edge in boundaries)
    told_beside = [other.source for other in interpretation.others if "category" in other.differs]
    boundaries += [edge.value for source in told_beside for edge in rule_set_of(source).systolic_from]
    return decimals_beside(systolic_mmhg, boundaries, least=int(close))


def is_low(interpretation: Interpretation) -> bool:
    """Whether the pressure is to be confirmed as low before anything else is said of it."""
    return any(advice.code in LOW_CODES for advice in interpretation.next)


def is_too_low_under_treatment(interpretation: Interpretation) -> bool:
    """Whether a treated animal has fallen under a guard, and its pressure is not low by itself."""
    advised = {advice.code for advice in interpretation.next}
    return "too-low-under-treatment" in advised and not LOW_CODES & advised


def is_open(interpretation: Interpretation) -> bool:
    """Whether the category of the value is not the most probable one today, or none reaches 50 %."""
    return category_is_open(interpretation)


def heading(interpretation: Interpretation) -> str:
    """What to head a result with, without full stop: category and risk, or that the category is open, or low pressure.

    A low pressure, and one too low under treatment, come before the category, which only sorts high pressures.
    """
    category = interpretation.category
    if category is None:
        told = "" if is_low(interpretation) else _no_category(interpretation)
    elif is_open(interpretation):
        told = _open_heading(interpretation)
    else:
        told = f"{category_name(category)}: {category_risk(category)}"
    if is_low(interpretation):
        low = _("Low pressure: confirm it at once")
    elif is_too_low_under_treatment(interpretation):
        low = _("Too low under treatment")
    else:
        return told
    if category is not None and interpretation.today and category == interpretation.today[0].name:
        return _("{low} (among the categories of high pressure: {name})").format(
            low=low, name=in_a_sentence(category_name(category))
        )
    return f"{low}. {told}" if told else low


def _no_category(interpretation: Interpretation) -> str:
    """That there is none, and why where it is not plain."""
    return _("No category: the readings were not consistent") if _withheld(interpretation) else category_name(None)


def _withheld(interpretation: Interpretation) -> bool:
    """Whether there is a pressure that would have a category, had its readings been consistent."""
    return interpretation.category is None and bool(interpretation.today)


def _open_heading(interpretation: Interpretation) -> str:
    own = next(each for each in interpretation.today if each.name == interpretation.category)
    likeliest = max(interpretation.today, key=lambda category: category.probability)
    told = {
        "name": in_a_sentence(category_name(own.name)),
        "percent": 100.0 * own.probability,
        "other": in_a_sentence(category_name(likeliest.name)),
        "other_percent": 100.0 * likeliest.probability,
    }
    if likeliest.name == own.name:
        return _(
            "Category open: {name} by the value, and no other is more probable, but it has only {percent:.0f} %"
        ).format(**told)
    return _(
        "Category open: {name} by the value ({percent:.0f} %), {other} more probable ({other_percent:.0f} %)"
    ).format(**told)


def brief_heading(interpretation: Interpretation) -> str:
    """The same in a few words, to follow a colon: `prehypertensive`, `category open (hypertensive by the value)`."""
    if is_low(interpretation):
        return _("low pressure, confirm it at once")
    if is_too_low_under_treatment(interpretation):
        return _("too low under treatment")
    if interpretation.category is None:
        return _("no category, the readings were not consistent") if _withheld(interpretation) else _("no category")
    name = in_a_sentence(category_name(interpretation.category))
    return _("category open ({name} by the value)").format(name=name) if is_open(interpretation) else name
