"""Everything that writes a recording. Each function tells the journal in its own transaction."""

from __future__ import annotations

import hashlib
import uuid
from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone
from django.utils.translation import gettext as _

from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.recordings.files import recording_of
from quietlimb.clinic.sessions import services
from quietlimb.clinic.sessions.entry import EntryError, possible_moment
from quietlimb.clinic.sessions.models import Reading, Recording, Series
from quietlimb.clinic.sessions.results import result_object
from quietlimb.clinic.stores import together
from quietlimb.engine.reading import read
from quietlimb.engine.recording import Recording as RecordedPressure
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.figures.invented import is_invented


@dataclass(frozen=True, slots=True, kw_only=True)
class Dropped:
    """A recording as it came: its key made in the browser, name and bytes to keep, and when it was taken if no more
    is told in it."""

    client_id: uuid.UUID
    name: str
    content: bytes
    taken_at: datetime


def recording_add(by: Person, *, series: Series, dropped: Dropped, at: datetime) -> tuple[Reading, bool]:
    """Read a recording and save it with its result as a reading; the row, and whether it is new.

    It goes into the series that was meant, or into a new one like it where that holds typed readings or is by Doppler:
    series of another origin are never pooled. What cannot be read is not kept.

    Raises FileError for a file that cannot be read, EntryError where the recording is invented and the practice is not,
    stands in another session, the session is signed, or the key belongs to another reading.
    """
    known = _known(by, series, dropped)
    if known is not None:
        return known, False
    animal = series.session.animal
    pressure = recording_of(dropped.name, dropped.content, animal.of_the_engine)
    if is_invented(pressure.circumstances) and not series.practice.invented:
        raise EntryError(
            "invented", _("This recording is invented, not a patient's"), _("it has no place in a patient's record")
        )
    taken_at = _taken_at(pressure, series, dropped.taken_at, at)
    result = result_object(read(pressure))
    sha256 = hashlib.sha256(dropped.content).hexdigest()
    with together():
        session = services.lock_unsigned(series.session_id)
        known = _known(by, series, dropped)  # it may have come twice at once
        if known is not None:
            return known, False
        standing = Reading.objects.filter(practice=by.practice_id, recording__sha256=sha256, struck_at=None).first()
        if standing is not None:
            return _again(standing, series), False
        kept, is_new = Recording.objects.get_or_create(
            practice_id=by.practice_id,
            sha256=sha256,
            defaults={"name": dropped.name, "content": dropped.content, "results": {ENGINE_VERSION: result}},
        )
        if is_new:
            told: dict[str, object] = {"sha256": sha256, "name": kept.name, "results": [ENGINE_VERSION]}
            journal.write(by, "recording kept", kept, after=told)
        meant = services.series_for(by, series, recorded=True)
        row = Reading(
            practice_id=by.practice_id,
            series=meant,
            client_id=dropped.client_id,
            ordinal=meant.readings.count() + 1,
            taken_at=taken_at,
            saved_at=at,
            saved_by=by,
            recording=kept,
        )
        row.save(force_insert=True)
        journal.write(by, "reading added", row)
        services.after_the_end(by, session)
        return row, True


def read_again(by: Person, *, recording: Recording) -> bool:
    """Read a kept recording with this engine, beside what earlier ones made of it; False where it has already.

    Raises FileError where the bytes cannot be read any more.
    """
    animal = recording.readings.select_related("series__session__animal").earliest("saved_at").series.session.animal
    result = result_object(read(recording_of(recording.name, bytes(recording.content), animal.of_the_engine)))
    with together():
        stored = Recording.objects.select_for_update().get(pk=recording.pk)
        if ENGINE_VERSION in stored.results:
            return False
        before: dict[str, object] = {"results": sorted(stored.results)}
        stored.results = {**stored.results, ENGINE_VERSION: result}
        stored.save(update_fields=["results"])
        journal.write(by, "recording read again", stored, before=before, after={"results": sorted(stored.results)})
    return True


def _known(by: Person, series: Series, dropped: Dropped) -> Reading | None:
    """The row with the key of what was dropped; a key of a typed reading, another session or practice is refused."""
    known = Reading.objects.select_related("series").filter(client_id=dropped.client_id).first()
    if known is None:
        return None
    here = known.practice_id == by.practice_id and known.series.session_id == series.session_id
    if not here or known.recording_id is None:
        raise EntryError("key-taken", _("This key belongs to another reading"), _("drop the recording again"))
    return known


def _taken_at(pressure: RecordedPressure, series: Series, otherwise: datetime, now: datetime) -> datetime:
    """When the recording says that it began, by the practice's clock where it tells no offset; else what the browser
    says of the file."""
    told = pressure.circumstances.started_at
    if told is None:
        moment = otherwise
    else:
        moment = datetime.fromisoformat(told)
        moment = moment if moment.tzinfo else moment.replace(tzinfo=timezone.get_current_timezone())
    return possible_moment(moment, started_at=series.session.started_at, now=now)


def _again(standing: Reading, series: Series) -> Reading:
    """The reading of the same bytes, where it stands in this session; in another one it is a mistake."""
    if standing.series.session_id != series.session_id:
        raise EntryError(
            "kept-elsewhere",
            _("This recording stands in another session, of {animal}").format(animal=standing.series.session.animal),
            _("strike it through there first, if that was the mistake"),
        )
    return standing
