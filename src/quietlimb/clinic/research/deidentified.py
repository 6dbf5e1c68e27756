"""Sessions of a practice as tables that name nobody.

Only numbers, words from fixed lists, and breeds shared by enough animals go out; no text that somebody typed. Keys are
drawn anew for each export and kept nowhere, and rows stand in their order, so that no order of making shows. Days are
counted from an animal's first session.
"""

from __future__ import annotations

import csv
import io
import secrets
import zipfile
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _

from quietlimb.clinic.animals.models import Animal
from quietlimb.clinic.desk.months import day_of, value_of
from quietlimb.clinic.people.models import Practice
from quietlimb.clinic.research.readme import readme
from quietlimb.clinic.sessions.models import Reading, Session
from quietlimb.clinic.sessions.results import values_of
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.units import DAYS_PER_YEAR
from quietlimb.engine.values import Cited

FEWEST_OF_A_BREED: Final = 5  # animals of as many owners; fewer are "other"
OLDEST_TOLD: Final = Cited(15.0, "years", "Quietlimb", "this file", "invented")
MOST_SESSIONS: Final = 20_000
OTHER: Final = "other"
LONG_AGO: Final = (1980, 1, 1, 0, 0, 0)  # the same time for every file of every ZIP

ANIMALS: Final = ("animal", "species", "breed", "sex", "age_years")
SESSIONS: Final = (
    *("session", "animal", "day", "place", "sedation", "tablet", "owner_present", "before_examination"),
    *("acclimatisation_min", "ending", "imported", "signed", "amended", "charted_mmHg", "stands_mmHg"),
)
READINGS: Final = (
    *("session", "series", "number", "minute", "method", "instrument", "site", "side", "position", "cuff_width_cm"),
    *("limb_circumference_cm", "cuff_below_heart_cm", "source", "systolic_mmHg", "mean_mmHg", "diastolic_mmHg"),
    *("pulse_rate_per_min", "spoiled"),
)
Cell = str | float | int | None


