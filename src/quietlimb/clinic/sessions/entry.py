"""What a browser sends of one reading, checked at the edge: the impossible is refused, the unlikely is asked about."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _

from quietlimb.clinic.equipment.models import Technique
from quietlimb.clinic.sessions.models import Spoiled
from quietlimb.engine.errors import QuietlimbError
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


class EntryError(QuietlimbError):
    """These numbers cannot be saved. `field` is the slot to look at; `asks` says that they can when one is sure."""

    def __init__(self, code: str, says: str, remedy: str, *, field: str = "", asks: bool = False) -> None:
        super().__init__(code, says, remedy)
        self.field, self.asks = field, asks


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


def entered(sent: object, *, technique: str, started_at: datetime, now: datetime) -> Entered:
    """The reading in a JSON object.

    technique  : of the series; by Doppler there is a systolic pressure and nothing else
    started_at : of the session
    now        : by the clock of this machine

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
        _ask_about_unlikely(found)
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


def _ask_about_unlikely(found: Entered) -> None:
    if found.systolic is None or found.diastolic is None:
        return
    pulse = found.systolic - found.diastolic
    if not NARROWEST_PULSE.value <= pulse <= WIDEST_PULSE.value:
        raise EntryError(
            "unlikely-pulse",
            _("Systolic and diastolic are {mmhg:.0f} mmHg apart").format(mmhg=pulse),
            _("is that what the display says?"),
            field="diastolic",
            asks=True,
        )
