"""What a published rule set consists of: classes of pressure, windows, lines from which treatment is considered, goals.

The rule sets themselves stand one a file; `rule_sets.py` lists those that can be chosen.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal

from quietlimb.engine.circumstances import Species
from quietlimb.engine.values import Cited, Estimate, Standing, least_verified

# What a line asks of the organs: a lesion of the eyes, an active one of eyes or brain, damage of any organ, or nothing.
OrganCondition = Literal["eyes", "eyes or brain", "any organ", "none"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """When to measure again: from the earliest to the latest day after today."""

    earliest: Cited
    latest: Cited

    @property
    def days(self) -> tuple[float, float]:
        """(earliest, latest) as plain numbers [day]."""
        return self.earliest.value, self.latest.value

    @property
    def first_day_is_ours(self) -> bool:
        """Whether the text names the last day alone, so that the first is our own choice."""
        return self.earliest.source != self.latest.source

    @property
    def place(self) -> str:
        """Where the last day stands, and of a first day that stands nowhere how it was chosen."""
        if not self.first_day_is_ours:
            return self.latest.place
        return f"{self.latest.place}; the first day is {self.earliest.standing}: {self.earliest.place}"


@dataclass(frozen=True, slots=True, kw_only=True)
class TreatmentLine:
    """From which systolic pressure, with which organs and over how many sessions, treatment is to be considered.

    from_mmhg : the line; it belongs to the pressures that reach it unless `above` [mmHg]
    above     : the line is printed as "more than"
    """

    from_mmhg: Cited
    sessions: Cited
    organs: OrganCondition
    above: bool = False

    def reached(self, systolic_mmhg: float) -> bool:
        """Whether an unrounded pressure reaches the line."""
        line = self.from_mmhg.value
        return systolic_mmhg > line if self.above else systolic_mmhg >= line


@dataclass(frozen=True, slots=True, kw_only=True)
class Goals:
    """What treatment is to reach, and when to measure under it. None where the rule set says nothing that we know.

    ideal_below, minimum_below : reached by a systolic pressure under it [mmHg]
    too_low_below              : to be reassessed whatever the signs [mmHg]
    too_low_with_signs_below   : to be reassessed where the animal is weak or faint [mmHg]
    after_a_change             : after treatment was begun or changed
    severe                     : after that, at 180 mmHg and over or with acute organ damage
    stable                     : at the goal
    """

    ideal_below: Cited | None = None
    minimum_below: Cited | None = None
    too_low_below: Cited | None = None
    too_low_with_signs_below: Cited | None = None
    after_a_change: Window | None = None
    severe: Window | None = None
    stable: Window | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Protocol:
    """How a published protocol makes one pressure of the readings of a session.

    name             : for people, with the year
    source           : citation key
    drop_first       : how many readings are dropped for being the first
    keep_at_least    : how many are averaged, at least
    most_variability : below which they are consistent, as a share; what variability is, the print leaves open
    """

    name: str
    source: str
    drop_first: Cited
    keep_at_least: Cited
    most_variability: Cited

    @property
    def standing(self) -> Standing:
        """How far its numbers were verified; the least of them counts."""
        return least_verified(self.drop_first, self.keep_at_least, self.most_variability).standing


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleSet:
    """A published rule set for awake cats and dogs.

    key             : the name of the option
    name            : for people, with the year
    source          : citation key
    categories      : names in rising order
    systolic_from   : where each but the first begins, included [mmHg]
    diastolic_from  : the same where the scheme prints diastolic pressures; never used to choose a category
    repeat          : for each category, when to repeat a session without organ damage; also how long a pressure must
                      persist before it gets a label
    repeat_damaged  : the same with organ damage
    treatment       : lines from which treatment is to be considered
    protocol        : of one session; None where we hold none of it, then that of ACVIM 2018 is taken
    hours_apart     : sessions of one day count as two from here; None where other days are asked for
    old             : kept so that old charts can be read; it gives categories and windows, no decision on treatment
    """

    key: str
    name: str
    source: str
    species: tuple[Species, ...] = ("cat", "dog")
    categories: tuple[str, ...]
    systolic_from: tuple[Cited, ...]
    diastolic_from: tuple[Cited, ...] = ()
    repeat: tuple[Window | None, ...]
    repeat_damaged: tuple[Window | None, ...]
    treatment: tuple[TreatmentLine, ...] = ()
    goals: Goals = field(default_factory=Goals)
    protocol: Protocol | None = None
    hours_apart: Cited | None = None
    old: bool = False

    @property
    def standing(self) -> Standing:
        """How far its boundaries were verified; the least of them counts."""
        return least_verified(*self.systolic_from).standing

    def level(self, systolic_mmhg: float) -> int:
        """Index of the category that holds a pressure: half open, never rounded first."""
        return sum(systolic_mmhg >= edge.value for edge in self.systolic_from)

    def diastolic_level(self, diastolic_mmhg: float) -> int | None:
        """The same of a diastolic pressure; None where the scheme prints none."""
        if not self.diastolic_from:
            return None
        return sum(diastolic_mmhg >= edge.value for edge in self.diastolic_from)

    def shares(self, systolic: Estimate, *further_sd: float) -> tuple[float, ...]:
        """Probability of each category, in rising order; they sum to 1. further_sd : as in `Estimate.share_below`"""
        below = [0.0, *(systolic.share_below(edge.value, *further_sd) for edge in self.systolic_from), 1.0]
        return tuple(max(0.0, upper - lower) for lower, upper in pairwise(below))

    def boundary_reached(self, systolic: Estimate) -> float | None:
        """The boundary nearest to the value among those that its 95 % interval reaches over; None where there is none.
        [mmHg]"""
        edges = [edge.value for edge in self.systolic_from]
        inside = [edge for edge in edges if systolic.low < edge <= systolic.high]
        return min(inside, key=lambda edge: abs(edge - systolic.value), default=None)

    def category_of(self, systolic_mmhg: float) -> str:
        """Name of the category that holds a pressure."""
        return self.categories[self.level(systolic_mmhg)]
