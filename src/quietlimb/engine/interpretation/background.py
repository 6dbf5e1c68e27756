"""What is known of the animal beyond this session: its breed, its illnesses, its drugs, its past sessions.

Days are counted back from today, so that nothing here needs a calendar: 0 is today, 14 a fortnight ago, and a part of
a day may stand behind the point.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from quietlimb.engine.circumstances import Consciousness, Place, Site, Technique
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.interpretation.interpretation import Organ, OrganCheck, OrganState
from quietlimb.engine.interpretation.organs import organ_checks
from quietlimb.engine.standards.causes import CONDITIONS, DRUG_CLASSES, Condition, DrugClass

OLDEST_YEARS = 40.0
NOT_YOUNG_FROM_YEARS = 7.0  # of either species nobody says young from here on [invented]


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierSession:
    """One session of the same animal before today's.

    days_ago        : days before today, 0 or more; a part of a day behind the point [day]
    systolic_mmhg   : as charted; None where none was obtained [mmHg]
    treated         : measured under treatment against high pressure
    treatment_moved : that treatment had been begun or changed since the session before
    organs          : what was found in the organs that day; one left out was not examined
    weak            : weak or faint that day
    consistent      : whether its readings met the protocol's rule; one that broke it carries no status
    checks          : all four organs, those left out as not examined
    """

    days_ago: float
    systolic_mmhg: float | None
    place: Place | None = None
    treated: bool = False
    treatment_moved: bool = False
    sedation: Consciousness | None = None
    method: Technique | None = None
    site: Site | None = None
    organs: Mapping[Organ, OrganState] = field(default_factory=dict)
    weak: bool = False
    consistent: bool = True
    checks: tuple[OrganCheck, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if not (math.isfinite(self.days_ago) and self.days_ago >= 0.0):
            raise ParameterError(
                "impossible-day", f"a past session lies {self.days_ago:g} days ago", "give 0 days or more before today"
            )
        value = self.systolic_mmhg
        if value is not None and not (math.isfinite(value) and 0.0 < value <= 350.0):
            raise ParameterError(
                "impossible-pressure",
                f"the systolic pressure of a past session is {value:g} mmHg",
                "give mmHg above 0 and up to 350",
            )
        # a status looks at it again and again, once for each later session
        object.__setattr__(self, "checks", organ_checks(self.organs))

    @property
    def counts(self) -> bool:
        """Whether it may be used: a pressure of consistent readings, the animal awake or not told to be otherwise."""
        return self.systolic_mmhg is not None and self.consistent and self.sedation in (None, "awake")


@dataclass(frozen=True, slots=True, kw_only=True)
class Background:
    """What is known of the animal; None means not told, an empty tuple that there is nothing.

    conditions      : illnesses that go with high pressure
    drugs           : classes of drugs in the record that can move the pressure
    treated         : under treatment against high pressure today
    treatment_moved : begun or changed since the last session
    weak            : weak, faint, or with a fast heart today
    excited         : excited, panting, vocalising or struggling today
    first_visit     : never been here before
    young           : young and healthy
    age_years       : for screening [year]
    at_risk         : an illness that goes with high pressure is known, even if it is not told which
    history         : earlier sessions, in any order
    """

    breed: str | None = None
    conditions: tuple[Condition, ...] | None = None
    drugs: tuple[DrugClass, ...] | None = None
    treated: bool = False
    treatment_moved: bool = False
    weak: bool | None = None
    excited: bool | None = None
    first_visit: bool | None = None
    young: bool | None = None
    age_years: float | None = None
    at_risk: bool = False
    history: tuple[EarlierSession, ...] = ()

    def __post_init__(self) -> None:
        years = self.age_years
        if years is not None and not (math.isfinite(years) and 0.0 <= years <= OLDEST_YEARS):
            raise ParameterError(
                "impossible-age", f"the age is {years:g} years", f"give years from 0 to {OLDEST_YEARS:g}"
            )
        if self.young and years is not None and years >= NOT_YOUNG_FROM_YEARS:
            raise ParameterError(
                "young-at-that-age",
                f"the animal is told to be young, and to be {years:g} years old",
                f"correct one of the two: young means under {NOT_YOUNG_FROM_YEARS:g} years here",
            )
        told: tuple[tuple[str, tuple[str, ...], tuple[str, ...]], ...] = (
            ("condition", self.conditions or (), CONDITIONS),
            ("drug class", self.drugs or (), DRUG_CLASSES),
        )
        for name, given, known in told:
            for each in given:
                if each not in known:
                    raise ParameterError(
                        f"unknown-{name.replace(' ', '-')}",
                        f"{name} {each!r} is not known",
                        f"use one of: {', '.join(known)}",
                    )


NOTHING_TOLD = Background()
