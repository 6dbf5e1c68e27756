"""What a browser sends of one reading, checked at the edge: the impossible is refused, the unlikely is asked about."""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from statistics import median

from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from quietlimb.clinic.equipment.models import Technique
from quietlimb.clinic.sessions.models import Spoiled
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.session.displays import MEAN_SHARE
from quietlimb.engine.standards.low_pressure import SYSTOLIC_BELOW
from quietlimb.engine.values import Cited
from quietlimb.exchange.readings_csv import LIMITS

QUANTITIES = ("systolic", "mean", "diastolic", "pulse_rate")
FUTURE = timedelta(minutes=10)  # clocks of tablets are not all alike [invented]
LONGEST = timedelta(hours=24)  # as a file of readings may be long
HIGHEST_ORDINAL = 100_000
LARGEST = 1e6  # what is beyond is no number from a display

# What is possible and yet mostly a slip of the finger.
NARROWEST_PULSE = Cited(15.0, "mmHg", "Quietlimb", "this file", "invented")
WIDEST_PULSE = Cited(110.0, "mmHg", "Quietlimb", "this file", "invented")
HIGHEST_USUAL = Cited(260.0, "mmHg", "Quietlimb", "this file, systolic of a cat or a dog", "invented")
FARTHEST_FROM_THE_SERIES = Cited(60.0, "mmHg", "Quietlimb", "this file, from the middle of those before", "invented")
USUAL_RATE: Mapping[str, tuple[Cited, Cited]] = {
    "cat": (
        Cited(90.0, "/min", "Quietlimb", "this file, of an awake cat", "invented"),
        Cited(300.0, "/min", "Quietlimb", "this file, of an awake cat", "invented"),
    ),
    "dog": (
        Cited(40.0, "/min", "Quietlimb", "this file, of an awake dog", "invented"),
        Cited(250.0, "/min", "Quietlimb", "this file, of an awake dog", "invented"),
    ),
}
RATE_TIMES = Cited(1.8, "times", "Quietlimb", "this file, a display that counts double or by halves", "invented")
SAME_OCCASION = timedelta(hours=2)  # a time farther from the session and all its readings is asked about [invented]


class EntryError(QuietlimbError):
    """These numbers cannot be saved. `field` is the slot to look at; `asks` says that they can when one is sure."""

    def __init__(self, code: str, says: str, remedy: str, *, field: str = "", asks: bool = False) -> None:
        super().__init__(code, says, remedy)
        self.field, self.asks = field, asks


@dataclass(frozen=True, slots=True, kw_only=True)
class SoFar:
    """What an unlikely number is held against.

    taken_at   : of all readings of the session, struck or not
    values     : name -> those of the readings of the series that count
    """

    species: str
    taken_at: Sequence[datetime] = ()
    values: Mapping[str, Sequence[float]] = field(default_factory=dict)

    def none_outside(self, name: str, low: float, high: float) -> bool:
        """Whether no reading of the series has such a value yet."""
        return all(low <= value <= high for value in self.values.get(name, ()))

    def middle(self, name: str) -> float | None:
        """The middle one of the values of the series; None where there is none."""
        before = self.values.get(name)
        return median(before) if before else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """One reading as it was typed; pressures in mmHg, rate in /min, None where its slot was left empty.

    typed_by : the person whose page it was typed on; None where that is not told
    """

    client_id: uuid.UUID
    ordinal: int
    taken_at: datetime
    systolic: float | None
    mean: float | None
    diastolic: float | None
    pulse_rate: float | None
    spoiled: str
    typed_by: uuid.UUID | None = None


def entered(sent: object, *, technique: str, started_at: datetime, now: datetime, so_far: SoFar) -> Entered:
    """The reading in a JSON object.

    technique  : of the series; by Doppler there is a systolic pressure and nothing else
    started_at : of the session
    now        : by the clock of this machine
    so_far     : what an unlikely number is held against

    Raises EntryError for whatever is missing, impossible or, unless the sender is `sure`, unlikely.
    """
    if not isinstance(sent, dict):
        raise EntryError("not-an-object", _("This is not a reading"), _("send a JSON object"))
    values = {name: _number(sent, name) for name in QUANTITIES}
    spoiled = sent.get("spoiled") or ""
    if spoiled not in ("", *Spoiled.values):
        raise EntryError("unknown-reason", _("This reason is not known"), _("choose one of the list"), field="spoiled")
    found = Entered(
        client_id=key(sent),
        ordinal=_ordinal(sent),
        taken_at=moment(sent, started_at, now),
        spoiled=str(spoiled),
        typed_by=_person(sent),
        **values,
    )
    _refuse_impossible(found, technique)
    if sent.get("sure") is not True:
        _ask_about_unlikely(found, started_at, so_far)
    return found


