"""The invented clinic, filled in as its people would have: through the same functions, so that the journal tells all.

Pressures come from the simulator; their level is the story's. Signed values and journal are as real as anybody's, the
animals are not: the practice is marked invented, and so is every page and print of it.
"""

from __future__ import annotations

import secrets
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from django.utils import timezone

from quietlimb.clinic.animals.models import Animal, Condition, Event, OrganFinding
from quietlimb.clinic.animals.services import animal_add
from quietlimb.clinic.configuration import ConfigurationError
from quietlimb.clinic.demo.checking import GAUGE, STANDARD, bench_tell
from quietlimb.clinic.demo.comparing import comparison_tell
from quietlimb.clinic.demo.stories import STORIES, Story, Visit
from quietlimb.clinic.desk.basis import basis_of, series_to_show
from quietlimb.clinic.desk.signing import value_sign
from quietlimb.clinic.desk.telling import event_add, organs_add
from quietlimb.clinic.equipment.models import Cuff, Gauge, Instrument, Technique
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.people.models import Competence, Person, Practice, Role
from quietlimb.clinic.people.signing_in import person_make
from quietlimb.clinic.recordings import services as recordings
from quietlimb.clinic.sessions import services
from quietlimb.clinic.sessions.entry import Entered
from quietlimb.clinic.sessions.models import Ending, Series, Session
from quietlimb.clinic.stores import together
from quietlimb.exchange.recording_csv import write_recording
from quietlimb.simulator.level_course import DIASTOLIC_SHARE
from quietlimb.simulator.series import SimulatedSeries, simulate_series
from quietlimb.simulator.sessions import simulate_session

PRACTICE = "Practice at the Old Ferry"
SEED = 20
PEOPLE = (
    ("linnet", "Linnet", (Role.NURSE,)),
    ("dunnock", "Dunnock", (Role.NURSE,)),
    ("heron", "Heron", (Role.VETERINARIAN,)),
    ("avocet", "Avocet", (Role.LEAD, Role.VETERINARIAN)),
    ("curlew", "Curlew", (Role.RESEARCHER,)),
)
CUFFS = (("cuff 2.5", 2.5), ("cuff 3", 3.2), ("cuff 4", 4.4), ("cuff 5", 5.2), ("cuff 6", 6.4))
INSTRUMENTS = (
    ("grey box", Technique.OSCILLOMETRIC, ["systolic", "diastolic", "mean", "pulse_rate"]),
    ("crystal", Technique.DOPPLER, ["systolic"]),
)
FIRST_HOUR = 9  # of the practice's day
WORD_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """The people of the invented clinic: name to sign in, name, roles; one password and one short code for all."""

    people: tuple[tuple[str, str, str], ...]
    password: str
    short_code: str


@dataclass(frozen=True, kw_only=True)
class _Clinic:
    practice: Practice
    people: dict[str, Person]
    instruments: dict[str, Instrument]
    cuffs: dict[str, Cuff]
    now: datetime

    def nurse(self, animal: Animal) -> Person:
        """An animal is measured by the same person, so that its sessions can be compared."""
        return self.people["linnet" if len(animal.name) % 2 else "dunnock"]


@together()
def invented_clinic_make(now: datetime) -> Made:
    """Fill an empty database; the password is random and told once, in what is returned.

    Raises ConfigurationError where there is a practice already.
    """
    if Practice.objects.exists():
        raise ConfigurationError("not-empty", "there is a practice in this database", "name an empty data folder")
    password = "-".join("".join(secrets.choice(WORD_LETTERS) for _ in range(4)) for _ in range(3))
    short_code = f"{secrets.randbelow(10_000):04d}"
    practice = Practice.objects.create(
        name=PRACTICE,
        invented=True,
        telephone_day="invented number, by day",
        telephone_night="invented number, by night",
    )
    journal.write(None, "practice set up", practice)
    clinic = _Clinic(
        practice=practice,
        people=_people(practice, password, short_code),
        instruments=dict(_instruments(practice)),
        cuffs=dict(_cuffs(practice)),
        now=now,
    )
    for number, story in enumerate(STORIES, start=1):
        _tell(clinic, story, number)
    bench_tell(clinic.people["dunnock"], clinic.instruments, clinic.cuffs, now)
    comparison_tell(clinic.people["curlew"], now)
    told = tuple((username, name, ", ".join(str(role.label) for role in roles)) for username, name, roles in PEOPLE)
    return Made(people=told, password=password, short_code=short_code)


