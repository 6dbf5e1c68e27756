"""What importing a bundle for an animal would do: a look, before anything is written."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import QuerySet
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from quietlimb.clinic.animals.models import Animal
from quietlimb.clinic.canonical import digest
from quietlimb.clinic.sessions.entry import FUTURE, LONGEST
from quietlimb.clinic.sessions.models import Session, Spoiled
from quietlimb.exchange.errors import BundleError
from quietlimb.exchange.fhir_codes import INVENTED_NAME
from quietlimb.exchange.fhir_reading import ReadBundle, read_bundle
from quietlimb.exchange.fhir_sessions import BundleReading, BundleSession

MOST_BYTES = 1_900_000  # what a form may carry, see `size_limit`


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """One session of the bundle.

    imported_id : of what was measured, whatever was signed or amended of it
    series      : its readings, without those struck through, by the series that they would stand in
    refused     : why it is not taken, and what to do; empty where it is
    beside      : another session of the animal on this day
    """

    told: BundleSession
    imported_id: str
    series: tuple[tuple[BundleReading, ...], ...]
    refused: str
    beside: bool

    @property
    def readings(self) -> int:
        """How many it has."""
        return sum(map(len, self.series))

    @property
    def systolic(self) -> str:
        """Lowest to highest pressure that counts, as text."""
        found = [row.systolic for rows in self.series for row in rows if row.systolic is not None and not row.set_aside]
        if not found:
            return ""
        low, high = f"{min(found):.0f}", f"{max(found):.0f}"
        return low if low == high else f"{low} - {high}"

    @property
    def lines(self) -> list[str]:
        """What the session keeps of where it comes from."""
        every = [row.circumstances for rows in self.series for row in rows]
        cuffs = [
            _("{cuff}, {width:g} cm").format(cuff=each.cuff or _("cuff"), width=each.cuff_width_cm)
            if each.cuff_width_cm is not None
            else each.cuff
            for each in every
        ]
        told = [
            (_("Instrument there"), _each_once(each.instrument for each in every)),
            (_("Cuff there"), _each_once(cuffs)),
            (_("Read by"), _each_once(each.read_by for each in every)),
        ]
        found = [f"{name}: {what}" for name, what in told if what]
        value = self.told.value
        if value is not None:
            pressure = _("no value") if value.systolic is None else f"{value.systolic:g} mmHg"
            found.append(
                _("Signed there: {pressure}, by {by}, {at}; here nobody has signed it").format(
                    pressure=pressure, by=value.signed.by, at=date_format(timezone.localtime(value.signed.at), "j F Y")
                )
            )
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """All sessions of a bundle, and in what its animal is another than the one here: name of the field, there, here."""

    read: ReadBundle
    sessions: tuple[Planned, ...]
    differs: tuple[tuple[str, str, str], ...]

    @property
    def taken(self) -> tuple[Planned, ...]:
        """Those that would be imported."""
        return tuple(each for each in self.sessions if not each.refused)

    @property
    def fingerprint(self) -> str:
        """Of what would be done: where it has changed since somebody looked, it is another."""
        return digest([[each.imported_id, each.refused, each.beside] for each in self.sessions])


def plan(animal: Animal, content: bytes, *, now: datetime) -> Plan:
    """What importing these bytes for this animal would do. Raises BundleError where they cannot be read, are of
    another species, or are invented and the practice is not.
    """
    read = read_bundle(content, species=animal.species)  # type: ignore[arg-type]  # the column's choices
    if read.invented and not animal.practice.invented:
        raise BundleError(
            "invented", _("this bundle is marked as test data, of no patient"), _("choose the bundle of a patient")
        )
    days = frozenset(timezone.localtime(each).date() for each in animal.sessions.values_list("started_at", flat=True))
    here = _Here(
        days=days,
        keys=frozenset(map(str, _rows(animal).values_list("pk", flat=True))),
        imported=frozenset(_rows(animal).exclude(imported_id="").values_list("imported_id", flat=True)),
    )
    return Plan(
        read=read,
        sessions=tuple(_planned(animal, each, here, now) for each in read.sessions),
        differs=tuple(_differs(animal, read)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Here:
    """What is here: days of the animal's sessions; keys of all sessions of the practice, and of what was imported."""

    days: frozenset[date]
    keys: frozenset[str]
    imported: frozenset[str]


def _rows(animal: Animal) -> QuerySet[Session]:
    return Session.objects.filter(practice=animal.practice_id)


def _planned(animal: Animal, told: BundleSession, here: _Here, now: datetime) -> Planned:
    rows = [row for row in told.readings if not row.struck]
    found = digest(
        [told.key, told.started_at, [[row.taken_at, row.systolic, row.mean, row.diastolic] for row in told.readings]]
    )
    return Planned(
        told=told,
        imported_id=found,
        series=tuple(_series(rows)),
        refused=_why_not(animal, told, rows, now, is_here=found in here.imported or told.key in here.keys),
        beside=timezone.localtime(told.started_at).date() in here.days,
    )


def _why_not(
    animal: Animal, told: BundleSession, rows: Sequence[BundleReading], now: datetime, *, is_here: bool
) -> str:
    if is_here:
        return _("It is here already.")
    if not rows:
        return _("It holds no reading that stands.")
    times = [told.started_at, *(row.taken_at for row in rows), *filter(None, [told.ended_at])]
    if max(times) > now + FUTURE:
        return _("Its time has not come yet; look at the clock of the system that it comes from.")
    if max(times) - min(times) > LONGEST:
        return _("It lasts longer than a day; export it as several sessions.")
    if told.ended_at is not None and told.ended_at < told.started_at:
        return _("It ends before it starts; correct it in the system that it comes from.")
    if animal.born is not None and timezone.localtime(min(times)).date() < animal.born:
        return _("It was before the animal was born; is this its bundle?")
    return ""


def _series(rows: Iterable[BundleReading]) -> Iterable[tuple[BundleReading, ...]]:
    """Readings under the same circumstances, in the order of the first of each."""
    found: dict[object, list[BundleReading]] = {}
    for row in rows:
        around = row.circumstances
        alike = (row.series, around.method, around.instrument, around.site, around.side, around.position)
        cuff = (around.cuff, around.cuff_width_cm, around.limb_circumference_cm, around.cuff_below_heart_cm)
        found.setdefault((alike, cuff), []).append(row)
    return map(tuple, found.values())


def spoiled(row: BundleReading) -> str:
    """The reason in our words; another one is another reason."""
    if not row.set_aside:
        return ""
    return row.set_aside if row.set_aside in Spoiled.values else Spoiled.OTHER


def _differs(animal: Animal, read: ReadBundle) -> Iterable[tuple[str, str, str]]:
    there = read.animal
    name = (there.name or "").removeprefix(INVENTED_NAME)
    born = (there.born.isoformat() if there.born else "", animal.born.isoformat() if animal.born else "")
    for field, said, known in (
        (_("name"), name, animal.name),
        (_("number"), there.number or "", animal.link_id),
        (_("born"), *born),
        (_("breed"), there.breed or "", animal.breed),
        (_("sex"), there.sex or "", animal.sex),
    ):
        if said and known and said.casefold() != known.casefold():
            yield field, said, known


def _each_once(texts: Iterable[str | None]) -> str:
    return ", ".join(dict.fromkeys(filter(None, texts)))