def key(sent: Mapping[str, object]) -> uuid.UUID:
    """The key under which it is one row, whatever happens. Raises EntryError where there is none."""
    try:
        return uuid.UUID(str(sent.get("client_id")))
    except ValueError:
        raise EntryError("no-key", _("The reading has no key"), _("load the page again"), field="client_id") from None


def _person(sent: Mapping[str, object]) -> uuid.UUID | None:
    found = sent.get("typed_by")
    if found is None or found == "":
        return None
    try:
        return uuid.UUID(str(found))
    except ValueError:
        raise EntryError("unknown-person", _("Nobody typed this"), _("load the page again"), field="typed_by") from None


def _ordinal(sent: Mapping[str, object]) -> int:
    found = sent.get("ordinal")
    if type(found) is not int or not 0 <= found <= HIGHEST_ORDINAL:
        raise EntryError("no-ordinal", _("The reading has no place"), _("load the page again"), field="ordinal")
    return found


def _number(sent: Mapping[str, object], name: str) -> float | None:
    found = sent.get(name)
    if found is None or found == "":
        return None
    # Compared, not converted: an integer may be too large for any float. No comparison holds for nan.
    if isinstance(found, bool) or not isinstance(found, int | float) or not -LARGEST < found < LARGEST:
        raise EntryError("not-a-number", _("This is not a number"), _("type digits"), field=name)
    low, high = LIMITS[name]
    if not low.value <= found <= high.value:
        says = _("{value:g} is outside {low:g} to {high:g} {unit}").format(
            value=found, low=low.value, high=high.value, unit=low.unit
        )
        raise EntryError("out-of-range", says, _("look at the display again"), field=name)
    return float(found)


def moment(sent: Mapping[str, object], started_at: datetime, now: datetime) -> datetime:
    """When it was taken. Raises EntryError where that is not told, or not possible."""
    try:
        found = parse_datetime(str(sent.get("taken_at")))
    except ValueError:
        found = None
    if found is None or found.tzinfo is None:
        raise EntryError(
            "no-time", _("The reading has no time"), _("send date and time with the offset from UTC"), field="taken_at"
        )
    return possible_moment(found, started_at=started_at, now=now)


def possible_moment(found: datetime, *, started_at: datetime, now: datetime) -> datetime:
    """The time itself. Raises EntryError for one to come, or of another day than the session's."""
    if found > now + FUTURE:
        raise EntryError("in-the-future", _("This time has not come yet"), _("look at the clock"), field="taken_at")
    if abs(found - started_at) > LONGEST:
        raise EntryError(
            "another-day",
            _("This time is more than a day from the start of the session"),
            _("start a session for that day"),
            field="taken_at",
        )
    return found


def _refuse_impossible(found: Entered, technique: str) -> None:
    others = [name for name in ("mean", "diastolic") if getattr(found, name) is not None]
    if technique == Technique.DOPPLER and others:
        raise EntryError(
            "not-by-doppler", _("By Doppler only the systolic pressure is read"), _("leave it empty"), field=others[0]
        )
    if found.systolic is None and not found.spoiled:
        raise EntryError(
            "nothing-typed",
            _("The systolic pressure is missing"),
            _("type it, or say why it spoiled"),
            field="systolic",
        )
    for lower, upper in (("mean", "systolic"), ("diastolic", "mean"), ("diastolic", "systolic")):
        low, high = getattr(found, lower), getattr(found, upper)
        if low is None or high is None:
            continue
        # A mean may meet either end on a coarse display; without any pulse pressure there is no pulse to measure.
        if low > high or (low == high and (lower, upper) == ("diastolic", "systolic")):
            says, remedy = _("The three pressures are not in order"), _("were two of them swapped?")
            raise EntryError("out-of-order", says, remedy, field=lower)


