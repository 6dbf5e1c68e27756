"""Whether the readings taken are enough: for a wanted width, for the category, and for the published protocol.

The three are told apart. Numbers may be enough where the protocol still asks for more readings; then that is said, and
the protocol's count is never passed over in silence. A boundary that lies close to the pressure cannot be told from it
by any number of readings; that is said too instead of asking for ever more.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.session.at_the_end import fall_at_end, still_falling, still_rising
from quietlimb.engine.session.charted import ChartedPressure
from quietlimb.engine.session.course import CoursePrior
from quietlimb.engine.session.expected import MOST_MORE, expected_half_widths
from quietlimb.engine.session.noise import Noise
from quietlimb.engine.standards.rule_set import RuleSet
from quietlimb.engine.standards.rule_sets import DEFAULT, protocol_of, rule_set
from quietlimb.engine.values import TWO_SIDED_95, Estimate

Reason = Literal[
    "interval-too-wide",
    "category-open",
    "category-cannot-be-told",
    "category-told-though-wide",
    "fewer-than-the-protocol",
    "not-consistent",
    "still-falling",
    "still-rising",
    "more-will-not-do",
]

WANTED_MMHG = 8.0  # [invented: half of the distance that the narrowest category leaves to either side is 10]
CATEGORY_TOLD = 0.975  # probability of one category from which the width no longer matters [invented]
WORTH_MMHG = 1.0  # a narrowing by less than this is not worth three readings more [invented]


@dataclass(frozen=True, slots=True, kw_only=True)
class Enough:
    """What the readings so far tell, what further ones may, and what is still asked for.

    half_width_mmhg          : of the systolic 95 % interval now
    expected_half_width_mmhg : after one, two, three readings more
    wanted_mmhg              : the half-width asked for
    category                 : the most probable one of the rule set, for today's pressure, and its probability; None
                               and 0 where none may be named: sedated, anaesthetised, or readings that broke the rule
    boundary_mmhg            : the boundary nearest to the pressure that its interval holds; None where it holds none
    by_numbers               : width or category are told well enough, and the pressure neither still falls nor rises
    protocol_kept, protocol_needed : readings that the guideline average rests on, without those that are spoiled where
                               they alone break its rule, and that the protocol asks for
    more                     : how many more are expected to do, 0 where none is asked for; None where the protocol has
                               its count and three more are not expected to do, or its readings disagree: rest, another
                               cuff or site, or accept what there is
    why                      : what asks for more, or keeps from asking
    shared_half_width_mmhg   : the half-width that what all readings share makes by itself, under which no number of
                               them brings it; None where that part is not known, as for a display
    """

    half_width_mmhg: float
    expected_half_width_mmhg: tuple[float, ...]
    wanted_mmhg: float
    category: str | None
    category_probability: float
    boundary_mmhg: float | None
    by_numbers: bool
    protocol_kept: int
    protocol_needed: int
    more: int | None
    why: tuple[Reason, ...]
    shared_half_width_mmhg: float | None = None

    @property
    def shared_part_leads(self) -> bool:
        """Whether most of the interval is what all readings share, which another series would bring again."""
        shared = self.shared_half_width_mmhg
        return shared is not None and 2.0 * shared**2 > self.half_width_mmhg**2

    @property
    def by_protocol(self) -> bool:
        """Whether as many readings were kept as the protocol asks for, and they were consistent."""
        return self.protocol_kept >= self.protocol_needed and "not-consistent" not in self.why


def enough(
    charted: ChartedPressure,
    *,
    wanted_mmhg: float = WANTED_MMHG,
    rules: str = DEFAULT,
    noise: Noise | None = None,
    course_prior: CoursePrior | None = None,
) -> Enough | None:
    """Whether to go on reading; None where nothing is charted. Solves twelve futures, one to three readings longer.

    noise, course_prior : as the series was charted by

    Raises ParameterError for a wanted width that is no positive number, and as `chart` for the rule set.
    """
    if not (math.isfinite(wanted_mmhg) and wanted_mmhg > 0.0):
        raise ParameterError("impossible-width", f"the wanted half-width is {wanted_mmhg:g} mmHg", "give mmHg above 0")
    if charted.systolic is None:
        return None
    half_width, *expected = expected_half_widths(charted, noise=noise, course_prior=course_prior)
    systolic = charted.systolic
    chosen = rule_set(rules, charted.series.circumstances.species)
    boundary = chosen.boundary_reached(systolic) if charted.gets_category else None
    category, probability = _likeliest(systolic, chosen) if charted.gets_category else (None, 0.0)
    told = probability >= CATEGORY_TOLD

    why: list[Reason] = []
    asks: list[int | None] = []
    if half_width > wanted_mmhg:
        if told:
            why.append("category-told-though-wide")
        else:
            why.append("interval-too-wide")
            asks.append(_first(expected, wanted_mmhg))
    if not told and boundary is not None:
        clear = _first(expected, abs(boundary - systolic.value))
        why.append("category-open" if clear else "category-cannot-be-told")
        if clear:
            asks.append(clear)
    at_end = fall_at_end(charted)
    if still_falling(charted.course, at_end):
        why.append("still-falling")
        asks.append(1)
    elif still_rising(charted.course, at_end, fall_mmhg=charted.fall_mmhg):
        why.append("still-rising")
        asks.append(1)
    by_numbers = not asks
    guideline = charted.guideline
    protocol = guideline.protocol if guideline else protocol_of(chosen)
    kept, needed = _kept(charted), int(protocol.keep_at_least.value)
    if kept < needed:
        why.append("fewer-than-the-protocol")
        asks.append(needed - kept)
    elif guideline is not None and guideline.broke_its_rule:
        why.append("not-consistent")
    more: int | None = max((ask for ask in asks if ask is not None), default=0)
    little = half_width > wanted_mmhg and half_width - expected[-1] < WORTH_MMHG
    if "not-consistent" in why:
        more = None
    if kept >= needed and not by_numbers and (None in asks or little):
        why.append("more-will-not-do")
        more = None
    return Enough(
        half_width_mmhg=half_width,
        expected_half_width_mmhg=tuple(expected),
        wanted_mmhg=wanted_mmhg,
        category=category,
        category_probability=probability,
        boundary_mmhg=boundary,
        by_numbers=by_numbers,
        protocol_kept=kept,
        protocol_needed=needed,
        more=more,
        why=tuple(why),
        shared_half_width_mmhg=None if systolic.shared_sd is None else TWO_SIDED_95 * systolic.shared_sd,
    )


def _kept(charted: ChartedPressure) -> int:
    """How many readings the protocol may count: where only spoiled ones break its rule, the others."""
    guideline = charted.guideline
    if guideline is None:
        return 0
    spoiled = 0
    if guideline.varies_too_much and guideline.consistent_but_for_spoiled:
        spoiled = sum(charted.readings[k - 1].systolic_is_far for k in guideline.kept)
    return len(guideline.kept) - spoiled


def _first(expected: list[float], limit_mmhg: float) -> int | None:
    """After how many more the half-width is expected to be at most this; None where not after three."""
    return next((k + 1 for k in range(MOST_MORE) if expected[k] <= limit_mmhg), None)


def _likeliest(systolic: Estimate, rules: RuleSet) -> tuple[str, float]:
    """The most probable category of today's pressure."""
    probabilities = rules.shares(systolic)
    likeliest = max(range(len(probabilities)), key=probabilities.__getitem__)
    return rules.categories[likeliest], probabilities[likeliest]