class ExportError(QuietlimbError):
    """There is more than one export holds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """How much went out. `alone`: animals that no other shares species, breed, sex and age with."""

    animals: int
    sessions: int
    readings: int
    alone: int


def deidentified(practice: Practice) -> tuple[bytes, Counts]:
    """The ZIP of all ended sessions of a practice, and how much is in it.

    Raises ExportError where there are more sessions than one export holds.
    """
    rows = Session.objects.filter(practice=practice).exclude(ending="").select_related("animal").order_by("started_at")
    if rows.count() > MOST_SESSIONS:
        says = _("There are more than {most:,} sessions").format(most=MOST_SESSIONS)
        raise ExportError("too-many", says, _("an export holds no more yet"))
    sessions = list(
        rows.prefetch_related(
            "signed_values__amendments", "series__readings__recording", "series__instrument", "series__cuff"
        )
    )
    first: dict[Animal, Session] = {}
    for session in sessions:
        first.setdefault(session.animal, session)
    keys: defaultdict[object, str] = defaultdict(lambda: secrets.token_hex(8))
    breeds = _breeds(first)
    animals = [_animal(keys[animal.pk], animal, session, breeds) for animal, session in first.items()]
    told = [_session(keys, session, first[session.animal]) for session in sessions]
    readings = [row for session in sessions for row in _readings(keys, session)]
    alike = Counter(row[1:] for row in animals)
    counts = Counts(
        animals=len(animals),
        sessions=len(told),
        readings=len(readings),
        alone=sum(alike[row[1:]] == 1 for row in animals),
    )
    mark = "invented-" if practice.invented else ""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as folder:
        for name, text in (
            (
                "README.txt",
                readme(counts, fewest=FEWEST_OF_A_BREED, oldest=OLDEST_TOLD.value, invented=practice.invented),
            ),
            ("animals.csv", _table(ANIMALS, animals)),
            ("sessions.csv", _table(SESSIONS, told)),
            ("readings.csv", _table(READINGS, readings)),
        ):
            folder.writestr(zipfile.ZipInfo(mark + name, LONG_AGO), text, zipfile.ZIP_DEFLATED)
    return held.getvalue(), counts


def _breeds(animals: Iterable[Animal]) -> frozenset[tuple[str, str]]:
    """Species and breed, in small letters, of which there are enough animals of enough owners."""
    found: defaultdict[tuple[str, str], set[object]] = defaultdict(set)
    for animal in animals:
        found[_breed(animal)].add(animal.owner_id or animal.pk)
    return frozenset(breed for breed, owners in found.items() if len(owners) >= FEWEST_OF_A_BREED)


def _breed(animal: Animal) -> tuple[str, str]:
    return animal.species, " ".join(animal.breed.casefold().split())


def _animal(key: str, animal: Animal, first: Session, breeds: frozenset[tuple[str, str]]) -> tuple[Cell, ...]:
    species, breed = _breed(animal)
    told = "" if not breed else breed if (species, breed) in breeds and breed[0].isalnum() else OTHER
    days = -1 if animal.born is None else (day_of(first) - animal.born).days
    age = None if days < 0 else min(int(days / DAYS_PER_YEAR), int(OLDEST_TOLD.value))
    return key, species, told, animal.sex, age


def _session(keys: defaultdict[object, str], session: Session, first: Session) -> tuple[Cell, ...]:
    signed = next(iter(session.signed_values.all()), None)
    taken = [row.taken_at for series in session.series.all() for row in series.readings.all() if row.struck_at is None]
    since = session.acclimatised_since
    settled = None if since is None or not taken else (min(taken) - since).total_seconds() / 60.0
    return (
        keys[session.pk],
        keys[session.animal_id],
        (day_of(session) - day_of(first)).days,
        session.place,
        session.sedation,
        session.tablet,
        _yes(session.owner_present),
        _yes(session.before_examination),
        _tenth(settled),
        session.ending,
        _yes(bool(session.imported_id)),
        _yes(signed is not None),
        _yes(signed is not None and bool(signed.amendments.all())),
        None if signed is None else _tenth(signed.charted),
        None if signed is None else _tenth(value_of(signed)),
    )


def _readings(keys: defaultdict[object, str], session: Session) -> Iterable[tuple[Cell, ...]]:
    """The readings that were not struck through, in the order taken; minutes from the first of the session."""
    found = [(row, series) for series in session.series.all() for row in series.readings.all() if row.struck_at is None]
    found.sort(key=lambda pair: (pair[0].taken_at, pair[0].ordinal, pair[0].pk))
    for number, (row, series) in enumerate(found, start=1):
        yield (
            keys[session.pk],
            series.ordinal,
            number,
            _tenth(_minutes(found[0][0], row)),
            series.technique,
            "" if series.instrument_id is None else keys[series.instrument_id],
            series.site,
            series.side,
            series.position,
            None if series.cuff is None else series.cuff.width_cm,
            series.limb_circumference_cm,
            series.cuff_below_heart_cm,
            "typed" if row.recording is None else "recording",
            *map(_tenth, values_of(row)),
            row.spoiled,
        )


def _minutes(first: Reading, row: Reading) -> float:
    return (row.taken_at - first.taken_at).total_seconds() / 60.0


def _tenth(value: float | None) -> float | None:
    return None if value is None else round(value, 1)


def _yes(told: bool | None) -> str:
    return "" if told is None else "yes" if told else "no"


def _table(header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """CSV; by their drawn keys, the readings of a session in the order taken."""
    written = io.StringIO()
    table = csv.writer(written, lineterminator="\n")
    table.writerow(header)
    in_order: list[Sequence[Cell]] = sorted(rows, key=lambda row: str(row[0]))
    table.writerows(in_order)
    return written.getvalue()
