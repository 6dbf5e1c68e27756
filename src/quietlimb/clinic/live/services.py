"""Everything that a live capture writes. Each function tells the journal in its own transaction."""

from __future__ import annotations

import tempfile
import uuid
from datetime import UTC, datetime, timedelta
from pathlib import Path

from django.utils import timezone
from django.utils.translation import gettext as _

from quietlimb.capture.capturing import marked
from quietlimb.capture.keeping import Keeping
from quietlimb.clinic.charting import described
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.live import left
from quietlimb.clinic.live.running import CAPTURES, Order, Saved
from quietlimb.clinic.live.sources import Chosen
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.recordings import services as recordings
from quietlimb.clinic.recordings.files import recording_of
from quietlimb.clinic.sessions import services as sessions
from quietlimb.clinic.sessions.entry import Entered, EntryError
from quietlimb.clinic.sessions.models import Series, SignedValue
from quietlimb.clinic.stores import present, together
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.live.remarks import after_the_end
from quietlimb.engine.values import Cited
from quietlimb.exchange.blood_pressure_service import InstrumentReading
from quietlimb.exchange.recording_csv import write_recording
from quietlimb.words.live import say

APART = Cited(5.0, "mmHg", "practice", "display against manometer", "common practice")
LEAST_COMPARED_MMHG = 20.0  # an empty cuff compares nothing [invented]


def capture_start(by: Person, *, series: Series, source: Chosen) -> Series:
    """Listen to a source for a series; the series into which it goes, for typed readings and recordings are not pooled.

    Raises EntryError where the session has ended, or somebody listens already.
    """
    if not series.session.is_open or SignedValue.objects.filter(session=series.session_id).exists():
        raise EntryError("ended", _("The session has ended"), _("start another one"))
    if source.source.is_waveform:
        with together():
            sessions.lock_unsigned(series.session_id)
            series = fresh(sessions.series_for(by, series, recorded=True).pk)
    if listening_into(series) is not None:
        raise EntryError("listening-here", _("Somebody listens here already"), _("follow it on this page"))
    folder = left.folder_for(series, left.new_name())
    order = Order(
        name=source.name,
        source=source.source,
        circumstances=described(series, None),
        keeping=Keeping(folder),
        store=present(),
        save_recording=lambda path: recording_save(by, series=fresh(series.pk), path=path),
        save_reading=lambda reading, at: reading_save(by, series=fresh(series.pk), reading=reading, taken_at=at),
        # what stands whole in the database need not stand beside it
        finished=lambda whole: left.forget(folder) if whole else None,
    )
    if CAPTURES.start(series.pk, order) is None:
        order.keeping.close()
        left.forget(folder)
        raise EntryError("listening", _("Somebody listens to this already"), _("choose another, or stop it there"))
    return series


def left_recovered(by: Person, *, series: Series, name: str) -> str:
    """Read what a capture had kept when it was cut off; what was not taken as text, empty where all was.

    Recordings that stand in the series already are recognised and not doubled. Raises EntryError for an unknown name.
    """
    if name not in {each.name for each in left.left_of(series, running=listening_into(series))}:
        raise EntryError("nothing-left", _("Nothing is left of this capture"), _("load the page again"))
    folder, told = left.folder_for(series, name), []
    kept = left.kept_in(folder)
    if kept is None:
        raise EntryError("nothing-left", _("Nothing is left of this capture"), _("load the page again"))
    began = datetime.fromtimestamp(kept.first_utc_s, UTC) if kept.first_utc_s is not None else timezone.now()
    with tempfile.TemporaryDirectory(prefix="quietlimb-live-") as made:
        for number, each in enumerate(left.inflations(kept, described(series, None))):
            if each.recording is None:
                told += [say(remark) for remark in after_the_end(each)]
                continue
            path = Path(made) / f"recovered-{number + 1}.csv"
            taken = began + timedelta(seconds=float(each.recording.time_s[0]))
            write_recording(marked(each.recording, kept.header, taken), path)
            told.append(recording_save(by, series=series, path=path).says)
    told += [reading_save(by, series=series, reading=each, taken_at=began).says for each in kept.readings]
    left.forget(folder)
    return " ".join(says for says in told if says)


