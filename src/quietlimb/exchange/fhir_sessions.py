"""What a bundle tells, as plain values: an animal, its sessions, their readings, and what was signed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from quietlimb.engine.circumstances import Circumstances, Species


@dataclass(frozen=True, slots=True, kw_only=True)
class BundleAnimal:
    """An animal. `key` is a UUID where we write it; `number` is that of the record; None means not told.

    sex : female, female neutered, male, male neutered
    """

    key: str
    species: Species | None
    name: str | None = None
    breed: str | None = None
    sex: str | None = None
    born: date | None = None
    number: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BundleReading:
    """One reading. Pressures in mmHg, rate in /min; None where there is none.

    taken_at  : with its offset from UTC
    series    : number of its series in the session; None where a bundle tells none
    set_aside : why it does not count; empty where it does
    struck    : a mistake that was struck through
    """

    key: str
    taken_at: datetime
    circumstances: Circumstances
    series: int | None = None
    systolic: float | None = None
    mean: float | None = None
    diastolic: float | None = None
    pulse_rate: float | None = None
    set_aside: str = ""
    struck: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class BundleChange:
    """Who signed or amended, when, and why."""

    by: str
    at: datetime
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BundleValue:
    """What was signed of a session, as it stands with all amendments. Pressures in mmHg; systolic None: no value.

    rule   : how the value was chosen, with the version of the engine
    used   : keys of the readings that it rests on
    signed : by whom; then the amendments
    beside : what stands beside the value and never in its place, as converted values, a sentence each
    """

    systolic: float | None
    mean: float | None = None
    diastolic: float | None = None
    rule: str
    used: tuple[str, ...]
    signed: BundleChange
    amended: tuple[BundleChange, ...] = ()
    beside: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BundleSession:
    """One session; `circumstances` hold what is true for all of it. Readings stand in the order taken."""

    key: str
    started_at: datetime
    ended_at: datetime | None
    circumstances: Circumstances
    readings: tuple[BundleReading, ...]
    value: BundleValue | None = None


# Circumstances by where a bundle tells them, besides site, side, position, method and instrument.
OF_SESSION = ("place", "sedation", "held_by", "remarks")
OF_READING = ("cuff", "cuff_width_cm", "limb_circumference_cm", "cuff_below_heart_cm", "acclimatisation_min")
