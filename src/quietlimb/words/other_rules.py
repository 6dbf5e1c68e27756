"""What other rule sets would say, and what would change the advice, as sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from quietlimb.engine.interpretation.interpretation import OtherRules, WouldChange
from quietlimb.words.advice import sentence
from quietlimb.words.categories import category_name, category_risk
from quietlimb.words.language import _, in_a_sentence, mark
from quietlimb.words.sources import source_and_standing, standing_name

TREATMENT: Mapping[str, str] = {
    "reached": mark("its line for considering treatment, {line:g} mmHg, is reached"),
    "when confirmed": mark(
        "its line for considering treatment, {line:g} mmHg, would be reached if further sessions agree"
    ),
    "not reached": mark("its line for considering treatment, {line:g} mmHg with these organs, is not reached"),
}

GOALS: Mapping[str, str] = {
    "ideal": mark("its ideal goal, under {line:g} mmHg, is reached"),
    "minimum": mark("its minimum goal, under {line:g} mmHg, is reached, and its ideal one is not"),
    "not reached": mark("its minimum goal, under {line:g} mmHg, is not reached"),
}

_TOGETHER: Mapping[str, str] = {
    "reached": mark("Lines for considering treatment that are reached: {lines}."),
    "when confirmed": mark("Lines for considering treatment that would be reached if further sessions agree: {lines}."),
    "not reached": mark("Lines for considering treatment, with these organs, that are not reached: {lines}."),
}

CHANGES: Mapping[str, str] = {
    "pressure-from": mark("At {mmhg:g} mmHg and over"),
    "pressure-under": mark("Under {mmhg:g} mmHg"),
    "eyes-found-damaged": mark("If damage were found in the eyes"),
    "kidneys-found-damaged": mark("If new or progressing damage were found in the kidneys"),
    "sessions-agree": mark("With further sessions like this one, far enough apart ({sessions:.0f})"),
    "normal-at-home": mark("If it were under {mmhg:g} mmHg at home"),
}


def other_rules_sentence(other: OtherRules) -> str:
    """What another rule set would say, where it differs, with its standing."""
    parts = []
    if "category" in other.differs and other.category is not None:
        parts.append(f"{in_a_sentence(category_name(other.category))}, {category_risk(other.category)}")
    if "treatment" in other.differs and other.treatment is not None and other.line_mmhg is not None:
        parts.append(_(TREATMENT[other.treatment]).format(line=other.line_mmhg))
    if "goal" in other.differs and other.goal is not None and other.line_mmhg is not None:
        parts.append(_(GOALS[other.goal]).format(line=other.line_mmhg))
    told = "; ".join(parts)
    return f"{other.rule_set}: {told} {source_and_standing(other.source, other.standing)}."


def other_rules_sentences(others: Sequence[OtherRules]) -> list[str]:
    """The same of several; those that differ in treatment alone, and say one thing of it, in one sentence."""
    told = [other_rules_sentence(other) for other in others if other.differs != ("treatment",)]
    rest = [other for other in others if other.differs == ("treatment",)]
    for says, start in _TOGETHER.items():
        alike = [other for other in rest if other.treatment == says]
        if len(alike) == 1:
            told.append(other_rules_sentence(alike[0]))
        elif alike:
            lines = (f"{other.rule_set} {other.line_mmhg:g} mmHg ({standing_name(other.standing)})" for other in alike)
            told.append(_(start).format(lines=", ".join(lines)))
    return told


def would_change_sentence(change: WouldChange) -> str:
    """What would change the advice, and the first two things of the advice that would then be new."""
    when = _(CHANGES[change.code]).format(**change.numbers)
    return f"{when}: {' '.join(sentence(advice) for advice in change.then[:2])}"
