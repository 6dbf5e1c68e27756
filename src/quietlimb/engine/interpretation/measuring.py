"""What to do next about the measuring: go on, start again, or choose between two values."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.interpretation.advising import practice
from quietlimb.engine.interpretation.case import Case
from quietlimb.engine.interpretation.categories import category_of
from quietlimb.engine.interpretation.interpretation import Advice
from quietlimb.engine.session.at_the_end import still_falling, still_rising
from quietlimb.engine.standards.rule_set import Protocol
from quietlimb.engine.standards.rule_sets import protocol_of

# code -> the numbers that it carries
MEASURING_CODES: Mapping[str, tuple[str, ...]] = {
    "wait-until-level": (),
    "settle-while-rising": (),
    "take-more-readings": ("kept", "needed"),
    "start-again": ("limit",),
    "two-values-two-categories": ("charted_mmhg", "guideline_mmhg"),
}


def _by_protocol(code: str, protocol: Protocol, **numbers: float) -> Advice:
    standing = protocol.keep_at_least.standing
    return Advice(code=code, numbers=numbers, source=protocol.source, place="protocol", standing=standing)


def advise_on_measuring(case: Case) -> tuple[Advice, ...]:
    """Advice about the series itself; none where there is no series, or no pressure from it.

    Where the guideline average falls into another category than the charted pressure, both are told and the
    veterinarian chooses; the categories are those of awake animals. An average of readings that were not consistent
    has no category and so is nothing to choose.
    """
    if case.systolic is None:
        return ()
    advice: list[Advice] = []
    if still_falling(case.course, case.falling_mmhg_per_min):
        advice.append(_by_protocol("wait-until-level", protocol_of(case.rules)))
    elif still_rising(case.course, case.falling_mmhg_per_min, fall_mmhg=case.fall_mmhg):
        advice.append(practice("settle-while-rising", "a rise through the session"))
    guideline = case.guideline
    if guideline is None:
        return tuple(advice)
    if not guideline.enough:
        advice.append(
            _by_protocol(
                "take-more-readings",
                guideline.protocol,
                kept=float(len(guideline.kept)),
                needed=guideline.protocol.keep_at_least.value,
            )
        )
    elif guideline.broke_its_rule:
        advice.append(_by_protocol("start-again", guideline.protocol, limit=guideline.protocol.most_variability.value))
    if (
        case.category
        and not guideline.varies_too_much
        and guideline.systolic is not None
        and category_of(guideline.systolic, case.rules) != case.category
    ):
        advice.append(
            Advice(
                code="two-values-two-categories",
                numbers={"charted_mmhg": case.systolic.value, "guideline_mmhg": guideline.systolic},
                source=case.rules.source,
                place="risk categories",
                standing=case.rules.systolic_from[0].standing,
            )
        )
    return tuple(advice)
