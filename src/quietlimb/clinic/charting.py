"""From rows to the engine and back: a series of the clinic as charted pressure, guideline average, advice, meaning.

Nothing is decided here. `described` and `engine_series` turn rows into the engine's vocabulary; `told` asks the engine,
and remembers its answers by the fingerprint of what was asked.
"""

from __future__ import annotations

import threading
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from functools import cached_property, lru_cache
from typing import Any

from django.utils import timezone

from quietlimb.clinic.process_beside import worked_out
from quietlimb.clinic.sessions.models import Reading as ReadingRow
from quietlimb.clinic.sessions.models import Series as SeriesRow
from quietlimb.clinic.sessions.results import reading_of
from quietlimb.clinic.sessions.settling import settled_since
from quietlimb.clinic.sessions.told_at_the_table import remarks_of
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import SeriesError
from quietlimb.engine.findings import Finding, verdict_of
from quietlimb.engine.interpretation.background import NOTHING_TOLD, Background
from quietlimb.engine.interpretation.interpret import interpret
from quietlimb.engine.interpretation.interpretation import Eye, Interpretation, Organ, OrganState
from quietlimb.engine.session.charted import ChartedPressure
from quietlimb.engine.session.charting import chart
from quietlimb.engine.session.enough import Enough, enough
from quietlimb.engine.session.series import Series, series_from_readings, series_from_values
from quietlimb.engine.standards.rule_sets import DEFAULT
from quietlimb.engine.version import ENGINE_VERSION

REMEMBERED = 512
SET_ASIDE = "set-aside"
_ENOUGH_ONE_BY_ONE = threading.Lock()

Organs = Mapping[Organ | Eye, OrganState]


def described(series: SeriesRow, first: ReadingRow | None) -> Circumstances:
    """The circumstances of a series. `first` is its first reading, from which the acclimatisation counts back."""
    session, animal = series.session, series.session.animal
    since = None if first is None else settled_since(session, first.taken_at)
    # whole minutes that have passed: nobody looked at seconds
    settled = None if since is None or first is None else (first.taken_at - since) // timedelta(minutes=1)
    told: dict[str, Any] = {
        "species": animal.species,
        # pictures and prints of demo data must say so, and they know it by the name
        "animal": f"invented: {animal.name}" if session.practice.invented else animal.name,
        "breed": animal.breed,
        "site": series.site,
        "side": series.side,
        "position": series.position,
        "place": session.place,
        "method": series.technique,
        "instrument": series.instrument.name if series.instrument else None,
        "cuff": series.cuff.name if series.cuff else None,
        "cuff_width_cm": series.cuff.width_cm if series.cuff else None,
        "limb_circumference_cm": series.limb_circumference_cm,
        "cuff_below_heart_cm": series.cuff_below_heart_cm,
        # one who came in only after the first reading, or the day before, tells nothing about settling
        "acclimatisation_min": float(settled) if settled is not None and 0 <= settled <= 1440 else None,
        "sedation": session.sedation,
        "read_by": session.read_by.name if session.read_by else None,
        "held_by": session.held_by,
        "started_at": timezone.localtime(session.started_at).isoformat(),
        "remarks": remarks_of(session),
    }
    given: dict[str, Any] = {name: value for name, value in told.items() if value not in ("", None)}
    return Circumstances(**given)


def engine_series(series: SeriesRow, readings: Iterable[ReadingRow]) -> Series | None:
    """The readings that were not struck through, in the order taken, as the engine's series; None where there is none.

    What spoiled stays in it, set aside: a first reading that spoiled is not followed by another that counts as the
    first. Minutes are counted from the first of them.

    Raises SeriesError where typed readings and recordings stand in one series (`mixed-origin`), or a recording has not
    been read by this engine (`not-read`).
    """
    taken = sorted((row for row in readings if row.struck_at is None), key=lambda r: (r.taken_at, r.ordinal, r.pk))
    if not taken:
        return None
    circumstances = described(series, taken[0])
    minutes = [(row.taken_at - taken[0].taken_at).total_seconds() / 60.0 for row in taken]
    aside = [_set_aside(row) for row in taken]
    recordings = [row.recording for row in taken if row.recording is not None]
    if not recordings:
        return series_from_values(
            circumstances=circumstances,
            minute=minutes,
            systolic=[row.systolic for row in taken],
            mean=[row.mean for row in taken],
            diastolic=[row.diastolic for row in taken],
            pulse_rate=[row.pulse_rate for row in taken],
            findings=aside,
        )
    if len(recordings) < len(taken):
        raise SeriesError("mixed-origin", "typed readings stand among recordings", "open a series for each")
    results = [recording.results.get(ENGINE_VERSION) for recording in recordings]
    if not all(results):
        raise SeriesError("not-read", f"a recording has not been read by engine {ENGINE_VERSION}", "read it again")
    found = [reading_of(result) for result in results if result]
    judged = [
        replace(reading, findings=(*reading.findings, *why), verdict=verdict_of((*reading.findings, *why)))
        for reading, why in zip(found, aside, strict=True)
    ]
    return series_from_readings(judged, minutes, circumstances)


