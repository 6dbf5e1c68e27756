"""A case to learn on: what is told of the animal, and what is hidden until the debrief."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from quietlimb.engine.circumstances import Place, Site, Species
from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.beats import Rhythm

FaultKind = Literal["offset", "leak", "slipped"]
Difficulty = Literal[1, 2, 3]

# What an animal and an instrument could be at all; the form of a pulse allows no other mean.
LEAST_FORM, MOST_FORM = 0.28, 0.45
_REACH: Mapping[str, tuple[float, float]] = {
    "systolic": (60.0, 260.0),
    "diastolic": (25.0, 200.0),
    "pulse_rate": (50.0, 280.0),
    "raised_mmhg": (0.0, 60.0),
    "settles_min": (0.5, 60.0),
    "moves": (0.0, 0.9),
    "wags": (0.0, 1.0),
    "age_years": (0.1, 40.0),
    "weight_kg": (0.2, 120.0),
    "circumference_cm": (3.0, 32.0),
}
# kind -> (unit, least, most) of its size
FAULT_SIZES: Mapping[FaultKind, tuple[str, float, float]] = {
    "offset": ("mmHg", -30.0, 30.0),
    "leak": ("mmHg a second", 0.3, 3.0),
    "slipped": ("share of the pressure that is lost", 0.02, 0.2),
}


def within(name: str, value: float) -> None:
    """Raise ParameterError where a figure of a case is none that an animal could have."""
    least, most = _REACH[name]
    if not (math.isfinite(value) and least <= value <= most):
        raise ParameterError("impossible-case", f"{name} is {value:g}", f"give {least:g} to {most:g}")


def among(name: str, value: object, words: tuple[object, ...]) -> None:
    """Raise ParameterError where a word of a case is none that is known."""
    if value not in words:
        raise ParameterError(
            "impossible-case", f"{name} is {value!r}", f"use one of: {', '.join(str(word) for word in words)}"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressures:
    """Systolic, mean and diastolic [mmHg]."""

    systolic: float
    mean: float
    diastolic: float

    def __post_init__(self) -> None:
        if not self.diastolic < self.mean < self.systolic:
            raise ParameterError(
                "impossible-case",
                f"systolic {self.systolic:g}, mean {self.mean:g}, diastolic {self.diastolic:g} mmHg",
                "give a systolic above the mean and a mean above the diastolic pressure",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """What whoever measures is told of the animal. All invented."""

    animal: str
    breed: str
    age_years: float
    weight_kg: float
    temper: str
    remarks: str

    def __post_init__(self) -> None:
        within("age_years", self.age_years)
        within("weight_kg", self.weight_kg)
        for name in ("animal", "breed", "temper", "remarks"):
            if not getattr(self, name).strip():
                raise ParameterError("impossible-case", f"{name} of the story is empty", "say it in a few words")


@dataclass(frozen=True, slots=True, kw_only=True)
class Temper:
    """How the animal takes it.

    raised_mmhg : by so much its systolic pressure is raised as it comes in [mmHg]
    settles_min : after so long about a third of that is left, then a third of the third [min]
    moves       : share of inflations in which a limb moves while the animal lies at ease
    wags        : share of inflations in which a tail that nobody holds wags
    owner_calms : whether it is calmer with its owner there
    """

    raised_mmhg: float = 15.0
    settles_min: float = 3.0
    moves: float = 0.1
    wags: float = 0.2
    owner_calms: bool = False

    def __post_init__(self) -> None:
        for name in ("raised_mmhg", "settles_min", "moves", "wags"):
            within(name, getattr(self, name))


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """What is wrong with the instrument, from an inflation on.

    kind        : `offset` of the display, `leak` of cuff or tube, a cuff that has `slipped` and hangs loosely
    size        : mmHg, mmHg a second, or the share of the pressure that does not reach the artery
    from_number : the first inflation, from 1, that suffers from it
    """

    kind: FaultKind
    size: float
    from_number: int = 1

    def __post_init__(self) -> None:
        among("kind of the fault", self.kind, get_args(FaultKind))
        unit, least, most = FAULT_SIZES[self.kind]
        if not (math.isfinite(self.size) and least <= self.size <= most):
            raise ParameterError(
                "impossible-case", f"size of the fault is {self.size:g}", f"give {least:g} to {most:g} ({unit})"
            )
        if self.from_number < 1:
            raise ParameterError(
                "impossible-case", f"the fault begins with inflation {self.from_number}", "count inflations from 1"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """An invented animal with a hidden truth.

    resting          : its pressure at rest, calm, at the level of the heart: the clinical truth that what is charted
                       is judged against
    circumference_cm : of each limb that can take a cuff; a site that is not here cannot be used [cm]
    places           : that can be had
    treated          : whether it is under treatment against high pressure; told, changes nothing
    teaches          : codes of what there is to learn, see `quietlimb.teaching.practice`; empty where it is mixed
    """

    key: str
    title: str
    story: Story
    seed: int
    difficulty: Difficulty
    species: Species
    resting: Pressures
    pulse_rate: float
    rhythm: Rhythm = "regular"
    temper: Temper
    circumference_cm: Mapping[Site, float]
    fault: Fault | None = None
    treated: bool = False
    places: tuple[Place, ...] = ("carrier", "waiting-room", "consulting-room", "hospital-cage")
    teaches: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        among("species", self.species, get_args(Species))
        among("difficulty", self.difficulty, get_args(Difficulty))
        among("rhythm", self.rhythm, get_args(Rhythm))
        for name in ("key", "title"):
            if not getattr(self, name).strip():
                raise ParameterError("impossible-case", f"{name} is empty", f"give the case a {name}")
        if self.seed < 0:
            raise ParameterError("impossible-case", f"seed is {self.seed}", "give a whole number of 0 or more")
        within("systolic", self.resting.systolic)
        within("diastolic", self.resting.diastolic)
        within("pulse_rate", self.pulse_rate)
        if not LEAST_FORM <= self.form_factor <= MOST_FORM:
            low, high = (self.resting.diastolic + form * self.pulse_pressure for form in (LEAST_FORM, MOST_FORM))
            raise ParameterError(
                "impossible-case", f"mean is {self.resting.mean:g} mmHg", f"give {low:.0f} to {high:.0f} mmHg"
            )
        if not self.circumference_cm:
            raise ParameterError("impossible-case", "no limb can take a cuff", "give the circumference of one at least")
        for site, around in self.circumference_cm.items():
            among("site", site, get_args(Site))
            within("circumference_cm", around)
        if not self.places:
            raise ParameterError("impossible-case", "there is no place", "name one place at least")
        for place in self.places:
            among("place", place, get_args(Place))

    @property
    def pulse_pressure(self) -> float:
        """Systolic minus diastolic, at rest [mmHg]."""
        return self.resting.systolic - self.resting.diastolic

    @property
    def form_factor(self) -> float:
        """Where in the pulse its mean lies, from 0 at the foot to 1 at the peak."""
        return (self.resting.mean - self.resting.diastolic) / self.pulse_pressure

    @property
    def period_s(self) -> float:
        """Time from beat to beat at rest [s]."""
        return 60.0 / self.pulse_rate
