"""Two simulated learners at the training animal, and one way to depart from each rule of good practice.

Neither knows the hidden truth. The careful one does what the protocol asks for and lets Quietlimb chart; the careless
one hurries and writes down the mean of what the display shows. How careless it is, is invented.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from quietlimb.engine.reading import Reading, read
from quietlimb.engine.session.charting import chart
from quietlimb.engine.session.series import series_from_readings, series_from_values
from quietlimb.instruments.cuffs import DEFAULT_WIDTHS_CM, cuff_choices
from quietlimb.simulator.training import Case, Choices, Displayed, TrainingAnimal, numbers_of
from quietlimb.teaching import Attempt, departures
from quietlimb.teaching.practice import Code, fall_wanted, quiet_place

WANTED, MOST = 6, 12
FIRST_TOP_MMHG, ABOVE_MMHG, HIGHER_MMHG = 180.0, 30.0, 40.0
PAUSE_MIN = 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Session:
    """What a learner did, and the systolic pressure that was charted [mmHg]; None where none was."""

    attempts: tuple[Attempt, ...]
    charted: float | None


def good_choices(case: Case) -> Choices:
    """A calm, fitting way to measure this animal; the top is the first guess."""
    site = "forelimb" if "forelimb" in case.circumference_cm else next(iter(case.circumference_cm))
    return Choices(
        place=quiet_place(case),
        position="chest-down",
        site=site,
        cuff_width_cm=cuff_choices(case.circumference_cm[site], case.species)[0].width_cm,
        inflate_to_mmhg=FIRST_TOP_MMHG,
        fall_mmhg_per_s=fall_wanted(case),
    )


def careful(case: Case) -> Session:
    """Waits, lays a fitting cuff level with the heart, looks at each reading, and lets Quietlimb chart."""
    animal, choices = TrainingAnimal(case), good_choices(case)
    attempts: list[Attempt] = []
    kept: list[tuple[float, Reading]] = []
    minute = 0.0
    while len(kept) < WANTED and len(attempts) < MOST:
        number = len(attempts) + 1
        inflation = animal.inflate(choices, minute=minute, number=number)
        reading = read(inflation.recording)
        good = reading.verdict != "discard" and reading.systolic is not None
        attempts.append(Attempt(choices=choices, minute=minute, number=number, kept=good))
        if good and reading.systolic is not None:
            kept.append((minute, reading))
            top = reading.systolic.value + ABOVE_MMHG
        elif any(found.code == "systolic-side-missing" for found in reading.findings):
            top = choices.inflate_to_mmhg + HIGHER_MMHG
        else:
            top = choices.inflate_to_mmhg
        choices = replace(choices, inflate_to_mmhg=float(np.clip(round(top), 120.0, 300.0)))
        minute += float(inflation.recording.time_s[-1]) / 60.0 + PAUSE_MIN
    if not kept:
        return Session(attempts=tuple(attempts), charted=None)
    minutes, readings = zip(*kept, strict=True)
    charted = chart(series_from_readings(readings, list(minutes), animal.circumstances(choices))).systolic
    return Session(attempts=tuple(attempts), charted=None if charted is None else charted.value)


def careful_by_numbers(case: Case) -> Session:
    """The same before an instrument that shows only numbers: they are typed, and Quietlimb charts."""
    animal, choices = TrainingAnimal(case), good_choices(case)
    attempts: list[Attempt] = []
    kept: list[tuple[float, Displayed]] = []
    minute = 0.0
    while len(kept) < WANTED and len(attempts) < MOST:
        number = len(attempts) + 1
        inflation = animal.inflate(choices, minute=minute, number=number)
        shown = numbers_of(inflation)
        attempts.append(Attempt(choices=choices, minute=minute, number=number, kept=shown.failure is None))
        if shown.systolic is not None:
            kept.append((minute, shown))
            top = shown.systolic + ABOVE_MMHG
        else:
            top = choices.inflate_to_mmhg + (HIGHER_MMHG if shown.failure == "inflate-higher" else 0.0)
        choices = replace(choices, inflate_to_mmhg=float(np.clip(round(top), 120.0, 300.0)))
        minute += float(inflation.recording.time_s[-1]) / 60.0 + PAUSE_MIN
    if not kept:
        return Session(attempts=tuple(attempts), charted=None)
    charted = chart(
        series_from_values(
            circumstances=animal.circumstances(choices),
            minute=[at for at, _ in kept],
            systolic=[shown.systolic for _, shown in kept],
            mean=[shown.mean for _, shown in kept],
            diastolic=[shown.diastolic for _, shown in kept],
            pulse_rate=[shown.pulse_rate for _, shown in kept],
        )
    ).systolic
    return Session(attempts=tuple(attempts), charted=None if charted is None else charted.value)


def careless(case: Case, seed: int) -> Session:
    """In a hurry: starts at once, any cuff, no look at instrument or height, three numbers and their mean.

    It inflates higher where the display asks for it, and gives up after seven inflations.
    """
    rng = np.random.default_rng((seed, 3))
    animal, good = TrainingAnimal(case), good_choices(case)
    around = case.circumference_cm[good.site]
    widths = [width for width in DEFAULT_WIDTHS_CM if 0.18 <= width / around <= 0.55]
    place = ("waiting-room", "consulting-room")[int(rng.integers(2))]
    choices = replace(
        good,
        place=place,
        on_table=place == "consulting-room",
        acclimatisation_min=float(rng.uniform(0.0, 2.0)),
        position=("sitting", "standing", "chest-down")[int(rng.integers(3))],
        cuff_width_cm=float(rng.choice(widths)),
        cuff_below_heart_cm=float(rng.uniform(-5.0, 20.0)),
        inflate_to_mmhg=float(rng.choice((160.0, 180.0, 200.0))),
        fall_mmhg_per_s=float(rng.uniform(4.0, 9.0)),
        before_examination=bool(rng.uniform() < 0.5),
        owner_present=bool(rng.uniform() < 0.5),
        tail_held=False,
        setup_checked=False,
    )
    attempts: list[Attempt] = []
    shown: list[int] = []
    minute = 0.0
    while len(shown) < 3 and len(attempts) < 7:
        number = len(attempts) + 1
        now = replace(choices, limb_loaded=bool(rng.uniform() < 0.3))
        inflation = animal.inflate(now, minute=minute, number=number)
        numbers = numbers_of(inflation)
        attempts.append(Attempt(choices=now, minute=minute, number=number, kept=numbers.failure is None))
        if numbers.systolic is not None:
            shown.append(numbers.systolic)
        elif numbers.failure == "inflate-higher":
            higher = min(choices.inflate_to_mmhg + HIGHER_MMHG, 300.0)
            choices = replace(choices, inflate_to_mmhg=higher)
        minute += float(inflation.recording.time_s[-1]) / 60.0 + 0.2
    return Session(attempts=tuple(attempts), charted=float(np.mean(shown)) if shown else None)


def _narrow(case: Case, choices: Choices) -> Choices:
    return replace(choices, cuff_width_cm=round(0.18 * case.circumference_cm[choices.site], 1))


def _wide(case: Case, choices: Choices) -> Choices:
    return replace(choices, cuff_width_cm=round(0.60 * case.circumference_cm[choices.site], 1))


def _hind(case: Case, choices: Choices) -> Choices:
    width = cuff_choices(case.circumference_cm["hindlimb"], case.species)[0].width_cm
    return replace(choices, site="hindlimb", cuff_width_cm=width)


# One way to depart from each rule, all else as it should be; the top follows, see `departing`.
_DEPARTING: Mapping[Code, Callable[[Case, Choices], Choices]] = {
    "acclimatisation": lambda case, choices: replace(choices, acclimatisation_min=0.0),
    "place": lambda case, choices: replace(choices, place="waiting-room"),
    "table": lambda case, choices: replace(choices, place="consulting-room", on_table=True),
    "after-examination": lambda case, choices: replace(choices, before_examination=False),
    "owner-away": lambda case, choices: replace(choices, owner_present=False),
    "calming-drug": lambda case, choices: replace(choices, drug_free=False),
    "position": lambda case, choices: replace(choices, position="sitting"),
    "site": _hind,
    "cuff-narrow": _narrow,
    "cuff-wide": _wide,
    "cuff-below-heart": lambda case, choices: replace(choices, cuff_below_heart_cm=15.0),
    "cuff-above-heart": lambda case, choices: replace(choices, cuff_below_heart_cm=-15.0),
    "limb-loaded": lambda case, choices: replace(choices, limb_loaded=True),
    "tail-free": lambda case, choices: replace(choices, tail_held=False),
    "inflation-low": lambda case, choices: choices,
    "inflation-high": lambda case, choices: choices,
    "deflation-fast": lambda case, choices: replace(choices, fall_mmhg_per_s=12.0),
    "deflation-slow": lambda case, choices: replace(choices, fall_mmhg_per_s=1.0),
    "fault-offset": lambda case, choices: replace(choices, setup_checked=False),
    "fault-leak": lambda case, choices: replace(choices, setup_checked=False),
    "fault-slipped": lambda case, choices: replace(choices, setup_checked=False),
}
_ABOVE: Mapping[Code, float] = {"inflation-low": -10.0, "inflation-high": 110.0}


def departing(case: Case, code: Code, *, readings: int, spacing_min: float = 1.2) -> tuple[Attempt, ...] | None:
    """A session that departs from one rule alone, all of it kept; None where the case cannot show that."""
    animal = TrainingAnimal(case)
    if code == "site" and not {"hindlimb", "forelimb"} <= set(case.circumference_cm):
        return None
    choices = _DEPARTING[code](case, good_choices(case))
    attempts = []
    for number in range(1, readings + 1):
        minute = spacing_min * (number - 1)
        top = animal.shown(choices, minute=minute, number=number).systolic + _ABOVE.get(code, ABOVE_MMHG)
        now = replace(choices, inflate_to_mmhg=float(np.clip(round(top), 120.0, 300.0)))
        attempts.append(Attempt(choices=now, minute=minute, number=number))
    found = {
        each.code for one in attempts for each in departures(animal, one.choices, minute=one.minute, number=one.number)
    }
    return tuple(attempts) if found == {code} else None
