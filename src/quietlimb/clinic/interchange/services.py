"""Taking in what was looked at. Nothing imported is ever signed by it."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta

from quietlimb.clinic.animals.models import Animal
from quietlimb.clinic.desk.rechecks import recheck_renew
from quietlimb.clinic.interchange.incoming import Plan, Planned, plan, spoiled
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.people.models import Person, Practice
from quietlimb.clinic.sessions.models import Ending, Reading, Series, Session
from quietlimb.clinic.stores import together


def sessions_import(
    by: Person, *, animal: Animal, content: bytes, looked_at: str, file_name: str, at: datetime
) -> tuple[Plan, bool]:
    """Import all that the plan takes: the plan, and whether it was the one that was looked at; else nothing is done.

    Each session is one transaction, so that nobody at the table waits for all of them. Broken off in the middle, the
    rest is done by importing the same file again: what is here already is not taken twice.

    Raises BundleError as `plan` does.
    """
    found = plan(animal, content, now=at)
    if found.fingerprint != looked_at:
        return found, False
    for each in found.taken:
        _import(by, animal, each, file_name, at)
    return found, True


@together()
def _import(by: Person, animal: Animal, planned: Planned, file_name: str, at: datetime) -> None:
    Practice.objects.select_for_update().get(pk=animal.practice_id)  # of two at once the second sees what is here
    if Session.objects.filter(practice=animal.practice_id, imported_id=planned.imported_id).exists():
        return
    told, around = planned.told, planned.told.circumstances
    first = planned.series[0][0]
    last = max(row.taken_at for rows in planned.series for row in rows)
    settled = first.circumstances.acclimatisation_min
    session = Session(
        practice_id=animal.practice_id,
        animal=animal,
        started_at=told.started_at,
        started_by=by,
        acclimatised_since=None if settled is None else first.taken_at - timedelta(minutes=settled),
        place=around.place or "",
        sedation=around.sedation or "",
        held_by=(around.held_by or "")[:120],
        remarks=(around.remarks or "")[:400],
        ending=Ending.CLOSED,
        ended_at=told.ended_at or last,
        ended_by=by,
        imported_id=planned.imported_id,
        imported_from="\n".join([f"{file_name}, {at:%Y-%m-%d}, {by.name}", *planned.lines]),
    )
    session.save(force_insert=True)
    journal.write(by, "session imported", session, why=f"import of {file_name}")
    ordinal = 0
    for n, rows in enumerate(planned.series, start=1):
        alike = rows[0].circumstances
        series = Series(
            practice_id=animal.practice_id,
            session=session,
            ordinal=n,
            technique=alike.method,
            site=alike.site or "",
            side=alike.side or "",
            position=alike.position or "",
            limb_circumference_cm=alike.limb_circumference_cm,
            cuff_below_heart_cm=alike.cuff_below_heart_cm,
            planned_readings=animal.practice.planned_readings,
        )
        series.save(force_insert=True)
        journal.write(by, "series imported", series)
        for row in rows:
            ordinal += 1
            reading = Reading(
                practice_id=animal.practice_id,
                series=series,
                client_id=uuid.uuid5(animal.practice_id, f"{planned.imported_id} {ordinal}"),
                ordinal=ordinal,
                taken_at=row.taken_at,
                saved_at=at,
                saved_by=by,
                systolic=row.systolic,
                mean=row.mean,
                diastolic=row.diastolic,
                pulse_rate=row.pulse_rate,
                spoiled=spoiled(row),
            )
            reading.save(force_insert=True)
            journal.write(by, "reading imported", reading)
    recheck_renew(by, animal=animal)
