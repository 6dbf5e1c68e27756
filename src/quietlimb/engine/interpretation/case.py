"""The case: one systolic pressure and all that its interpretation depends on."""

from __future__ import annotations

from dataclasses import dataclass

from quietlimb.engine.circumstances import Consciousness, Species
from quietlimb.engine.interpretation.interpretation import OrganCheck, OrganDamage
from quietlimb.engine.session.charted import Course, GuidelineAverage
from quietlimb.engine.standards.acvim_2018 import CategoryName
from quietlimb.engine.values import Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One pressure with its surroundings; None means not told.

    systolic           : exact when own and shared parts are 0 and the interval has no width [mmHg]
    mean_mmhg          : mean pressure, for low pressure only [mmHg]
    category           : of the systolic value; None without one, and for a sedated animal
    diastolic_given    : whether a diastolic pressure stands beside it
    readings           : how many readings it rests on
    situational_likely : judged so by those who saw the animal
    """

    species: Species
    systolic: Estimate | None
    mean_mmhg: float | None = None
    diastolic_given: bool = False
    category: CategoryName | None
    near_boundary: bool
    organs: tuple[OrganCheck, ...]
    organ_damage: OrganDamage
    sedation: Consciousness | None = None
    course: Course | None = None
    guideline: GuidelineAverage | None = None
    readings: int | None = None
    situational_likely: bool = False
    cuff_width_cm: float | None = None
    limb_circumference_cm: float | None = None
    cuff_below_heart_cm: float | None = None
    acclimatisation_min: float | None = None

    @property
    def awake(self) -> bool:
        """Whether the flow for high pressure applies; an animal of which nothing is told is taken for awake."""
        return self.sedation in (None, "awake")
