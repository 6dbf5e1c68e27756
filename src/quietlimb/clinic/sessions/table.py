"""The part of the table page that changes with every reading: what stands there, and the one sentence."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from quietlimb.clinic.charting import Told
from quietlimb.clinic.equipment.models import Technique
from quietlimb.clinic.sessions.models import Reading, Series
from quietlimb.clinic.sessions.picture import Picture, picture
from quietlimb.clinic.sessions.selectors import organs_known, told_of
from quietlimb.reports.phrases import digits_of, guideline_line, with_interval
from quietlimb.words import advice as advice_words
from quietlimb.words.enough import enough_sentences

# Advice that goes before everything else, whatever the number of readings.
AT_ONCE = ("emergency-of-eyes-or-brain", "look-at-the-animal-and-call")


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """What the part shows. hidden: charted pressure and lines are kept back until the planned count is reached."""

    series: Series
    readings: tuple[Reading, ...]
    counted: int
    sentence: str
    at_once: bool
    charted: str
    guideline: str
    picture: Picture | None
    hidden: bool


def table_of(series: Series) -> Table:
    """The part of the page for one series."""
    readings = list(
        series.readings.select_related("recording", "struck_by", "saved_by").order_by("taken_at", "ordinal", "id")
    )
    organs = organs_known(series.session.animal, series.session.started_at.date())
    answer = told_of(series, readings, organs=organs)
    counted = sum(row.counts for row in readings)
    hidden = series.technique == Technique.DOPPLER and counted < series.planned_readings
    sentence, at_once = _sentence(series, answer, counted, hidden)
    return Table(
        series=series,
        readings=tuple(readings),
        counted=counted,
        sentence=sentence,
        at_once=at_once,
        picture=picture(readings, answer, hidden=hidden),
        hidden=hidden,
        **_values(answer, hidden),
    )


def _values(answer: Told | None, hidden: bool) -> dict[str, Any]:
    if answer is None or hidden or answer.charted.systolic is None:
        return {"charted": "", "guideline": ""}
    digits = digits_of(answer.interpretation)
    return {
        "charted": with_interval(answer.charted.systolic, digits),
        "guideline": guideline_line(answer.charted.guideline, digits),
    }


def _sentence(series: Series, answer: Told | None, counted: int, hidden: bool) -> tuple[str, bool]:
    """What next and why, in one sentence, and whether it cannot wait."""
    if answer is not None:
        for advice in answer.interpretation.next:
            if advice.code in AT_ONCE:
                return advice_words.sentence(advice), True
    if answer is None:
        return _("Take the first reading when the animal sits still."), False
    if hidden:
        left = series.planned_readings - counted
        words = ngettext("%(n)d reading more, then the result.", "%(n)d readings more, then the result.", left)
        return words % {"n": left}, False
    found = answer.enough
    if found is None:
        return _("No reading can be used yet. Let the animal rest, then try another cuff or site."), False
    return enough_sentences(found)[0], False