def _set_aside(row: ReadingRow) -> tuple[Finding, ...]:
    """Why whoever took a reading set it aside, in her words; nothing where it counts."""
    if not row.spoiled:
        return ()
    return (Finding(code=SET_ASIDE, severity="spoils", told=str(row.get_spoiled_display())),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A series and what else is known; the same question has the same fingerprint and is told the same.

    known : the background as text, for a history with organs has no hash of its own
    """

    fingerprint: str
    rules: str
    organs: tuple[tuple[Organ | Eye, OrganState], ...] = ()
    known: str = repr(NOTHING_TOLD)
    day_to_day_sd: float | None = None
    background: Background = field(default=NOTHING_TOLD, compare=False, repr=False)
    series: Series = field(compare=False, repr=False)


class Told:
    """What the engine says of a question. The parts that take longer are asked only when they are wanted."""

    def __init__(self, question: Question) -> None:
        self.question = question

    @cached_property
    def _bare(self) -> Told:
        """The answers to the same series with nothing else known: what is charted rests on no more."""
        asked = self.question
        bare = Question(fingerprint=asked.fingerprint, rules=asked.rules, series=asked.series)
        return self if bare == asked else answers_to(bare)

    @cached_property
    def charted(self) -> ChartedPressure:
        """The charted pressure, with the guideline average beside it."""
        if self._bare is not self:
            return self._bare.charted
        return chart(self.question.series, rules=self.question.rules)

    @cached_property
    def interpretation(self) -> Interpretation:
        """What it means."""
        asked = self.question
        return interpret(
            self.charted,
            rules=asked.rules,
            organs=dict(asked.organs),
            background=asked.background,
            day_to_day_sd=asked.day_to_day_sd,
        )

    @property
    def knows_enough(self) -> bool:
        """Whether `enough`, which takes most of the time, has been asked before."""
        return "enough" in self._bare.__dict__

    @cached_property
    def enough(self) -> Enough | None:
        """Whether to go on; None where nothing is charted."""
        if self._bare is not self:
            return self._bare.enough
        # It takes several times as long as what a reading waits for: one by one, and beside where there is a process.
        with _ENOUGH_ONE_BY_ONE:
            if "enough" in self.__dict__:  # another screen asked the same and was first
                found: Enough | None = self.__dict__["enough"]
                return found
            return worked_out(enough, self.charted, rules=self.question.rules)


def told(
    series: Series,
    *,
    rules: str = DEFAULT,
    organs: Organs | None = None,
    background: Background = NOTHING_TOLD,
    day_to_day_sd: float | None = None,
) -> Told:
    """The engine's answers about a series; the same question is worked out once as long as it is remembered."""
    return answers_to(
        Question(
            fingerprint=series.fingerprint_with({}),
            rules=rules,
            organs=tuple(sorted((organs or {}).items())),
            known=repr(background),
            background=background,
            day_to_day_sd=day_to_day_sd,
            series=series,
        )
    )


@lru_cache(maxsize=REMEMBERED)
def answers_to(question: Question) -> Told:
    """The answers to a question, remembered."""
    return Told(question)


def places_in_the_series(readings: Sequence[ReadingRow]) -> list[int]:
    """For each of the engine's readings, the index of its row among all rows of the series."""
    return [k for k, row in enumerate(readings) if row.struck_at is None]