def _ask_about_unlikely(found: Entered, started_at: datetime, so_far: SoFar) -> None:
    """Everything that is unlikely in one question, so that it is asked once."""
    asked = list(_unlikely(found, started_at, so_far))
    if asked:
        first, says = asked[0][:2], dict.fromkeys(words for _code, _slot, words in asked)
        low = found.systolic is not None and found.systolic < SYSTOLIC_BELOW.value and not found.spoiled
        remedy = _("is that what the display says?")
        if first[0] == "far-in-time":
            remedy = _("is that so?")
        elif low:
            remedy = _("if the display says so, look at the animal now and fetch the veterinarian")
        raise EntryError(first[0], "; ".join(says), remedy, field=first[1], asks=True)


def _unlikely(found: Entered, started_at: datetime, so_far: SoFar) -> Iterator[tuple[str, str, str]]:
    """Code, slot and words of each thing that is possible and yet mostly a slip; of one that spoiled the time alone."""
    if all(abs(found.taken_at - each) > SAME_OCCASION for each in (started_at, *so_far.taken_at)):
        local = timezone.localtime(found.taken_at)
        words = _("{day}, {time} is more than {hours:.0f} hours from the session and all its readings")
        told = {"day": date_format(local, "j F Y"), "time": local.strftime("%H:%M")}
        yield "far-in-time", "taken_at", words.format(hours=SAME_OCCASION.total_seconds() / 3600, **told)
    if found.spoiled:
        return
    yield from _unlikely_pressures(found, so_far)
    rate = found.pulse_rate
    lowest, highest = (limit.value for limit in USUAL_RATE[so_far.species])
    if rate is not None and not lowest <= rate <= highest and so_far.none_outside("pulse_rate", lowest, highest):
        yield "unlikely-rate", "pulse_rate", _("A pulse of {rate:g} is rare in this species").format(rate=rate)
    for name in QUANTITIES:
        value, middle = getattr(found, name), so_far.middle(name)
        if value is None or middle is None:
            continue
        if name == "pulse_rate":
            far = max(value, middle) >= RATE_TIMES.value * min(value, middle)
        else:
            far = abs(value - middle) > FARTHEST_FROM_THE_SERIES.value
        if far:
            words = _("{value:g} is far from the readings so far, whose middle is {middle:g}")
            yield "far-from-the-series", name, words.format(value=value, middle=middle)


def _unlikely_pressures(found: Entered, so_far: SoFar) -> Iterator[tuple[str, str, str]]:
    """What was meant once, as it stands in the series, is not asked about again: an animal may have such a pressure."""
    systolic, mean, diastolic = found.systolic, found.mean, found.diastolic
    if systolic is None:
        return
    lowest, highest = SYSTOLIC_BELOW.value, HIGHEST_USUAL.value
    if not lowest <= systolic <= highest and so_far.none_outside("systolic", lowest, highest):
        very = _("very low") if systolic < lowest else _("rare")
        words = _("A systolic pressure of {mmhg:g} mmHg is {very}").format(mmhg=systolic, very=very)
        yield "unlikely-systolic", "systolic", words
    if diastolic is None:
        return
    upper, lower = so_far.middle("systolic"), so_far.middle("diastolic")
    usual = None if upper is None or lower is None else upper - lower
    narrowest, widest = NARROWEST_PULSE.value, WIDEST_PULSE.value
    pulse = systolic - diastolic
    if not narrowest <= pulse <= widest and (usual is None or narrowest <= usual <= widest):
        words = _("Systolic and diastolic are {mmhg:.0f} mmHg apart").format(mmhg=pulse)
        yield "unlikely-pulse", "diastolic", words
    low, high = (limit.value for limit in MEAN_SHARE)
    if mean is not None and not low <= (mean - diastolic) / pulse <= high:
        words = _("A mean of {mean:g} does not fit {systolic:g} over {diastolic:g}")
        yield "unlikely-mean", "mean", words.format(mean=mean, systolic=systolic, diastolic=diastolic)
