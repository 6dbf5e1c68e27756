"""After the session: the truth beside what was charted, and what each choice cost.

The cost of a choice is found, not supposed: the same animal is measured again with that one choice mended, at the same
numbers of inflation and so with the same beats, movements and noise, and both are charted by the engine. What the model
says of the same choice stands beside it. Costs of single choices need not add up to the whole: the fall is charted at
its end, a cuff acts by a share of the pressure, and a reading that is lost to one choice may be lost to another too.
Where nothing could be charted as it was done, nor with one choice mended, it is asked the other way round: every other
choice is mended, with this one as it was and without it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median
from typing import Literal

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.findings import Verdict
from quietlimb.engine.reading import Method, Reading
from quietlimb.engine.standards.acvim_2018 import ACVIM_2018
from quietlimb.engine.standards.cuff_width import judge_width
from quietlimb.engine.standards.rule_set import RuleSet
from quietlimb.engine.values import Cited, Estimate
from quietlimb.simulator.training.animal import TrainingAnimal
from quietlimb.simulator.training.case import Case, Pressures
from quietlimb.teaching.attempts import Attempt, in_order
from quietlimb.teaching.marks import Grade, grade_of
from quietlimb.teaching.measured_again import Bench
from quietlimb.teaching.practice import RULES, SHORTEST_REST, Code, Departure, Rule, all_mended, departures, mended
from quietlimb.teaching.to_the_owner import OwnerTold, Saying, judge

Beside = Literal["as done", "mended"]

# A tape laid twice around a soft limb differs by less.
TAPE_OFF = Cited(0.05, "share", "Quietlimb", "off what the tape shows", "invented")
TOP_OFF = Cited(5.0, "mmHg", "Quietlimb", "a hand at the bulb that went further than it meant to", "invented")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What one choice that departs from good practice did to the charted systolic pressure.

    numbers       : inflations that depart: those that count, and those that were thrown out where the choice spoils
    departures    : of each of them
    lost          : of them, where the choice spoils readings, those whose reading was spoiled and would be usable with
                    this choice mended, the others beside it as told; not what was broken off, and not what had
                    something else amiss too where the same choice by itself spoiled nothing
    lost_too      : of the others that were spoiled, those to which this choice by itself was enough, and another too,
                    so that mending this one alone brings none of them back
    lost_besides  : those that were spoiled with this choice mended as without, and not for this choice
    modelled_mmhg : what the model of the animal moves the charted value by, without anything that is random [mmHg]:
                    what it moves at the last inflation, where the value is charted; the median over the inflations
                    where only some of them depart
    found_mmhg    : charted as it was done minus charted with this choice mended [mmHg]; None where one of the two
                    cannot be charted
    beside        : whether the other choices were left as they were, or had to be mended for that
    widened_mmhg  : by how much the interval of the charted pressure is wider to either side than with this choice
                    mended [mmHg]; None as above
    readings      : usable readings more with this choice mended, the others beside it as told
    rule          : good practice, with its source
    """

    code: Code
    numbers: tuple[int, ...]
    departures: tuple[Departure, ...]
    lost: tuple[int, ...]
    lost_too: tuple[int, ...] = ()
    lost_besides: tuple[int, ...] = ()
    modelled_mmhg: float
    found_mmhg: float | None
    beside: Beside
    widened_mmhg: float | None
    readings: int
    rule: Rule

    @property
    def departure(self) -> Departure:
        """Of the last inflation that departs."""
        return self.departures[-1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One inflation as it was: what it showed by the engine, what was so at that minute, and what was made of it.

    systolic      : by the engine; None where there is none
    true_systolic : at the level of the heart at that minute, the animal as it then was [mmHg]
    counts        : whether it belongs to the series that was charted
    reached_mmhg  : the highest pressure that the cuff showed [mmHg]
    broken_off_at : where the valve was opened before a systolic pressure could be read [mmHg]; None otherwise
    """

    number: int
    minute: float
    kept: bool
    why: str | None
    verdict: Verdict
    systolic: Estimate | None
    true_systolic: float
    counts: bool
    broken_off_at: float | None = None
    reached_mmhg: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tape:
    """A circumference that was put down and is not what the tape shows.

    numbers        : of the inflations that count
    told_cm, is_cm : as it was put down, and as it is [cm]
    by_the_tape    : whether the cuff would fit a limb of the circumference that was put down
    cost           : of the cuff that does not fit the limb itself; None where it fits
    """

    numbers: tuple[int, ...]
    told_cm: float
    is_cm: float
    by_the_tape: bool
    cost: Cost | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Debrief:
    """Codes and numbers; `quietlimb.words.training` says them.

    resting        : the hidden truth
    charted_mmhg   : systolic, as the learner charted it; None where nothing was
    error_mmhg     : that minus the truth
    measured       : what the engine charts for the readings that count
    all_mended     : the same with every choice mended
    costs          : in the order of the rules
    spoiled_kept   : inflations that were kept though the engine discards them, or finds no systolic pressure in them;
                     without those that were broken off
    good_discarded : inflations that were thrown out though the engine keeps them
    wasted         : inflations whose reading counts for nothing
    enough         : whether as many readings were kept as the protocol asks for
    consistent     : whether these met its rule on variability
    minutes        : from the animal's coming in to the end of the last inflation [min]
    averaged       : readings that go into the protocol's average
    unrested       : inflations begun sooner after the one before than the shortest rest
    shortest_rest_s: between two inflations, the cuff empty; None where there was one alone [s]
    owner          : what the owner was told, judged; None in debriefs that were made before that was asked
    looked_over_before : the number of the inflation before which display, cuff and tube were looked over, or None
    tape           : a circumference that was misread; None where it was not, or none was put down
    left_full_mmhg : what the cuff held when the session was ended with air in it; None where it was empty
    """

    case: Case
    resting: Pressures
    charted_mmhg: float | None
    error_mmhg: float | None
    grade: Grade
    measured: Estimate | None
    all_mended: Estimate | None
    costs: tuple[Cost, ...]
    inflations: tuple[Judged, ...]
    spoiled_kept: tuple[int, ...]
    good_discarded: tuple[int, ...]
    wasted: int
    enough: bool
    consistent: bool
    minutes: float
    averaged: int = 0
    unrested: tuple[int, ...] = ()
    shortest_rest_s: float | None = None
    owner: OwnerTold | None = None
    looked_over_before: int | None = None
    tape: Tape | None = None
    left_full_mmhg: float | None = None


def debrief(
    case: Case,
    attempts: Sequence[Attempt],
    charted: Estimate | float | None,
    *,
    method: Method = "artery fit",
    to_the_owner: Saying | None = None,
    looked_over_before: int | None = None,
    left_full_mmhg: float | None = None,
    rules: RuleSet = ACVIM_2018,
) -> Debrief:
    """What there is to say after a session.

    attempts : every inflation in the order taken, those thrown out too
    charted  : the systolic pressure that the learner charted [mmHg]; None where the learner charted nothing
    method   : by which the engine reads; inflations that tell how they were read at the table stand as they do there
    to_the_owner : what the learner chose that the owner is told; None where nothing was chosen
    looked_over_before : the inflation before which display, cuff and tube were looked over; None where they were not
    left_full_mmhg     : what the cuff held when the session was ended with air in it [mmHg]; None where it was empty
    rules    : by whose limits that is judged

    Where readings of several series were kept, the last series counts: they are never pooled. Where none was kept, the
    costs are found on all readings of the last series.

    Raises
    ------
    ParameterError : no attempt, attempts out of order, or what the case does not have.
    """
    taken = in_order(attempts)
    value = charted.value if isinstance(charted, Estimate) else charted
    if value is not None and not 0.0 < value < 400.0:
        raise ParameterError("impossible-pressure", f"{value:g} mmHg was charted", "give 1 to 399 mmHg, or nothing")
    bench = Bench(TrainingAnimal(case), method, taken)
    counting = _last_series(taken)
    measured = bench.charted(counting)
    spoiled = [_is_spoiled(reading) for reading in bench.readings(taken)]
    error = None if value is None else value - case.resting.systolic
    guideline = measured.guideline
    rest_s = _rests_s(bench, taken)
    costs = _costs(bench, taken, counting)
    return Debrief(
        case=case,
        resting=case.resting,
        charted_mmhg=value,
        error_mmhg=error,
        grade=grade_of(error),
        measured=measured.systolic,
        all_mended=bench.charted(_all_mended(bench.animal, counting)).systolic,
        costs=costs,
        inflations=_judged(bench, taken, counting),
        spoiled_kept=tuple(
            each.number
            for each, reading, bad in zip(taken, bench.readings(taken), spoiled, strict=True)
            if each.kept and bad and _broken_off_at(each, reading) is None
        ),
        good_discarded=tuple(
            each.number
            for each, reading in zip(taken, bench.readings(taken), strict=True)
            if not each.kept and reading.verdict == "keep" and reading.systolic is not None
        ),
        wasted=sum(not each.kept or bad for each, bad in zip(taken, spoiled, strict=True)),
        enough=guideline is not None and guideline.enough,
        consistent=guideline is not None and guideline.consistent,
        minutes=taken[0].choices.acclimatisation_min + taken[-1].minute + bench.lasted_min(taken[-1]),
        averaged=0 if guideline is None else len(guideline.kept),
        unrested=tuple(number for number, rest in rest_s.items() if rest < SHORTEST_REST.value),
        shortest_rest_s=min(rest_s.values(), default=None),
        looked_over_before=looked_over_before,
        tape=_tape(bench.animal, counting, costs),
        left_full_mmhg=left_full_mmhg,
        owner=judge(
            to_the_owner, charted_mmhg=value, true_mmhg=case.resting.systolic, treated=case.treated, rules=rules
        ),
    )


def _tape(animal: TrainingAnimal, counting: Sequence[Attempt], costs: Sequence[Cost]) -> Tape | None:
    """What was misread on the tape, by the last inflation that counts."""
    misread = [each for each in counting if _is_misread(animal, each)]
    if not misread:
        return None
    last = misread[-1]
    assert last.tape_cm is not None
    width, species = last.choices.cuff_width_cm, animal.case.species
    return Tape(
        numbers=tuple(each.number for each in misread if each.tape_cm == last.tape_cm),
        told_cm=last.tape_cm,
        is_cm=animal.circumference_cm(last.choices),
        by_the_tape=judge_width(width, last.tape_cm, species).direction == "none",
        cost=next((each for each in costs if each.code in ("cuff-narrow", "cuff-wide")), None),
    )


def _is_misread(animal: TrainingAnimal, attempt: Attempt) -> bool:
    around = animal.circumference_cm(attempt.choices)
    return attempt.tape_cm is not None and abs(attempt.tape_cm - around) > TAPE_OFF.value * around


def costs_of(case: Case, attempts: Sequence[Attempt], *, method: Method = "artery fit") -> tuple[Cost, ...]:
    """The costs alone, as in the debrief."""
    taken = in_order(attempts)
    bench = Bench(TrainingAnimal(case), method, taken)
    return _costs(bench, taken, _last_series(taken))


def _last_series(taken: Sequence[Attempt]) -> tuple[Attempt, ...]:
    """Those kept in the series of the last one kept; all of the last series where none was kept."""
    kept = [each for each in taken if each.kept] or list(taken)
    return tuple(each for each in kept if _series(each) == _series(kept[-1]))


def _series(attempt: Attempt) -> tuple[object, ...]:
    choices = attempt.choices
    return choices.site, choices.side, choices.position, choices.cuff_width_cm


def _departing(animal: TrainingAnimal, taken: Sequence[Attempt], attempt: Attempt) -> tuple[Departure, ...]:
    return departures(animal, attempt.choices, minute=attempt.minute, number=attempt.number, first=attempt is taken[0])


def _mended(animal: TrainingAnimal, attempt: Attempt, code: Code) -> Attempt:
    choices = mended(animal, attempt.choices, code, minute=attempt.minute, number=attempt.number)
    return replace(attempt, choices=choices)


def _all_mended(animal: TrainingAnimal, attempts: Sequence[Attempt], but: Code | None = None) -> list[Attempt]:
    return [
        replace(each, choices=all_mended(animal, each.choices, minute=each.minute, number=each.number, but=but))
        for each in attempts
    ]


def _costs(bench: Bench, taken: Sequence[Attempt], counting: Sequence[Attempt]) -> tuple[Cost, ...]:
    animal = bench.animal
    found = {each.number: {one.code: one for one in _departing(animal, taken, each)} for each in taken}
    costs = []
    for code, rule in RULES.items():
        departing = [code in found[each.number] for each in counting]
        thrown_out = [
            each
            for each in taken
            if rule.way == "spoils readings" and not each.kept and each not in counting and code in found[each.number]
        ]
        so = sorted(
            [*(a for a, d in zip(counting, departing, strict=True) if d), *thrown_out], key=lambda each: each.number
        )
        if not so:
            continue
        better = [_mended(animal, a, code) if d else a for a, d in zip(counting, departing, strict=True)]
        done, best, beside = _to_compare(bench, counting, better, code)
        saved = [_mended(animal, each, code) for each in thrown_out]
        told = any(departing)
        pairs = [(each, a, b) for each, a, b, d in zip(counting, done, best, departing, strict=True) if d]
        pairs += list(zip(thrown_out, thrown_out, saved, strict=True))
        spoils = rule.way == "spoils readings"
        lost = _lost(bench, code, found, pairs) if spoils else ()
        too, besides = _not_brought_back(bench, code, found, pairs) if spoils else ((), ())
        costs.append(
            Cost(
                code=code,
                numbers=tuple(each.number for each in so),
                departures=tuple(_reaching(bench, each, found[each.number][code]) for each in so),
                lost=lost,
                lost_too=too,
                lost_besides=besides,
                modelled_mmhg=_modelled(animal, counting, better, all(departing)),
                found_mmhg=_difference(bench, done, best, lambda charted: charted.value) if told else None,
                beside=beside,
                widened_mmhg=(
                    _difference(bench, done, best, lambda charted: 0.5 * (charted.high - charted.low)) if told else None
                ),
                readings=_usable(bench, [*best, *saved]) - _usable(bench, [*done, *thrown_out]),
                rule=rule,
            )
        )
    return tuple(costs)


def _reaching(bench: Bench, attempt: Attempt, one: Departure) -> Departure:
    """With what the cuff reached, where the top was chosen and the hand went much further or stopped before it."""
    if not one.code.startswith("inflation") or one.chosen is None:
        return one
    top = bench.reached_mmhg(attempt)
    return replace(one, reached=top if abs(top - one.chosen) > TOP_OFF.value else None)


def _lost(
    bench: Bench,
    code: Code,
    found: Mapping[int, Mapping[Code, Departure]],
    pairs: Sequence[tuple[Attempt, Attempt, Attempt]],
) -> tuple[int, ...]:
    """Inflations whose reading this choice cost.

    found : departures of each inflation, by its number
    pairs : each inflation that departs so: as it was, and what is compared, with this choice and with it mended
    """
    readings = bench.readings([was for was, _, _ in pairs])
    withs, withouts = (bench.readings([each[k] for each in pairs]) for k in (1, 2))
    harmless = [
        found[was.number][code]
        for (was, _, _), reading in zip(pairs, readings, strict=True)
        if not _is_spoiled(reading) and not _else_amiss(found[was.number], code)
    ]
    return tuple(
        sorted(
            was.number
            for (was, _, _), reading, with_it, without in zip(pairs, readings, withs, withouts, strict=True)
            if _is_spoiled(reading)
            and _broken_off_at(was, reading) is None
            and _is_spoiled(with_it)
            and not _is_spoiled(without)
            and not (
                _else_amiss(found[was.number], code)
                and any(_as_far(each, found[was.number][code]) for each in harmless)
            )
        )
    )


def _not_brought_back(
    bench: Bench,
    code: Code,
    found: Mapping[int, Mapping[Code, Departure]],
    pairs: Sequence[tuple[Attempt, Attempt, Attempt]],
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Inflations that are spoiled with this choice mended too: those that it would have spoiled by itself, and those
    that it would not have. Arguments as of `_lost`."""
    readings, withouts = (bench.readings([each[k] for each in pairs]) for k in (0, 2))
    still = [
        was
        for (was, _, _), reading, without in zip(pairs, readings, withouts, strict=True)
        if _is_spoiled(reading) and _broken_off_at(was, reading) is None and _is_spoiled(without)
    ]
    asked = [was for was in still if _else_amiss(found[was.number], code)]
    alone = bench.readings(_all_mended(bench.animal, asked, but=code))
    best = bench.readings(_all_mended(bench.animal, asked))
    too = {
        was.number
        for was, with_it, without in zip(asked, alone, best, strict=True)
        if _is_spoiled(with_it) and not _is_spoiled(without)
    }
    numbers = sorted(was.number for was in still)
    return tuple(k for k in numbers if k in too), tuple(k for k in numbers if k not in too)


def _else_amiss(of_one: Mapping[Code, Departure], code: Code) -> bool:
    return any(RULES[each].way == "spoils readings" for each in of_one if each != code)


def _as_far(one: Departure, other: Departure) -> bool:
    """Whether one departs at least as far as the other; choices without a figure depart alike."""
    if one.chosen is None or other.chosen is None:
        return True
    if one.wanted is None or other.wanted is None:
        return abs(one.chosen) >= abs(other.chosen)
    return abs(one.chosen - one.wanted) >= abs(other.chosen - other.wanted)


def _to_compare(
    bench: Bench, done: Sequence[Attempt], better: Sequence[Attempt], code: Code
) -> tuple[Sequence[Attempt], Sequence[Attempt], Beside]:
    """With and without this choice; among mended choices where it cannot be told beside the others as they were."""
    if bench.charted(better).systolic is None:
        alone, best = _all_mended(bench.animal, done, but=code), _all_mended(bench.animal, done)
        if bench.charted(alone).systolic is not None and bench.charted(best).systolic is not None:
            return alone, best, "mended"
    return done, better, "as done"


def _difference(
    bench: Bench, one: Sequence[Attempt], other: Sequence[Attempt], of: Callable[[Estimate], float]
) -> float | None:
    first, second = bench.charted(one).systolic, bench.charted(other).systolic
    return None if first is None or second is None else of(first) - of(second)


def _modelled(animal: TrainingAnimal, done: Sequence[Attempt], better: Sequence[Attempt], throughout: bool) -> float:
    moved = [_shown(animal, one) - _shown(animal, other) for one, other in zip(done, better, strict=True)]
    return moved[-1] if throughout else median(moved)


def _shown(animal: TrainingAnimal, attempt: Attempt) -> float:
    return animal.shown(attempt.choices, minute=attempt.minute, number=attempt.number).systolic


def _usable(bench: Bench, attempts: Sequence[Attempt]) -> int:
    return sum(not _is_spoiled(reading) for reading in bench.readings(attempts))


def _is_spoiled(reading: Reading) -> bool:
    return reading.verdict == "discard" or reading.systolic is None


def _rests_s(bench: Bench, taken: Sequence[Attempt]) -> dict[int, float]:
    """For each inflation but the first, how long the cuff was empty before it [s]."""
    return {
        after.number: max(0.0, 60.0 * (after.minute - before.minute - bench.lasted_min(before)))
        for before, after in pairwise(taken)
    }


def _broken_off_at(attempt: Attempt, reading: Reading) -> float | None:
    return attempt.opened_at_mmhg if reading.systolic is None else None


def _judged(bench: Bench, taken: Sequence[Attempt], counting: Sequence[Attempt]) -> tuple[Judged, ...]:
    return tuple(
        Judged(
            number=attempt.number,
            minute=attempt.minute,
            kept=attempt.kept,
            why=attempt.why,
            verdict=reading.verdict,
            systolic=reading.systolic,
            true_systolic=bench.animal.truth(attempt.minute, attempt.choices).systolic,
            counts=attempt in counting,
            broken_off_at=_broken_off_at(attempt, reading),
            reached_mmhg=bench.reached_mmhg(attempt),
        )
        for attempt, reading in zip(taken, bench.readings(taken), strict=True)
    )