def _people(practice: Practice, password: str, short_code: str) -> dict[str, Person]:
    made = {
        username: person_make(
            None, practice=practice, name=name, username=username, password=password, roles=list(roles)
        )
        for username, name, roles in PEOPLE
    }
    for person in made.values():
        person.set_short_code(short_code)
        person.save(update_fields=["short_code"])
    today = timezone.localdate()
    for username, sessions in (("linnet", 20), ("dunnock", 6)):
        taught = Competence(
            practice=practice,
            person=made[username],
            subject="cuff choice and reading",
            taught_by=made["heron"],
            observed_sessions=sessions,
            since=today - timedelta(days=400),
            until=today + timedelta(days=330 if username == "linnet" else 20),
        )
        taught.save(force_insert=True)
        journal.write(made["avocet"], "competence added", taught)
    return made


def _instruments(practice: Practice) -> Iterator[tuple[str, Instrument]]:
    gauges = {
        name: Instrument.objects.create(practice=practice, name=name, gauge=gauge, slots=["systolic"])
        for name, gauge in ((GAUGE, Gauge.MANOMETER), (STANDARD, Gauge.REFERENCE))
    }
    for name, row in gauges.items():
        journal.write(None, "instrument added", row)
        yield name, row
    for name, technique, slots in INSTRUMENTS:
        read_on = gauges[GAUGE] if technique == Technique.DOPPLER else None
        row = Instrument.objects.create(practice=practice, name=name, technique=technique, slots=slots, read_on=read_on)
        journal.write(None, "instrument added", row)
        yield name, row


def _cuffs(practice: Practice) -> Iterator[tuple[str, Cuff]]:
    for name, width in CUFFS:
        row = Cuff.objects.create(practice=practice, name=name, width_cm=width)
        journal.write(None, "cuff added", row)
        yield name, row


def _tell(clinic: _Clinic, story: Story, number: int) -> None:
    """One animal, its visits and events in the order of their days."""
    today = timezone.localdate(clinic.now)
    lead = clinic.people["avocet"]
    animal = animal_add(
        lead,
        animal=Animal(
            name=story.name,
            species=story.species,
            breed=story.breed,
            colour=story.colour,
            sex=story.sex,
            remarks=story.remarks,
            born=today - timedelta(days=round(365.25 * story.years)),
            link_id=f"F-{100 + number}",
        ),
        owner_name=story.owner,
    )
    for code in story.illnesses:
        row = Condition(practice=clinic.practice, animal=animal, kind=Condition.Kind.ILLNESS, code=code)
        row.since = today - timedelta(days=720)
        row.save(force_insert=True)
        journal.write(lead, "condition added", row)
    steps: list[tuple[int, Visit | str]] = [(visit.days_ago, visit) for visit in story.visits]
    steps += list(story.events.items())
    for k, (days_ago, step) in enumerate(sorted(steps, key=lambda each: -each[0])):
        if isinstance(step, Visit):
            _measure(clinic, animal, step, seed=SEED * 10_000 + 100 * number + k)
        else:
            event = Event(
                on=today - timedelta(days=days_ago), kind=step, prescription="as written in the practice's record"
            )
            event_add(clinic.people["heron"], animal=animal, event=event)


def _measure(clinic: _Clinic, animal: Animal, visit: Visit, *, seed: int) -> None:
    """One visit: session, series, readings, the end, organs, the signature."""
    nurse, at = clinic.nurse(animal), _moment(clinic, visit)
    settled = None if visit.settled_min is None else at - timedelta(minutes=visit.settled_min)
    session = services.session_start(
        nurse,
        session=Session(
            animal=animal, place=visit.place, sedation="awake", remarks=visit.remarks, acclimatised_since=settled
        ),
        series=Series(
            technique=clinic.instruments[visit.instrument].technique,
            instrument=clinic.instruments[visit.instrument],
            cuff=clinic.cuffs[visit.cuff],
            site=visit.site,
            side=visit.side,
            position=visit.position,
            limb_circumference_cm=visit.limb_cm,
            planned_readings=max(visit.readings, 5),
        ),
        at=at,
    )
    series = session.series.get()
    last = (_record if visit.recorded else _type)(nurse, series, visit, seed, at)
    if not visit.ending:
        return
    session.signs, session.cuff_cleaned = visit.signs, True
    session.demeanour_at_end = "calm" if visit.ending == "closed" else "upset"
    services.session_end(nurse, session=session, ending=Ending(visit.ending), at=last + timedelta(minutes=2))
    _examine(clinic, animal, visit, at=last + timedelta(minutes=8))
    if visit.signed:
        _sign(clinic, session, at=last + timedelta(minutes=20))