def air_is_out(series: Series) -> None:
    """Somebody has seen that the cuff is empty, after a capture had ended or was cut off."""
    running = CAPTURES.of(series.pk)
    if running is not None:
        running.air_is_out()
    left.air_is_out(series, running=listening_into(series))


def listening_into(series: Series) -> str | None:
    """The name of the folder into which a capture of this series writes now."""
    running = CAPTURES.of(series.pk)
    return running.name if running is not None and running.is_alive else None


def recording_save(by: Person, *, series: Series, path: Path) -> Saved:
    """One finished inflation as a recording of the series; why not, where it was not taken."""
    content, at = path.read_bytes(), timezone.now()
    try:
        pressure = recording_of(path.name, content, series.session.animal.of_the_engine)
        dropped = recordings.Dropped(
            # the same inflation, read again after a cut, has the same key and is one row
            client_id=uuid.uuid5(series.pk, pressure.fingerprint),
            name=path.name,
            content=content,
            taken_at=at,
        )
        row, _new = recordings.recording_add(by, series=series, dropped=dropped, at=at)
    except QuietlimbError as error:
        return Saved(says=f"{error.says}; {error.remedy}.")
    return Saved(reading=str(row.pk), series=row.series.ordinal)


def reading_save(by: Person, *, series: Series, reading: InstrumentReading, taken_at: datetime) -> Saved:
    """What an instrument measured by itself, as if typed from its display; what has to be asked about is not taken."""
    if not reading.usable:
        return Saved(says=_("The instrument sent a reading that cannot be: type it from its display if it shows one."))
    values = (reading.systolic_mmhg, reading.mean_mmhg, reading.diastolic_mmhg, reading.pulse_rate_per_min)
    systolic, mean, diastolic, rate = (None if value is None else round(value, 1) for value in values)
    typed = Entered(
        client_id=uuid.uuid5(series.pk, f"{reading.octets.hex()} {taken_at.isoformat()}"),
        ordinal=series.readings.count() + 1,
        taken_at=taken_at,
        spoiled="",
        systolic=systolic,
        mean=mean,
        diastolic=diastolic,
        pulse_rate=rate,
    )
    try:
        row, _new = sessions.reading_add(by, series=series, entered=typed, at=timezone.now())
    except QuietlimbError as error:
        return Saved(says=f"{error.says}; {error.remedy}.")
    return Saved(reading=str(row.pk), series=row.series.ordinal)


def manometer_compared(by: Person, *, series: Series, typed: str) -> str:
    """What to say of the manometer's number beside the pressure now; the journal keeps both.

    Raises EntryError where nobody listens, the cuff is empty, or it is no pressure.
    """
    running = CAPTURES.of(series.pk)
    now = None if running is None or not running.is_alive else running.now_mmhg
    if now is None or now < LEAST_COMPARED_MMHG:
        raise EntryError(
            "no-pressure", _("There is no pressure in the cuff now"), _("compare while the cuff holds pressure")
        )
    try:
        shown = float(typed.replace(",", "."))
    except ValueError:
        shown = float("nan")
    if not 0.0 <= shown <= 350.0:
        raise EntryError("no-number", _("This is no pressure"), _("type what the manometer shows, in mmHg"))
    apart = round(now - shown)
    told: dict[str, object] = {"manometer_mmhg": shown, "sensor_mmhg": round(now, 1)}
    with together():
        journal.write(by, "sensor compared with the manometer", series, after=told)
    if abs(apart) <= APART.value:
        return _("Manometer {shown:g}, here {now:.0f}: they agree within 5 mmHg.").format(shown=shown, now=now)
    return _(
        "Manometer {shown:g}, here {now:.0f}: {apart} mmHg apart. Over 5 mmHg one of them is wrong: have both checked "
        "before anything is charted."
    ).format(shown=shown, now=now, apart=abs(apart))


def fresh(series_id: uuid.UUID) -> Series:
    """The series as it is now: the session may have been closed, the animal renamed."""
    return Series.objects.select_related(*Series.FETCHED_WITH).get(pk=series_id)
