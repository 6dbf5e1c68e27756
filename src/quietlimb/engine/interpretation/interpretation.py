"""What a pressure means: category with probabilities, what to do next, cautions; codes and numbers, no sentences."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from quietlimb.engine.values import Standing

Organ = Literal["eyes", "brain", "heart", "kidneys"]
OrganState = Literal["present", "absent", "unclear", "not examined"]
OrganDamage = Literal["present", "absent", "not examined"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CategoryProbability:
    """One category of a rule set. The pressures are half open: from <= systolic < to [mmHg]; None is unbounded."""

    name: str
    from_mmhg: float | None
    to_mmhg: float | None
    probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """One thing to do next, by which rule.

    code        : what, a code with a sentence in `quietlimb.words`
    within_days : (earliest, latest) day from today; None where no time is set
    numbers     : figures in the sentence
    source      : rule set or paper, with `place` in it and its `standing`
    """

    code: str
    within_days: tuple[float, float] | None = None
    numbers: Mapping[str, float] = field(default_factory=dict)
    source: str
    place: str
    standing: Standing


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One caution that applies here: a code with a sentence in `quietlimb.words`."""

    code: str
    numbers: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrganCheck:
    """An organ to look at, and what is known of it."""

    organ: Organ
    state: OrganState


@dataclass(frozen=True, slots=True, kw_only=True)
class Interpretation:
    """What the charted systolic pressure means by one rule set.

    rule_set      : name and year
    category      : of the charted value; None where there is none
    near_boundary : True when the charted value lies within one standard deviation of a boundary
    today         : category probabilities of this session's pressure by this method
    animal        : the same for the animal, the day-to-day part included
    day_to_day_sd : that part [mmHg]
    organs        : each with its state; not examined is never taken for absent
    """

    rule_set: str
    category: str | None
    near_boundary: bool
    today: tuple[CategoryProbability, ...]
    animal: tuple[CategoryProbability, ...]
    day_to_day_sd: float
    organ_damage: OrganDamage
    organs: tuple[OrganCheck, ...]
    next: tuple[Advice, ...]
    cautions: tuple[Caution, ...]
