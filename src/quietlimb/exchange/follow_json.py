"""The months of an animal as one JSON object; what each member means is written in `schemas/follow.json`.

Rounded as in `results_json`: pressures to 3 decimals, probabilities to 4. Dates are ISO 8601.
"""

from __future__ import annotations

import math
from datetime import date
from typing import Final

from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.follow_up.change import Change, HighDay, LeastChange
from quietlimb.engine.follow_up.comparability import BREAKING, CONVERTED
from quietlimb.engine.follow_up.follow import FittedStretch, FollowUp
from quietlimb.engine.follow_up.history import TreatmentEvent
from quietlimb.engine.follow_up.recheck import Recheck
from quietlimb.engine.values import Estimate
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.results_json import JsonObject
from quietlimb.words import follow_up as words

FOLLOW: Final = "quietlimb/follow/1"


def follow_object(path_as_given: str, found: FollowUp) -> JsonObject:
    """What `follow` tells about a history."""
    history, comparison = found.history, found.comparison
    stretches = [*found.earlier, *([] if found.latest is None else [found.latest])]
    return {
        "schema": FOLLOW,
        "history": path_as_given,
        "species": history.species,
        "animal": history.animal,
        "on": _date(found.on_day),
        "rule_set": found.rule_set,
        "treated": found.treated,
        "level": None if found.level is None else _estimate(found.level),
        "goals": [
            {
                "code": target.code,
                "below": _number(target.below.value),
                "probability": _share(target.probability),
                "source": target.below.source,
                "place": target.below.place,
                "standing": target.below.standing,
            }
            for target in found.targets
        ],
        "groups": [_group(stretch) for stretch in stretches],
        "breaks": list(comparison.breaks),
        "left_out": [_date(session.day) for session in comparison.left_out],
        "events": [{"date": _date(event.day), "step": event.step} for event in history.events],
        "changes": _changes(found),
        "untold_step": None
        if found.untold_step is None
        else {
            "from": _date(found.untold_step.from_day),
            "to": _date(found.untold_step.to_day),
            "probability": _share(found.untold_step.probability),
        },
        "least_change": None if found.least is None else _least(found.least),
        "recheck": None if found.recheck is None else _recheck(found.recheck),
        "cautions": [{"code": code, "says": words.caution(code), "numbers": {}} for code in found.cautions],
        "engine": ENGINE_VERSION,
    }


def follow_error_object(path_as_given: str, error: QuietlimbError) -> JsonObject:
    """What `follow` tells about a history that cannot be read."""
    line = error.line if isinstance(error, FileError) else None
    told = {"code": error.code, "says": error.says, "remedy": error.remedy, "line": line}
    return {"schema": FOLLOW, "history": path_as_given, "error": told}


def _date(day: float) -> str:
    return date.fromordinal(int(day)).isoformat()


def _number(value: float | None, decimals: int = 3) -> float | None:
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), decimals) + 0.0  # no negative zero


def _share(value: float) -> float | None:
    return _number(value, 4)


def _estimate(estimate: Estimate) -> JsonObject:
    """The error against the artery is not known for any way of measuring here, so the shared part is null."""
    told = {name: _number(getattr(estimate, name)) for name in ("value", "low", "high", "own_sd")}
    return {**told, "shared_sd": None}


def _group(fitted: FittedStretch) -> JsonObject:
    stretch = fitted.stretch
    return {
        **dict(zip(BREAKING, stretch.measured, strict=True)),
        "sessions": [
            {
                "date": _date(each.session.day),
                "systolic": _number(each.session.systolic_mmhg),
                "mean": _number(each.session.mean_mmhg),
                "diastolic": _number(each.session.diastolic_mmhg),
                "own_sd": _number(each.session.own_sd_mmhg),
                "readings": each.session.readings,
                "converted_by": next(
                    (_number(-offset.mean_mmhg) for offset in offsets if offset.circumstance == CONVERTED), None
                ),
                "differs_in": [offset.circumstance for offset in offsets if offset.circumstance != CONVERTED],
                "level": _estimate(each.level),
                "odd": _share(each.odd),
            }
            for each, offsets in zip(fitted.sessions, stretch.offsets, strict=True)
        ],
    }


def _changes(found: FollowUp) -> list[JsonObject]:
    told = []
    if found.since_last is not None:
        told.append(_change("session before", found.since_last))
    if found.since_first is not None:
        told.append(_change("first session", found.since_first))
    if found.since_day is not None:
        told.append(_change("day asked about", found.since_day))
    return told + [_change("event", since.change, since.event, since.high_day) for since in found.since_events]


def _change(
    since: str, change: Change, event: TreatmentEvent | None = None, high_day: HighDay | None = None
) -> JsonObject:
    return {
        "since": since,
        "step": None if event is None else event.step,
        "from": _date(change.from_day),
        "to": _date(change.to_day),
        "by": _number(change.by_mmhg),
        "change": _estimate(change.change),
        "fell": _share(change.fell),
        "rose": _share(change.rose),
        "same": _share(change.same),
        "certainty": _share(change.certainty),
        "verdict": change.verdict,
        "high_day": None
        if high_day is None
        else {
            "date": _date(high_day.day),
            "charted": _number(high_day.charted_mmhg),
            "level": _estimate(high_day.level),
            "above": _number(high_day.above_mmhg),
            "high": high_day.high,
        },
    }


def _least(least: LeastChange) -> JsonObject:
    return {
        "between_sd": _estimate(least.between_sd),
        "two_sessions": _number(least.two_sessions),
        "next_low": _number(least.next_low),
        "next_high": _number(least.next_high),
        "own_sd": _number(least.own_sd),
    }


def _recheck(recheck: Recheck) -> JsonObject:
    latest = recheck.window.latest
    return {
        "rule": recheck.rule,
        "says": words.recheck_sentence(recheck),
        "since": _date(recheck.since_day),
        "from": _date(recheck.earliest_day),
        "to": _date(recheck.latest_day),
        "worth_from": None if recheck.worth_day is None else _date(recheck.worth_day),
        "state": recheck.state,
        "overdue_days": recheck.overdue_days,
        "source": latest.source,
        "place": latest.place,
        "standing": latest.standing,
    }
