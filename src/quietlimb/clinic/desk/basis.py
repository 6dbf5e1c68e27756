"""All that the meaning of a session rests on: from its rows as they are, or frozen when it was signed."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from functools import cached_property
from typing import Any

from quietlimb.clinic.canonical import digest
from quietlimb.clinic.charting import Organs, Told, described, engine_series, told
from quietlimb.clinic.conversions.beside import Bound, ConversionLines, conversions_in_use, lines_beside
from quietlimb.clinic.desk.beside import Beside, series_beside
from quietlimb.clinic.desk.months import background_of, day_of, history_of, organs_of
from quietlimb.clinic.sessions.freezing import frozen_series, thawed_series
from quietlimb.clinic.sessions.models import Series as SeriesRow
from quietlimb.clinic.sessions.models import Session, SignedValue
from quietlimb.clinic.sessions.selectors import ORGANS_COUNT_AFTER_DAYS, eyes_seen_in_part, pressures_of, told_of
from quietlimb.engine.circumstances import Circumstances, Species
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.follow_up.earlier_sessions import day_to_day_sd
from quietlimb.engine.interpretation.background import Background, EarlierSession
from quietlimb.engine.interpretation.interpret import interpret_systolic
from quietlimb.engine.interpretation.interpretation import Caution, Interpretation
from quietlimb.engine.interpretation.urgency import need
from quietlimb.engine.session.charted import ChartedPressure
from quietlimb.engine.session.series import Series
from quietlimb.engine.standards.rule_sets import rule_set
from quietlimb.engine.version import ENGINE_VERSION

EYES_NOT_EXAMINED = Caution(code="eyes-not-examined")


@dataclass(frozen=True, kw_only=True)
class Basis:
    """A series, or none where nothing was obtained or can be charted, with what else is known.

    trouble       : why the readings that there are cannot be charted, and what to do; empty where they can
    day_to_day_sd : of this animal from session to session, where its sessions tell it [mmHg]
    around        : the circumstances as told, also where there is no series
    eyes_in_part  : whether an eye was called sound without a widened pupil or the whole fundus
    beside        : the other series of the session, which a signature does not cover
    conversions   : those that the practice has in use, shown beside what is charted; nothing rests on them
    """

    species: Species
    series: Series | None
    trouble: str = ""
    rules: str
    organs: Organs
    background: Background
    day_to_day_sd: float | None = None
    around: Circumstances | None = None
    eyes_in_part: bool = False
    beside: tuple[Beside, ...] = ()
    conversions: tuple[Bound, ...] = ()

    @property
    def circumstances(self) -> Circumstances:
        """Those of the series; without one those that were told all the same."""
        if self.series is not None:
            return self.series.circumstances
        return self.around or Circumstances(species=self.species)

    @property
    def outdone_by(self) -> tuple[Beside, ...]:
        """The series beside it that are to be acted on in another way: low, or in a higher category."""
        systolic, mean = (None, None)
        if self.charted is not None and self.charted.systolic is not None:
            systolic, mean = pressures_of(self.charted)
        rules = rule_set(self.rules, self.species)
        return tuple(each for each in self.beside if each.asks_for_more(systolic, mean, rules))

    @cached_property
    def answer(self) -> Told | None:
        """The engine's answers; None without a series."""
        if self.series is None:
            return None
        return told(
            self.series,
            rules=self.rules,
            organs=self.organs,
            background=self.background,
            day_to_day_sd=self.day_to_day_sd,
        )

    @property
    def charted(self) -> ChartedPressure | None:
        """The charted pressure; None without a series."""
        return None if self.answer is None else self.answer.charted

    @property
    def systolic_mmhg(self) -> float | None:
        """The charted systolic pressure; None where there is none."""
        return None if self.charted is None or self.charted.systolic is None else self.charted.systolic.value

    @cached_property
    def converted(self) -> ConversionLines:
        """What the conversions make of the charted pressure, in sentences."""
        return lines_beside(self.conversions, self.charted, self.rules)

    @cached_property
    def interpretation(self) -> Interpretation:
        """What it means; also where nothing was obtained.

        That both eyes were not looked at with widened pupils stays a caution where they were called sound without.
        """
        found = self._interpreted()
        told = any(caution.code == EYES_NOT_EXAMINED.code for caution in found.cautions)
        if not self.eyes_in_part or told:
            return found
        return replace(found, cautions=(EYES_NOT_EXAMINED, *found.cautions))

    def _interpreted(self) -> Interpretation:
        if self.answer is not None:
            return self.answer.interpretation
        return interpret_systolic(
            None,
            species=self.species,
            rules=self.rules,
            organs=self.organs,
            background=self.background,
            day_to_day_sd=self.day_to_day_sd,
        )

    @cached_property
    def frozen(self) -> dict[str, Any]:
        """Everything as plain values, for `thawed` and for the seal."""
        charted = self.charted
        estimate = None if charted is None else charted.systolic
        return {
            "species": self.species,
            "series": None if charted is None else frozen_series(charted),
            "trouble": self.trouble,
            "own_sd_mmhg": None if estimate is None else estimate.own_sd,
            "rules": self.rules,
            "organs": dict(self.organs),
            "background": _frozen_background(self.background),
            "day_to_day_sd_mmhg": self.day_to_day_sd,
            "around": asdict(self.circumstances),
            "eyes_in_part": self.eyes_in_part,
            "beside": [asdict(each) for each in self.beside],
            "conversions": [asdict(each) for each in self.conversions],
        }

    @cached_property
    def digest(self) -> str:
        """Of all of it and the engine: what was looked at is what is signed."""
        return digest({**self.frozen, "engine": ENGINE_VERSION})