def _moment(clinic: _Clinic, visit: Visit) -> datetime:
    """When a visit began: in the morning of its day, or a while ago where it is today's."""
    if visit.days_ago == 0:
        return clinic.now - timedelta(minutes=25 if visit.ending else 8)
    morning = timezone.localtime(clinic.now).replace(hour=FIRST_HOUR, minute=0, second=0, microsecond=0)
    return morning + timedelta(minutes=(visit.days_ago * 37) % 420) - timedelta(days=visit.days_ago)


def _type(nurse: Person, series: Series, visit: Visit, seed: int, at: datetime) -> datetime:
    """Readings as somebody typed them from a display; when the last was taken."""
    if visit.readings == 0:
        return at
    made = simulate_series(
        seed,
        species=series.session.animal.of_the_engine,
        kind=visit.kind,
        readings=visit.readings,
        noise_sd_mmhg=4.5,
    )
    moved = visit.systolic + visit.reads_off - made.truth.systolic
    last = at
    for k, minute in enumerate(made.minute.tolist(), start=1):
        last = at + timedelta(minutes=1 + minute)
        spoiled = k in visit.spoiled
        systolic, mean, diastolic, rate = _shown(made, k - 1, moved + (31.0 if spoiled else 0.0))
        by_ear = series.technique == Technique.DOPPLER
        entered = Entered(
            client_id=uuid.UUID(int=int(np.random.default_rng(seed * 100 + k).integers(2**62)), version=4),
            ordinal=k,
            taken_at=last,
            spoiled="moved" if spoiled else "",
            systolic=systolic,
            mean=None if by_ear else mean,
            diastolic=None if by_ear else diastolic,
            pulse_rate=None if by_ear else rate,
        )
        services.reading_add(nurse, series=series, entered=entered, at=last)
    return last


def _shown(made: SimulatedSeries, k: int, moved: float) -> tuple[float, float, float, float]:
    """Systolic, mean, diastolic pressure [mmHg] and pulse rate [/min] on the display."""
    systolic = round(float(made.systolic[k]) + moved)
    diastolic = round(min(float(made.diastolic[k]) + DIASTOLIC_SHARE * moved, systolic - 18.0))
    share = float((made.mean[k] - made.diastolic[k]) / (made.systolic[k] - made.diastolic[k]))
    mean = round(diastolic + share * (systolic - diastolic))
    return float(systolic), float(mean), float(diastolic), float(made.pulse_rate[k])


def _record(nurse: Person, series: Series, visit: Visit, seed: int, at: datetime) -> datetime:
    """Recordings as they would be dropped at the table; when the last was taken."""
    made = simulate_session(
        seed,
        species=series.session.animal.of_the_engine,
        readings=visit.readings,
        course="falling" if visit.kind == "fast-fall" else "level",
        scenario=visit.recorded,
        between_sd_mmhg=4.0,
        peak_height_mmhg=1.0,
        systolic=visit.systolic,
        diastolic=visit.systolic - 52.0,
    )
    last = at
    with TemporaryDirectory(prefix="quietlimb-demo-") as folder:
        for k, (each, minute) in enumerate(zip(made.recordings, made.minute.tolist(), strict=True), start=1):
            path = Path(folder) / f"{series.session.animal.name.lower()}-{k}.csv"
            write_recording(each.recording, path)
            last = at + timedelta(minutes=1 + minute)
            dropped = recordings.Dropped(
                client_id=uuid.UUID(int=int(np.random.default_rng(seed * 100 + k).integers(2**62)), version=4),
                name=path.name,
                content=path.read_bytes(),
                taken_at=last,
            )
            recordings.recording_add(nurse, series=series, dropped=dropped, at=last)
    return last


def _examine(clinic: _Clinic, animal: Animal, visit: Visit, *, at: datetime) -> None:
    found = []
    if visit.eyes:
        found += [
            OrganFinding(
                organ="eyes", side=side, state=visit.eyes, method="indirect ophthalmoscope", dilated=True, view="whole"
            )
            for side in ("left", "right")
        ]
    if visit.kidneys:
        found.append(OrganFinding(organ="kidneys", state=visit.kidneys, method="blood and urine"))
    if found:
        organs_add(clinic.people["heron"], animal=animal, on=timezone.localdate(at), findings=found, at=at)


def _sign(clinic: _Clinic, session: Session, *, at: datetime) -> None:
    """The veterinarian accepts what was charted."""
    session = Session.objects.get(pk=session.pk)
    series = series_to_show(session)
    basis = basis_of(session, series)
    value_sign(
        clinic.people["heron"],
        session=session,
        series=series,
        looked_at=basis.digest,
        chosen=basis.systolic_mmhg,
        reason="",
        at=at,
    )
