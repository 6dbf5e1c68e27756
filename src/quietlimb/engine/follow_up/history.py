"""What is known of an animal over months: one entry a session, and what was done between them.

Days are whole numbers, see `days`, so that a difference of two days is a number of days; dates are for the rooms above.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Literal

from quietlimb.engine.circumstances import NUMERIC_CIRCUMSTANCES, Circumstances, Species
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.follow_up.days import Dated, day_of
from quietlimb.engine.interpretation.interpretation import OrganDamage
from quietlimb.engine.standards.day_to_day import WITHIN_SESSION_SD

TreatmentStep = Literal["begun", "changed", "stopped"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TreatmentEvent:
    """Treatment begun, changed or stopped, after the session of the same day where there is one.

    day : a date is taken for its number
    """

    day: int
    step: TreatmentStep

    def __post_init__(self) -> None:
        object.__setattr__(self, "day", day_of(self.day, "the day of an event"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """What carries a session over to the circumstances of the others: add `add_mmhg`, known to within `sd_mmhg`.

    The plainest conversion; that of `engine.conversion` has a slope and a range, and refuses what it was not found for.
    It comes from a comparison of the two, made by whoever enters it; every session that it is used for shares its
    error.
    """

    add_mmhg: float
    sd_mmhg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PastSession:
    """One session, as charted then.

    day           : a date is taken for its number
    systolic_mmhg : charted systolic pressure, before any conversion [mmHg]
    own_sd_mmhg   : standard deviation of that value within its session: what its readings left open [mmHg], > 0
    readings      : how many it rests on; None where not told
    conversion    : given where it was not measured as the others were
    """

    day: int
    systolic_mmhg: float
    own_sd_mmhg: float
    mean_mmhg: float | None = None
    diastolic_mmhg: float | None = None
    readings: int | None = None
    circumstances: Circumstances
    conversion: Shift | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "day", day_of(self.day, "the day of a session"))

    @property
    def awake(self) -> bool:
        """Whether it counts; an animal of which nothing is told is taken for awake."""
        return self.circumstances.sedation in (None, "awake")


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """Sessions and treatment events of one animal, each in the order of their days.

    Sessions of one day stand by the time that they tell, otherwise by their pressure: in which order they were given
    changes nothing.

    organ_damage : what is known of all target organs together
    at_risk      : whether an illness that goes with high pressure is known
    born_day     : None where not told; a date is taken for its number

    Raises
    ------
    ParameterError : entries out of order (`days-out-of-order`), an event or a session twice (`event-twice`,
                     `session-twice`).
    """

    species: Species
    animal: str | None = None
    sessions: tuple[PastSession, ...]
    events: tuple[TreatmentEvent, ...] = ()
    organ_damage: OrganDamage = "not examined"
    at_risk: bool = False
    born_day: int | None = None

    def __post_init__(self) -> None:
        if self.born_day is not None:
            object.__setattr__(self, "born_day", day_of(self.born_day, "born_day"))
        for entries in (self.sessions, self.events):
            days = [entry.day for entry in entries]
            if days != sorted(days):
                raise ParameterError("days-out-of-order", "the days do not rise", "give the entries in order of time")
        object.__setattr__(self, "sessions", tuple(sorted(self.sessions, key=_within_the_day)))
        # Each event lets the level step, so one that stands twice would let it step further.
        if len(set(self.events)) < len(self.events):
            raise ParameterError("event-twice", "the same event of one day is given twice", "give each event once")
        # A session that stands twice would count twice.
        if len(set(self.sessions)) < len(self.sessions):
            raise ParameterError(
                "session-twice",
                "the same session is given twice",
                "give each session once; if there were two, tell in what they differ, as in started_at or remarks",
            )

    @property
    def treated(self) -> bool:
        """Whether treatment was last begun or changed, not stopped."""
        return bool(self.events) and self.events[-1].step != "stopped"

    def before(self, day: int | Dated) -> History:
        """The history as it stood at the end of that day."""
        day = day_of(day, "the day")
        return History(
            species=self.species,
            animal=self.animal,
            sessions=tuple(session for session in self.sessions if session.day <= day),
            events=tuple(event for event in self.events if event.day <= day),
            organ_damage=self.organ_damage,
            at_risk=self.at_risk,
            born_day=self.born_day,
        )

    def fingerprint_with(self, parameters: Mapping[str, str]) -> str:
        """sha256 of the history and the parameters under which it is followed.

        One JSON object in ASCII with sorted keys, of `history` and `parameters`; everything that is not told is null.
        Days and counts are whole numbers, everything else that is measured has a decimal point.
        """
        told = {"history": asdict(self, dict_factory=_plain), "parameters": dict(parameters)}
        text = json.dumps(told, sort_keys=True, ensure_ascii=True, allow_nan=False)
        return hashlib.sha256(text.encode("ascii")).hexdigest()


def _within_the_day(session: PastSession) -> tuple[int, str, float, str]:
    return session.day, session.circumstances.started_at or "", session.systolic_mmhg, repr(session)


_MEASURED = NUMERIC_CIRCUMSTANCES | {
    "systolic_mmhg",
    "own_sd_mmhg",
    "mean_mmhg",
    "diastolic_mmhg",
    "add_mmhg",
    "sd_mmhg",
}


def _plain(members: list[tuple[str, Any]]) -> dict[str, Any]:
    """170 and 170.0 mmHg are the same pressure."""
    return {name: float(value) if name in _MEASURED and value is not None else value for name, value in members}


def usual_own_sd(circumstances: Circumstances, readings: int | None) -> float:
    """The standard deviation to take where a session tells none: that of one reading over the root of their number.

    readings : 1 or more; None is taken for 1, because a value that nothing is known of may rest on one reading. [mmHg]
    """
    return WITHIN_SESSION_SD[circumstances.species, circumstances.method].value / math.sqrt(readings or 1)