def basis_of(session: Session, series: SeriesRow | None) -> Basis:
    """From the rows as they are now. An earlier finding of an organ counts as the table page counts it."""
    engine, trouble = _charted_series(series) if series is not None else (None, "")
    history = history_of(session.animal, before=session)
    yesterday = history.before(day_of(session).toordinal() - 1)
    return Basis(
        species=session.animal.species,  # type: ignore[arg-type]  # the choices of the column are the engine's words
        series=engine,
        trouble=trouble,
        rules=session.practice.rules,
        organs=organs_of(session),
        background=background_of(session, history),
        day_to_day_sd=None if series is None else day_to_day_sd(yesterday, series.technique),  # type: ignore[arg-type]
        around=None if series is None else described(series, None),
        eyes_in_part=eyes_seen_in_part(session.animal, day_of(session), after_days=ORGANS_COUNT_AFTER_DAYS),
        beside=series_beside(session, series),
        conversions=() if series is None else conversions_in_use(series),
    )


def _charted_series(series: SeriesRow) -> tuple[Series | None, str]:
    """The series for the engine, or why it cannot be charted: readings that were saved must not stop a page."""
    rows = list(series.readings.select_related("recording").order_by("taken_at", "ordinal"))
    try:
        made = engine_series(series, rows)
        if made is not None:
            told(made, rules=series.session.practice.rules).charted  # noqa: B018  asked for, so that it fails here
    except QuietlimbError as error:
        return None, f"{error.says}; {error.remedy}."
    return made, ""


def thawed(signed: SignedValue) -> Basis:
    """As it was signed, whatever has become of the rows."""
    frozen = json.loads(signed.frozen)
    return Basis(
        species=frozen["species"],
        series=None if frozen["series"] is None else thawed_series(frozen["series"]),
        trouble=frozen["trouble"],
        rules=signed.rules,
        organs=frozen["organs"],
        background=_thawed_background(frozen["background"]),
        day_to_day_sd=frozen["day_to_day_sd_mmhg"],
        around=Circumstances(**frozen["around"]) if "around" in frozen else None,
        eyes_in_part=frozen.get("eyes_in_part", False),
        beside=tuple(Beside(**each) for each in frozen.get("beside", ())),
        conversions=tuple(Bound(**each) for each in frozen.get("conversions", ())),
    )


def series_to_show(session: Session, asked: str = "") -> SeriesRow | None:
    """The series asked for by its number; otherwise the one that asks for more, low or highest, so that none is
    overlooked.

    One that cannot be charted may have been higher, so it goes before all others.
    """
    best: tuple[tuple[bool, float], SeriesRow] | None = None
    every = list(session.series.select_related("instrument", "cuff").order_by("ordinal"))
    for series in every:
        series.session = session
        if str(series.ordinal) == asked:
            return series
        try:
            answer = told_of(series)
            none = answer is None or answer.charted.systolic is None
            value = None if answer is None or none else need(*pressures_of(answer.charted))
        except QuietlimbError:
            value = (True, math.inf)
        if value is not None and (best is None or value > best[0]):
            best = (value, series)
    return best[1] if best else (every[-1] if every else None)


def _frozen_background(background: Background) -> dict[str, Any]:
    told_of_it = asdict(background)
    for earlier in told_of_it["history"]:
        del earlier["checks"]
    return json.loads(json.dumps(told_of_it))  # type: ignore[no-any-return]


def _thawed_background(told_of_it: Mapping[str, Any]) -> Background:
    listed = {name: told_of_it[name] and tuple(told_of_it[name]) for name in ("conditions", "drugs")}
    history = tuple(EarlierSession(**earlier) for earlier in told_of_it["history"])
    return Background(**{**told_of_it, **listed, "history": history})
