"""An animal over months in the engine's vocabulary: its sessions as signed, or as charted where nobody has signed."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import replace
from datetime import date
from typing import Any, Literal

from django.utils import timezone

from quietlimb.clinic.animals.models import Animal, Event
from quietlimb.clinic.charting import Organs
from quietlimb.clinic.pressures import as_chosen, mmhg
from quietlimb.clinic.sessions.models import Ending, Session, SignedValue
from quietlimb.clinic.sessions.selectors import ORGANS_COUNT_AFTER_DAYS, organs_known, pressures_of, told_of
from quietlimb.engine.circumstances import Circumstances, Species
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.follow_up.earlier_sessions import is_moved, sessions_up_to
from quietlimb.engine.follow_up.history import History, PastSession, TreatmentEvent, TreatmentStep, usual_own_sd
from quietlimb.engine.interpretation.background import OLDEST_YEARS, Background, EarlierSession
from quietlimb.engine.interpretation.interpretation import OrganDamage
from quietlimb.engine.interpretation.organs import organ_checks, organ_damage
from quietlimb.engine.interpretation.urgency import need
from quietlimb.engine.standards.causes import CONDITIONS, DRUG_CLASSES
from quietlimb.engine.units import DAYS_PER_YEAR

# A missed tablet is told on the page; to the engine it is neither a beginning nor an end.
STEPS: dict[str, TreatmentStep] = {
    Event.Kind.STARTED: "begun",
    Event.Kind.INCREASED: "changed",
    Event.Kind.DECREASED: "changed",
    Event.Kind.STOPPED: "stopped",
}


def day_of(session: Session) -> date:
    """The day of a session, by the clock of the practice."""
    return timezone.localtime(session.started_at).date()


def value_of(signed: SignedValue) -> float | None:
    """The systolic pressure that stands: as signed, or by the latest amendment that changes it. [mmHg]"""
    stands = signed.chosen
    for amendment in signed.amendments.all():
        stands = None if amendment.withdrawn else stands if amendment.chosen is None else amendment.chosen
    return stands


def shown_of(signed: SignedValue, rules: str, species: Species) -> str:
    """The pressure that stands, as text: as it was shown when it was charted, or as somebody typed it; empty where none
    stands."""
    value = value_of(signed)
    if value is None:
        return ""
    return (mmhg if value == signed.charted else as_chosen)(value, rules=rules, species=species)


def history_of(animal: Animal, *, before: Session | None = None) -> History:
    """Ended sessions with a pressure, and treatment events.

    before : only the sessions that started before this one
    """
    sessions = animal.sessions.exclude(ending="").select_related("animal", "practice", "read_by")
    if before is not None:
        sessions = sessions.filter(started_at__lt=before.started_at).exclude(pk=before.pk)
    rows = sessions.prefetch_related(
        "signed_values__amendments", "series__readings__recording", "series__instrument", "series__cuff"
    )
    past = sorted(filter(None, (_past(row) for row in rows)), key=lambda each: each.day)
    # told twice, or stepped up and down on one day: to the engine one change
    events = dict.fromkeys(
        TreatmentEvent(day=event.on.toordinal(), step=STEPS[event.kind])
        for event in animal.events.all()
        if event.kind in STEPS
    )
    return History(
        species=animal.species,  # type: ignore[arg-type]  # the choices of the column are the engine's words
        animal=f"invented: {animal.name}" if animal.practice.invented else animal.name,
        sessions=tuple(past),
        events=tuple(sorted(events, key=lambda event: event.day)),
        organ_damage=_damage(animal, date.fromordinal(past[-1].day) if past else timezone.localdate()),
        at_risk=bool(codes(animal, "illness", timezone.localdate())),
        born_day=animal.born.toordinal() if animal.born else None,
    )


def _damage(animal: Animal, last: date) -> OrganDamage:
    """By what counts for the last session and all that was seen since: damage is not forgotten because nobody came."""
    since = max(0, (timezone.localdate() - last).days)
    return organ_damage(organ_checks(organs_known(animal, last, after_days=since)))


def _past(session: Session) -> PastSession | None:
    day = day_of(session).toordinal()
    for signed in session.signed_values.all():
        value = value_of(signed)
        frozen = json.loads(signed.frozen)
        if value is None:
            return None
        if frozen["series"] is None:
            around, own_sd = Circumstances(species=session.animal.species), None  # type: ignore[arg-type]
        else:
            around, own_sd = Circumstances(**frozen["series"]["circumstances"]), frozen["own_sd_mmhg"]
        sd = own_sd or usual_own_sd(around, None)
        return PastSession(day=day, systolic_mmhg=value, own_sd_mmhg=sd, circumstances=around)
    if session.ending == Ending.NO_VALID_VALUE:
        return None
    found = []
    for series in session.series.all():
        series.session = session
        with suppress(QuietlimbError):  # its own page tells why it cannot be charted
            answer = told_of(series)
            if answer is not None and answer.charted.systolic is not None:
                found.append(answer.charted)
    if not found:
        return None
    charted = max(found, key=lambda each: need(*pressures_of(each)))
    assert charted.systolic is not None
    around = charted.series.circumstances
    own_sd = charted.systolic.own_sd or usual_own_sd(around, len(charted.readings))
    return PastSession(
        day=day,
        systolic_mmhg=charted.systolic.value,
        own_sd_mmhg=own_sd,
        readings=len(charted.readings),
        circumstances=around,
    )


def codes(animal: Animal, kind: Literal["illness", "drug class"], on: date) -> tuple[str, ...]:
    """The engine's codes of what stood in the record on a day."""
    known = CONDITIONS if kind == "illness" else DRUG_CLASSES
    rows = [row for row in animal.conditions.all() if row.kind == kind and row.code in known]
    there = [row for row in rows if (row.since or on) <= on <= (row.until or on)]
    return tuple(sorted({row.code for row in there}))


def organs_of(session: Session) -> Organs:
    """What is known of the organs for a session: also what was seen only in the days after it."""
    return organs_known(session.animal, day_of(session), after_days=ORGANS_COUNT_AFTER_DAYS)


def background_of(session: Session, history: History) -> Background:
    """What is known of the animal on the day of a session; nothing in the record is not told, never none.

    history : up to this session, those that began before it on its day included
    """
    animal, on = session.animal, day_of(session)
    day = on.toordinal()
    earlier = sessions_up_to(history, day)
    last = max((session.day for session in history.sessions if session.day < day), default=0)
    return Background(
        breed=animal.breed or None,
        conditions=codes(animal, "illness", on) or None,  # type: ignore[arg-type]
        drugs=codes(animal, "drug class", on) or None,  # type: ignore[arg-type]
        treated=history.before(day - 1).treated,
        treatment_moved=is_moved(history.events, last, day),
        age_years=_age(animal, on),
        history=tuple(_with_organs(animal, each, on) for each in earlier),
    )


def _age(animal: Animal, on: date) -> float | None:
    """Years, where the day of birth in the record is a possible one."""
    if animal.born is None:
        return None
    years = (on - animal.born).days / DAYS_PER_YEAR
    return years if 0.0 <= years <= OLDEST_YEARS else None


def _with_organs(animal: Animal, each: EarlierSession, on: date) -> EarlierSession:
    then = date.fromordinal(on.toordinal() - int(each.days_ago))
    after = min(int(each.days_ago), ORGANS_COUNT_AFTER_DAYS)
    seen: dict[Any, Any] = dict(organs_known(animal, then, after_days=after))
    return replace(each, organs=seen) if seen else each
