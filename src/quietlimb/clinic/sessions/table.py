"""The part of the table page that changes with every reading: what stands there, and the one sentence."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from quietlimb.clinic.charting import Told, places_in_the_series
from quietlimb.clinic.equipment.models import Technique
from quietlimb.clinic.pressures import guideline_in_kpa, kpa, kpa_with_interval
from quietlimb.clinic.sessions.models import LateReading, Reading, Series, Session
from quietlimb.clinic.sessions.picture import Picture, picture
from quietlimb.clinic.sessions.resting import stop_for_today
from quietlimb.clinic.sessions.results import values_of
from quietlimb.clinic.sessions.selectors import organs_known, told_of
from quietlimb.clinic.sessions.settling import early_line
from quietlimb.clinic.sessions.standing import Standing, standing_of
from quietlimb.clinic.teaching.selectors import fast_since
from quietlimb.engine.errors import QuietlimbError
from quietlimb.reports.phrases import digits_of, guideline_line, with_interval
from quietlimb.words import advice as advice_words
from quietlimb.words.enough import enough_sentences

# Advice that goes before everything else, whatever the number of readings.
AT_ONCE = ("emergency-of-eyes-or-brain", "look-at-the-animal-and-call")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sentence:
    """What next and why, in one sentence; at_once where it cannot wait."""

    words: str
    at_once: bool = False


# A recording's file tells its beginning in whole seconds, and holds a second of quiet before the inflation.
FILE_S = 2.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the list of readings.

    number : in the series; None where it was struck through and is none of it
    values : systolic, mean, diastolic [mmHg] and pulse rate [/min]; None where there is none
    why    : what speaks against it, besides the reason given when it was taken
    minute : whole minutes since a training animal in fast time came in, whose hours move; None for any other
    """

    number: int | None
    reading: Reading
    values: tuple[float | None, ...]
    why: str
    minute: int | None = None

    @property
    def cells(self) -> list[tuple[float | None, str]]:
        """Each value with the same in kPa as text, which is empty for the pulse rate."""
        *pressures, rate = self.values
        return [*((each, "" if each is None else kpa(each)) for each in pressures), (rate, "")]

    @property
    def another_day(self) -> bool:
        """Whether it was taken on another day than the session began, by the practice's clock."""
        began = self.reading.series.session.started_at
        return timezone.localdate(self.reading.taken_at) != timezone.localdate(began)

    @property
    def decimals(self) -> str:
        """For the template: as typed; of a recording whole numbers, for its interval is wider by far."""
        return "0" if self.reading.recording_id else "-1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """What the part shows.

    sentence : None where it takes longer than a reading may wait to be seen as saved: the page then asks for it
    hidden   : charted pressure and lines are kept back until the planned count is reached
    early    : a note where the first reading came before the time to settle was over; else empty
    standing : how the session stands; without words while it is open
    counted  : how many readings count, of those planned
    late     : readings that came once the session was signed, which stand beside it
    """

    series: Series
    readings: tuple[Row, ...]
    sentence: Sentence | None
    charted: str
    charted_kpa: str
    guideline: str
    guideline_kpa: str
    picture: Picture | None
    hidden: bool
    early: str
    standing: Standing
    counted: int
    late: tuple[LateReading, ...]


def table_of(series: Series) -> Table:
    """The part of the page for one series."""
    readings, answer, trouble = _asked(series)
    hidden = is_hidden(series, readings)
    standing = standing_of(series.session)
    return Table(
        series=series,
        readings=tuple(_listed(readings, answer, hidden=hidden, since=fast_since(series.session))),
        standing=standing,
        sentence=_standing_sentence(standing, answer) or _quick_sentence(series, readings, answer, trouble),
        picture=picture(readings, answer, hidden=hidden),
        hidden=hidden,
        early=early_line(series.session, readings),
        counted=_usable(readings, answer, hidden=hidden),
        late=tuple(series.late_readings.all()) if standing.signed else (),
        **_values(answer, hidden),
    )


def sentence_of(series: Series) -> Sentence:
    """The one sentence for a series, however long it takes."""
    readings, answer, trouble = _asked(series)
    quick = _standing_sentence(standing_of(series.session), answer)
    quick = quick or _quick_sentence(series, readings, answer, trouble)
    if quick is not None:
        return quick
    assert answer is not None
    if answer.enough is None:
        return Sentence(words=_("No reading can be used yet. Let the animal rest, then try another cuff or site."))
    return Sentence(words=enough_sentences(answer.enough)[0])


def _asked(series: Series) -> tuple[list[Reading], Told | None, str]:
    """The readings, what the engine says of them, and why it cannot say anything.

    A reading that was saved must be seen as saved, also in a series that cannot be charted.
    """
    rows = series.readings.select_related("recording", "struck_by", "saved_by").defer("recording__content")
    readings = list(rows.order_by("taken_at", "ordinal", "id"))
    organs = organs_known(series.session.animal, timezone.localdate(series.session.started_at))
    try:
        return readings, told_of(series, readings, organs=organs), ""
    except QuietlimbError as error:
        return readings, None, f"{error.says}; {error.remedy}."


def _listed(readings: list[Reading], answer: Told | None, *, hidden: bool, since: datetime | None = None) -> list[Row]:
    """The readings with the numbers by which sentences name them; a recording's values are what was read from it."""
    in_series = {place: k for k, place in enumerate(places_in_the_series(readings))}
    rows = []
    for place, reading in enumerate(readings):
        k = in_series.get(place)
        found = () if hidden or answer is None or k is None else answer.charted.readings[k].findings
        spoken = [f for f in found if f.severity != "note" and f.code != "set-aside"]
        rows.append(
            Row(
                number=None if k is None else k + 1,
                reading=reading,
                values=values_of(reading),
                minute=None if since is None else int(((reading.taken_at - since).total_seconds() + FILE_S) // 60),
                why="; ".join(dict.fromkeys(finding.code.replace("-", " ") for finding in spoken)),
            )
        )
    return rows


def _usable(readings: list[Reading], answer: Told | None, *, hidden: bool) -> int:
    """How many readings count, have a systolic pressure, and are not discarded by the engine: as the result counts."""
    discarded = set()
    if answer is not None and not hidden:
        judged = zip(places_in_the_series(readings), answer.charted.readings, strict=True)
        discarded = {place for place, reading in judged if reading.verdict == "discard"}
    return sum(
        row.counts and values_of(row)[0] is not None and place not in discarded for place, row in enumerate(readings)
    )


def is_hidden(series: Series, readings: list[Reading]) -> bool:
    """Whether charted pressure and lines are kept back: by ear, before the planned count is reached."""
    counted = sum(row.counts for row in readings)
    return series.technique == Technique.DOPPLER and counted < series.planned_readings


def is_kept_back(session: Session) -> bool:
    """Whether a series of an open session is still hidden."""
    return session.is_open and any(is_hidden(each, list(each.readings.all())) for each in session.series.all())


def _standing_sentence(standing: Standing, answer: Told | None) -> Sentence | None:
    """How the session stands, where nothing more is measured; but what cannot wait for a signature goes before."""
    if not standing.words or (not standing.signed and _at_once(answer)):
        return None
    return Sentence(words=standing.words)


def _at_once(answer: Told | None) -> Sentence | None:
    advice = () if answer is None else answer.interpretation.next
    found = next((each for each in advice if each.code in AT_ONCE), None)
    return None if found is None else Sentence(words=advice_words.sentence(found), at_once=True)


def _quick_sentence(series: Series, readings: list[Reading], answer: Told | None, trouble: str) -> Sentence | None:
    """The sentence where it is known without asking whether the readings are enough; else None."""
    if at_once := _at_once(answer):
        return at_once
    inflations = Reading.objects.filter(series__session=series.session_id).values_list("taken_at", flat=True)
    if stop_for_today(list(inflations)):
        return Sentence(
            words=_("Stop for today: more inflations would only tire the animal. End the session as it is.")
        )
    if trouble:
        return Sentence(words=trouble)
    hidden = is_hidden(series, readings)
    taken = _usable(readings, answer, hidden=hidden)
    if taken < series.planned_readings:
        return _next_of_the_plan(series, taken + 1, answer, hidden=hidden)
    assert answer is not None
    if answer.knows_enough and answer.enough is not None:
        return Sentence(words=enough_sentences(answer.enough)[0])
    return None


def _next_of_the_plan(series: Series, number: int, answer: Told | None, *, hidden: bool) -> Sentence:
    """The next reading of as many as were planned.

    What more readings would do is not told before that: after few it is a guess, and the next ones would contradict it.
    """
    told = {"number": number, "planned": series.planned_readings}
    if answer is None:
        words = _("Take the first reading when the animal sits still: 1 of {planned}.")
    elif not hidden and answer.charted.systolic is None:
        words = _(
            "No reading can be used yet: let the animal rest, and look at cuff and site. Reading {number} of {planned}."
        )
    elif not hidden and any(finding.code == "still-falling" for finding in answer.charted.findings):
        words = _("Still falling: let the animal sit, then reading {number} of {planned}.")
    elif hidden:
        words = _("Next: reading {number} of {planned}, then the result after the last.")
    else:
        words = _("Next: reading {number} of {planned}.")
    return Sentence(words=words.format(**told))


def _values(answer: Told | None, hidden: bool) -> dict[str, Any]:
    if answer is None or hidden or answer.charted.systolic is None:
        return dict.fromkeys(("charted", "charted_kpa", "guideline", "guideline_kpa"), "")
    digits = digits_of(answer.charted, answer.interpretation)
    return {
        "charted": with_interval(answer.charted.systolic, digits),
        "charted_kpa": kpa_with_interval(answer.charted.systolic),
        "guideline": guideline_line(answer.charted.guideline, digits),
        "guideline_kpa": guideline_in_kpa(answer.charted.guideline),
    }
