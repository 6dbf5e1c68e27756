"""Good practice, choice by choice: what departs from it, by which rule, and the same choices with that one mended."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from quietlimb.engine.circumstances import Place, Site
from quietlimb.engine.standards.acvim_2018 import LONGEST_ACCLIMATISATION, SHORTEST_ACCLIMATISATION, SOURCE
from quietlimb.engine.standards.cuff_height import HEIGHT_IGNORED, height_matters
from quietlimb.engine.standards.cuff_width import NARROWEST_ACCEPTED, TARGET, WIDEST_ACCEPTED, judge_width
from quietlimb.engine.values import Cited
from quietlimb.simulator.training import effects
from quietlimb.simulator.training.animal import TrainingAnimal
from quietlimb.simulator.training.case import Case
from quietlimb.simulator.training.choices import HIGHEST_TOP_MMHG, LOWEST_TOP_MMHG, SLOWEST_MMHG_PER_S, Choices

Code = Literal[
    "acclimatisation",
    "place",
    "table",
    "after-examination",
    "owner-away",
    "calming-drug",
    "position",
    "site",
    "cuff-narrow",
    "cuff-wide",
    "cuff-below-heart",
    "cuff-above-heart",
    "limb-loaded",
    "tail-free",
    "inflation-low",
    "inflation-high",
    "deflation-fast",
    "deflation-slow",
    "fault-offset",
    "fault-leak",
    "fault-slipped",
]
Way = Literal["moves the value", "spoils readings"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """What good practice asks for, and what comes of departing from it.

    asks    : the limit, with its source
    effects : what the training animal does instead, with sources; empty where the recording itself shows it
    way     : whether it moves every value alike, or costs readings and makes them scatter
    """

    code: Code
    asks: Cited
    effects: tuple[Cited, ...]
    way: Way


@dataclass(frozen=True, slots=True, kw_only=True)
class Departure:
    """One choice of one inflation that departs from good practice.

    chosen, wanted : the figure that was chosen and the nearest that would do; None where it is a word, or yes or no
    reached        : what came of the figure, where that differs much from it
    """

    code: Code
    chosen: float | None = None
    wanted: float | None = None
    reached: float | None = None


_PRACTICE = "practice"


def _word(source: str, place: str, standing: Literal["from memory", "common practice"]) -> Cited:
    """A rule without a figure: it is to be so, 1, and not otherwise."""
    return Cited(1.0, "yes", source, place, standing)


LEAST_ABOVE_SYSTOLIC = Cited(20.0, "mmHg", _PRACTICE, "inflate 20 to 40 beyond the systolic", "common practice")
ABOVE_SYSTOLIC = Cited(30.0, "mmHg", _PRACTICE, "inflate 30 to 40 above the last systolic", "common practice")
MOST_ABOVE_SYSTOLIC = Cited(60.0, "mmHg", "Quietlimb", "longer inflated than the reading needs", "invented")
SLOWEST_FALL = Cited(1.5, "mmHg/s", "Quietlimb", "slower, and the cuff stays up for long", "invented")
USUAL_FALL = Cited(3.0, "mmHg/s", _PRACTICE, "2 to 3 mmHg a second", "common practice")
FASTEST_FALL = Cited(5.0, "mmHg/s", "Quietlimb", "twice of what is usual for a hand", "invented")
MOST_PER_PULSE = Cited(4.0, "mmHg", "Quietlimb", "about 2 mmHg a beat at slow rates, and as much again", "invented")
# Between the end of one inflation and the next, with the cuff empty.
SHORTEST_REST = Cited(30.0, "s", _PRACTICE, "empty cuff, 30 to 60 s between readings", "common practice")
LONGEST_REST = Cited(60.0, "s", _PRACTICE, "empty cuff, 30 to 60 s between readings", "common practice")

_RULES: tuple[Rule, ...] = (
    Rule(code="acclimatisation", asks=SHORTEST_ACCLIMATISATION, effects=(effects.AT_HOME,), way="moves the value"),
    Rule(
        code="place",
        asks=_word(SOURCE, "protocol, a quiet room", "from memory"),
        effects=(effects.WAITING_ROOM, effects.HOSPITAL_CAGE),
        way="moves the value",
    ),
    Rule(
        code="table",
        asks=_word(_PRACTICE, "off the examination table", "common practice"),
        effects=tuple(effects.ON_TABLE.values()),
        way="moves the value",
    ),
    Rule(
        code="after-examination",
        asks=_word(SOURCE, "protocol, order of events", "from memory"),
        effects=(effects.EXAMINATION, effects.EXAMINATION_SETTLES),
        way="moves the value",
    ),
    Rule(
        code="owner-away",
        asks=_word(SOURCE, "protocol, owner there where that calms", "from memory"),
        effects=(effects.OWNER_AWAY,),
        way="moves the value",
    ),
    Rule(
        code="calming-drug",
        asks=_word(SOURCE, "protocol, no calming drug", "from memory"),
        effects=(effects.CALMING_DRUG,),
        way="moves the value",
    ),
    Rule(
        code="position",
        asks=_word(SOURCE, "protocol, chest-down or side-lying", "from memory"),
        effects=(
            *(size for of in effects.POSITIONS.values() for size in of.values()),
            *effects.RESTLESS.values(),
        ),
        way="moves the value",
    ),
    Rule(
        code="site",
        asks=_word(_PRACTICE, "forelimb or tail before the hind limb", "common practice"),
        effects=tuple(size for of in effects.SITES.values() for size in of.values()),
        way="moves the value",
    ),
    Rule(code="cuff-narrow", asks=NARROWEST_ACCEPTED, effects=(effects.NARROW,), way="moves the value"),
    Rule(code="cuff-wide", asks=WIDEST_ACCEPTED, effects=(effects.WIDE,), way="moves the value"),
    Rule(code="cuff-below-heart", asks=HEIGHT_IGNORED, effects=(effects.BLOOD,), way="moves the value"),
    Rule(code="cuff-above-heart", asks=HEIGHT_IGNORED, effects=(effects.BLOOD,), way="moves the value"),
    Rule(
        code="limb-loaded",
        asks=_word(SOURCE, "protocol, no weight on the limb", "from memory"),
        effects=(),
        way="spoils readings",
    ),
    Rule(
        code="tail-free",
        asks=_word(_PRACTICE, "hold the tail still", "common practice"),
        effects=(),
        way="spoils readings",
    ),
    Rule(code="inflation-low", asks=LEAST_ABOVE_SYSTOLIC, effects=(), way="spoils readings"),
    Rule(
        code="inflation-high",
        asks=MOST_ABOVE_SYSTOLIC,
        effects=(effects.LONG_INFLATED, effects.MINDS),
        way="spoils readings",
    ),
    Rule(code="deflation-fast", asks=FASTEST_FALL, effects=(), way="spoils readings"),
    Rule(
        code="deflation-slow",
        asks=SLOWEST_FALL,
        effects=(effects.LONG_INFLATED, effects.MINDS),
        way="spoils readings",
    ),
    Rule(
        code="fault-offset",
        asks=_word(_PRACTICE, "display against a manometer", "common practice"),
        effects=(),
        way="moves the value",
    ),
    Rule(
        code="fault-leak",
        asks=_word(_PRACTICE, "cuff and tube looked over", "common practice"),
        effects=(),
        way="spoils readings",
    ),
    Rule(
        code="fault-slipped",
        asks=_word(_PRACTICE, "a cuff that sits snugly", "common practice"),
        effects=(),
        way="moves the value",
    ),
)
RULES: Mapping[Code, Rule] = {rule.code: rule for rule in _RULES}


def quiet_place(case: Case) -> Place:
    """The best place that the case has: the carrier for a cat, otherwise a quiet consulting room."""
    wanted: tuple[Place, ...] = ("carrier", "consulting-room") if case.species == "cat" else ("consulting-room",)
    for place in (*wanted, *case.places):
        if place in case.places and effects.PLACES[place].value == 0.0:
            return place
    return min(case.places, key=lambda place: effects.PLACES[place].value)


def better_site(case: Case) -> Site | None:
    """Forelimb or tail where the case has one."""
    sites: tuple[Site, ...] = ("forelimb", "tail")
    return next((site for site in sites if site in case.circumference_cm), None)


def fitting_width_cm(case: Case, site: Site) -> float:
    """The width that is best for this limb, to the millimetre [cm]."""
    around = case.circumference_cm[site]
    width = round(TARGET[case.species].value * around, 1)
    return width if width <= WIDEST_ACCEPTED.value * around else width - 0.1


def fall_wanted(case: Case) -> float:
    """The usual fall, slower where the pulse is slow [mmHg/s]."""
    return min(USUAL_FALL.value, USUAL_FALL.value / case.period_s)


def fastest_fall(case: Case) -> float:
    """The fastest fall that still shows the pulses close enough to each other [mmHg/s]."""
    return min(FASTEST_FALL.value, MOST_PER_PULSE.value / case.period_s)


def departures(
    animal: TrainingAnimal, choices: Choices, *, minute: float, number: int, first: bool = False
) -> tuple[Departure, ...]:
    """What departs from good practice in one inflation, in the order of `RULES`.

    first : the first inflation of a session, when nobody knows the pressure yet and the top is a guess
    """
    case = animal.case
    found: dict[Code, Departure] = {}

    def depart(code: Code, chosen: float | None = None, wanted: float | None = None) -> None:
        found[code] = Departure(code=code, chosen=chosen, wanted=wanted)

    if choices.place != "home" and choices.acclimatisation_min < SHORTEST_ACCLIMATISATION.value:
        depart("acclimatisation", choices.acclimatisation_min, SHORTEST_ACCLIMATISATION.value)
    if effects.PLACES[choices.place].value > effects.PLACES[quiet_place(case)].value:
        depart("place")
    if choices.on_table:
        depart("table")
    if not choices.before_examination:
        depart("after-examination")
    if case.temper.owner_calms and not choices.owner_present:
        depart("owner-away")
    if not choices.drug_free:
        depart("calming-drug")
    if choices.position in ("sitting", "standing"):
        depart("position")
    if choices.site == "hindlimb" and better_site(case) is not None:
        depart("site")
    judged = judge_width(choices.cuff_width_cm, animal.circumference_cm(choices), case.species)
    if judged.direction != "none":
        narrow = judged.direction == "reads high"
        depart("cuff-narrow" if narrow else "cuff-wide", choices.cuff_width_cm, fitting_width_cm(case, choices.site))
    if height_matters(choices.cuff_below_heart_cm):
        below = choices.cuff_below_heart_cm > 0.0
        depart("cuff-below-heart" if below else "cuff-above-heart", abs(choices.cuff_below_heart_cm), 0.0)
    if choices.limb_loaded and choices.site != "tail":
        depart("limb-loaded")
    if choices.site == "tail" and not choices.tail_held:
        depart("tail-free")
    above = choices.inflate_to_mmhg - animal.shown(choices, minute=minute, number=number).systolic
    wanted_top = _top(animal, choices, minute, number)
    if above < LEAST_ABOVE_SYSTOLIC.value and choices.inflate_to_mmhg < wanted_top:
        depart("inflation-low", choices.inflate_to_mmhg, wanted_top)
    elif above > MOST_ABOVE_SYSTOLIC.value and choices.inflate_to_mmhg > wanted_top and not first:
        depart("inflation-high", choices.inflate_to_mmhg, wanted_top)
    if choices.fall_mmhg_per_s > fastest_fall(case):
        depart("deflation-fast", choices.fall_mmhg_per_s, fall_wanted(case))
    elif choices.fall_mmhg_per_s < SLOWEST_FALL.value:
        depart("deflation-slow", choices.fall_mmhg_per_s, fall_wanted(case))
    fault = animal.fault(choices, number)
    if fault is not None:
        code: dict[str, Code] = {"offset": "fault-offset", "leak": "fault-leak", "slipped": "fault-slipped"}
        depart(code[fault.kind], fault.size, None)
    return tuple(found[code] for code in RULES if code in found)


def mended(animal: TrainingAnimal, choices: Choices, code: Code, *, minute: float, number: int) -> Choices:
    """The same choices with this one as good practice has it.

    Only what belongs to it changes: at another site the cuff keeps its share of the limb, off the table the room stays.
    """
    case = animal.case
    match code:
        case "acclimatisation":
            return replace(choices, acclimatisation_min=LONGEST_ACCLIMATISATION.value)
        case "place":
            place = quiet_place(case)
            return replace(choices, place=place, on_table=choices.on_table and place == "consulting-room")
        case "table":
            return replace(choices, on_table=False)
        case "after-examination":
            return replace(choices, before_examination=True)
        case "owner-away":
            return replace(choices, owner_present=True)
        case "calming-drug":
            return replace(choices, drug_free=True)
        case "position":
            return replace(choices, position="chest-down")
        case "site":
            site = better_site(case) or choices.site
            scale = case.circumference_cm[site] / animal.circumference_cm(choices)
            return replace(choices, site=site, cuff_width_cm=max(0.5, scale * choices.cuff_width_cm))
        case "cuff-narrow" | "cuff-wide":
            return replace(choices, cuff_width_cm=fitting_width_cm(case, choices.site))
        case "cuff-below-heart" | "cuff-above-heart":
            return replace(choices, cuff_below_heart_cm=0.0)
        case "limb-loaded":
            return replace(choices, limb_loaded=False)
        case "tail-free":
            return replace(choices, tail_held=True)
        case "inflation-low" | "inflation-high":
            return replace(choices, inflate_to_mmhg=_top(animal, choices, minute, number))
        case "deflation-fast" | "deflation-slow":
            return replace(choices, fall_mmhg_per_s=max(SLOWEST_MMHG_PER_S, fall_wanted(case)))
        case "fault-offset" | "fault-leak" | "fault-slipped":
            return replace(choices, setup_checked=True)


def all_mended(
    animal: TrainingAnimal, choices: Choices, *, minute: float, number: int, but: Code | None = None
) -> Choices:
    """The choices with everything as good practice has it; the top of the inflation last, as it follows the rest.

    but : the one that is left as it was
    """
    for each in departures(animal, choices, minute=minute, number=number):
        if each.code != but and not each.code.startswith("inflation"):
            choices = mended(animal, choices, each.code, minute=minute, number=number)
    for each in departures(animal, choices, minute=minute, number=number):
        if each.code == but:
            continue
        choices = mended(animal, choices, each.code, minute=minute, number=number)
    return choices


def _top(animal: TrainingAnimal, choices: Choices, minute: float, number: int) -> float:
    wanted = animal.shown(choices, minute=minute, number=number).systolic + ABOVE_SYSTOLIC.value
    return float(min(max(round(wanted), LOWEST_TOP_MMHG), HIGHEST_TOP_MMHG))
