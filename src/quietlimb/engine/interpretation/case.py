"""The case: one systolic pressure and all that its interpretation depends on."""

from __future__ import annotations

from dataclasses import dataclass

from quietlimb.engine.circumstances import Consciousness, Place, Site, Species, Technique
from quietlimb.engine.interpretation.background import NOTHING_TOLD, Background, EarlierSession
from quietlimb.engine.interpretation.interpretation import AnimalStatus, OrganCheck, OrganDamage
from quietlimb.engine.session.charted import Course, GuidelineAverage
from quietlimb.engine.standards.acvim_2018 import ACVIM_2018
from quietlimb.engine.standards.low_pressure import MEAN_BELOW
from quietlimb.engine.standards.rule_set import RuleSet
from quietlimb.engine.values import Cited, Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One pressure with its surroundings; None means not told.

    systolic           : exact when own and shared parts are 0 and the interval has no width [mmHg]
    mean_mmhg          : mean pressure, for low pressure only [mmHg]
    low_mean           : below which that is low
    diastolic_mmhg     : for a remark only, in rule sets that print diastolic pressures [mmHg]
    category           : of the systolic value by `rules`; None without one, for a sedated animal, and where the
                         readings were not consistent
    diastolic_given    : whether a diastolic pressure stands beside it
    readings           : how many readings it rests on
    fall_mmhg          : systolic at the first reading minus systolic at the last [mmHg]
    falling_mmhg_per_min : how fast it fell at the last reading, negative for a rise [mmHg/min]
    situational_likely : judged so by those who saw the animal
    others             : how many other rule sets would say something else
    """

    species: Species
    method: Technique = "oscillometric"
    site: Site | None = None
    place: Place | None = None
    rules: RuleSet = ACVIM_2018
    systolic: Estimate | None
    mean_mmhg: float | None = None
    low_mean: Cited = MEAN_BELOW
    diastolic_mmhg: float | None = None
    diastolic_given: bool = False
    category: str | None
    near_boundary: bool
    organs: tuple[OrganCheck, ...]
    organ_damage: OrganDamage
    sedation: Consciousness | None = None
    course: Course | None = None
    fall_mmhg: float | None = None
    falling_mmhg_per_min: float | None = None
    guideline: GuidelineAverage | None = None
    readings: int | None = None
    situational_likely: bool = False
    background: Background = NOTHING_TOLD
    status: AnimalStatus | None = None
    others: int = 0
    cuff_width_cm: float | None = None
    limb_circumference_cm: float | None = None
    cuff_below_heart_cm: float | None = None
    acclimatisation_min: float | None = None

    @property
    def awake(self) -> bool:
        """Whether the flow for high pressure applies; an animal of which nothing is told is taken for awake."""
        return self.sedation in (None, "awake")

    @property
    def uneven(self) -> bool:
        """Whether the readings broke the consistency rule of the protocol: such a set gets no category."""
        return self.guideline is not None and self.guideline.broke_its_rule

    @property
    def level(self) -> int | None:
        """Index of the category in its rule set, 0 for the lowest; None without a category."""
        return None if self.category is None else self.rules.categories.index(self.category)

    @property
    def high(self) -> bool:
        """Whether the category is one of the two highest."""
        return self.level is not None and self.level >= 2

    @property
    def today(self) -> EarlierSession:
        """Today's session as one of the animal's; one that gets no category carries no status."""
        return EarlierSession(
            days_ago=0.0,
            systolic_mmhg=None if self.systolic is None else self.systolic.value,
            place=self.place,
            treated=self.background.treated,
            treatment_moved=self.background.treatment_moved,
            sedation=self.sedation,
            method=self.method,
            site=self.site,
            organs={check.organ: check.state for check in self.organs},
            weak=bool(self.background.weak),
            consistent=not self.uneven,
        )

    @property
    def sessions(self) -> tuple[EarlierSession, ...]:
        """All sessions of the animal, today's last."""
        return (*self.background.history, self.today)
