"""What a pressure means: category with probabilities, what to do next, cautions; codes and numbers, no sentences."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from quietlimb.engine.standards.breeds import BreedRemark
from quietlimb.engine.values import Standing

Organ = Literal["eyes", "brain", "heart", "kidneys"]
Eye = Literal["left eye", "right eye"]
# `known disease` is of the kidneys alone: there before, and not progressing. It is neither damage nor absence of it.
OrganState = Literal["present", "absent", "known disease", "unclear", "not examined"]
OrganDamage = Literal["present", "absent", "not examined"]
StatusName = Literal[
    "not established",
    "suspected",
    "confirmed",
    "situational",
    "treated, at target",
    "treated, target not proven",
    "treated, off target",
]
Direction = Literal["for", "against"]
Strength = Literal["strong", "moderate"]
TreatmentSays = Literal["reached", "when confirmed", "not reached"]
LeftOut = Literal["sedated", "anaesthetised", "no pressure", "not consistent", "other method", "other site"]
GoalSays = Literal["ideal", "minimum", "not reached"]


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
    """One caution that applies here: a code with a sentence in `quietlimb.words`.

    sources : of the figures in it that are no figures of this session, each with its standing
    """

    code: str
    numbers: Mapping[str, float] = field(default_factory=dict)
    sources: tuple[tuple[str, Standing], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class OrganCheck:
    """An organ to look at, and what is known of it: `present` is new or progressing damage.

    eyes : of the eyes each one, left and right, where they were told apart; otherwise empty
    """

    organ: Organ
    state: OrganState
    eyes: tuple[tuple[Eye, OrganState], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class AnimalStatus:
    """Where the animal stands over its sessions, not this session alone.

    reason   : why, a code with a sentence in `quietlimb.words`, and its numbers
    rests_on : days before today of the sessions that it rests on, the oldest first [day]
    left_out : the same of the sessions left out, and `left_out_why` the reason for each
    goal_standing : how far the goal or guard in the reason was verified; None where it has none
    too_low  : under treatment, and low enough to be reassessed
    persists : the highest category that two or more untreated sessions running, far enough apart, have all reached;
               None where none has but the lowest
    """

    name: StatusName
    reason: str
    numbers: Mapping[str, float] = field(default_factory=dict)
    rests_on: tuple[float, ...] = ()
    left_out: tuple[float, ...] = ()
    left_out_why: tuple[LeftOut, ...] = ()
    goal_standing: Standing | None = None
    too_low: bool = False
    persists: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Clue:
    """One thing that speaks for or against a rise by the visit itself."""

    code: str
    direction: Direction
    strength: Strength
    numbers: Mapping[str, float] = field(default_factory=dict)
    source: str
    standing: Standing


@dataclass(frozen=True, slots=True, kw_only=True)
class InRecord:
    """An illness or a class of drugs in the record that goes with high pressure. A warning, no diagnosis.

    share : of the animals of this species with the illness that have high pressure, from the least to the largest in
            print; the least None where only the largest is printed, both None for drugs and where nothing is
    """

    kind: Literal["condition", "drug"]
    name: str
    share: tuple[float | None, float | None]
    source: str
    standing: Standing


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherRules:
    """What another published rule set would say where it says something else.

    category  : of the same pressure; None where the text has no categories
    treatment : whether its line for considering treatment is reached by these sessions, would be when further ones
                agree, or is not; None where it has none. `line_mmhg` is the line that would be met first
    goal      : of a treated animal, the goal that is reached; `line_mmhg` is the goal that decides
    differs   : in what: "category", "treatment", "goal"
    """

    rule_set: str
    category: str | None
    treatment: TreatmentSays | None
    goal: GoalSays | None = None
    line_mmhg: float | None
    differs: tuple[str, ...]
    source: str
    standing: Standing


@dataclass(frozen=True, slots=True, kw_only=True)
class WouldChange:
    """One thing that would change the advice: what, and the advice that would then be new."""

    code: str
    numbers: Mapping[str, float] = field(default_factory=dict)
    then: tuple[Advice, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Interpretation:
    """What the charted systolic pressure means by one rule set.

    rule_set      : name and year
    category      : of the charted value; None where there is none, and where the readings were not consistent
    near_boundary : whether the 95 % interval reaches over a boundary, or the value lies within 3 mmHg of one
    today         : category probabilities of this session's pressure by this method
    animal        : the same for the animal, the day-to-day part included
    day_to_day_sd : that part [mmHg]
    day_to_day_source : of that figure with its standing; None where it was told, as by the animal's own sessions
    organs        : each with its state; not examined is never taken for absent
    rules         : key of the rule set
    method_sd     : standard deviation of the method against arterial pressure, where a comparison gives it; also in
                    `animal` [mmHg]
    low_today     : probability that the systolic pressure is low enough to act on at once; None without one
    low_animal    : the same for the animal, as `animal`; None for a sedated one too
    in_record     : illnesses and drugs told that go with high pressure
    status        : of the animal over its sessions; None where there is none to give
    clues         : for and against a rise by the visit
    breed         : what is printed about the breed; changes no category
    breed_told    : the breed as told, also where nothing about it is at hand
    others        : other rule sets, where they would say something else
    would_change  : what would change the advice
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
    rules: str = "acvim-2018"
    method_sd: float = 0.0
    low_today: float | None = None
    low_animal: float | None = None
    in_record: tuple[InRecord, ...] = ()
    status: AnimalStatus | None = None
    clues: tuple[Clue, ...] = ()
    breed: BreedRemark | None = None
    breed_told: str | None = None
    others: tuple[OtherRules, ...] = ()
    would_change: tuple[WouldChange, ...] = ()
    day_to_day_source: tuple[str, Standing] | None = None
