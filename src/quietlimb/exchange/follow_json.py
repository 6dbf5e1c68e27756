"""The months of an animal as one JSON object; what each member means is written in `schemas/follow.json`.

Rounded as in `json_values`. Dates are ISO 8601.
"""

from __future__ import annotations

from typing import Final

from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.follow_up.change import Change, HighDay, LeastChange
from quietlimb.engine.follow_up.comparability import BREAKING, CONVERTED, MARKED
from quietlimb.engine.follow_up.follow import FittedStretch, FollowUp
from quietlimb.engine.follow_up.history import TreatmentEvent
from quietlimb.engine.follow_up.other_pressures import OtherPressure
from quietlimb.engine.follow_up.recheck import Recheck
from quietlimb.engine.values import Cited
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.json_values import (
    JsonObject,
    error_object,
    estimate_or_null,
    iso_date,
    number_or_null,
    share_or_null,
)
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
        "on": iso_date(found.on_day),
        "rule_set": found.rule_set,
        "treated": found.treated,
        "level": estimate_or_null(found.level),
        "goals": [
            {
                "code": target.code,
                "below": number_or_null(target.below.value),
                "probability": share_or_null(target.probability),
                "source": target.below.source,
                "place": target.below.place,
                "standing": target.below.standing,
            }
            for target in found.targets
        ],
        "groups": [_group(stretch) for stretch in stretches],
        "breaks": list(comparison.breaks),
        "left_out": [iso_date(session.day) for session in comparison.left_out],
        "events": [{"date": iso_date(event.day), "step": event.step} for event in history.events],
        "changes": _changes(found),
        "untold_step": None
        if found.untold_step is None
        else {
            "from": iso_date(found.untold_step.from_day),
            "to": iso_date(found.untold_step.to_day),
            "probability": share_or_null(found.untold_step.probability),
        },
        "other_pressures": [_other(other) for other in found.others],
        "least_change": None if found.least is None else _least(found.least),
        "recheck": None if found.recheck is None else _recheck(found.recheck),
        "cautions": [_caution(code, found.limits.get(code)) for code in found.cautions],
        "parameters": dict(found.parameters),
        "engine": ENGINE_VERSION,
        "fingerprint": found.fingerprint,
    }


def follow_error_object(path_as_given: str, error: QuietlimbError) -> JsonObject:
    """What `follow` tells about a history that cannot be read."""
    return {"schema": FOLLOW, "history": path_as_given, "error": error_object(error)}


def _caution(code: str, limit: Cited | None) -> JsonObject:
    unit = "" if limit is None else {"mmHg": "mmhg", "day": "days"}[limit.unit]
    return {
        "code": code,
        "says": words.caution(code, limit),
        "numbers": {} if limit is None else {f"limit_{unit}": number_or_null(limit.value)},
        "sources": [] if limit is None else [{"source": limit.source, "standing": limit.standing}],
    }


def _group(fitted: FittedStretch) -> JsonObject:
    stretch = fitted.stretch
    return {
        **dict(zip(BREAKING, stretch.measured, strict=True)),
        "usual": {name: stretch.usual.get(name) for name in MARKED},
        "untold": list(stretch.untold),
        "sessions": [
            {
                "date": iso_date(each.session.day),
                "systolic": number_or_null(each.session.systolic_mmhg),
                "mean": number_or_null(each.session.mean_mmhg),
                "diastolic": number_or_null(each.session.diastolic_mmhg),
                "own_sd": number_or_null(each.session.own_sd_mmhg),
                "readings": each.session.readings,
                "converted_by": next(
                    (number_or_null(-offset.mean_mmhg) for offset in offsets if offset.circumstance == CONVERTED), None
                ),
                "differs_in": [offset.circumstance for offset in offsets if offset.circumstance != CONVERTED],
                "allowed_for": [
                    {"circumstance": offset.circumstance, "value": offset.value, "sd": number_or_null(offset.sd_mmhg)}
                    for offset in offsets
                ],
                "level": estimate_or_null(each.level),
                "odd": share_or_null(each.odd),
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
    if found.between_days is not None:
        told.append(_change("day asked about", found.between_days))
    return told + [_change("event", since.change, since.event, since.high_day) for since in found.since_events]


def _change(
    since: str, change: Change, event: TreatmentEvent | None = None, high_day: HighDay | None = None
) -> JsonObject:
    return {
        "since": since,
        "step": None if event is None else event.step,
        "from": iso_date(change.from_day),
        "to": iso_date(change.to_day),
        "by": number_or_null(change.by_mmhg),
        "change": estimate_or_null(change.change),
        "fell": share_or_null(change.fell),
        "rose": share_or_null(change.rose),
        "same": share_or_null(change.same),
        "certainty": share_or_null(change.certainty),
        "verdict": change.verdict,
        "high_day": None
        if high_day is None
        else {
            "date": iso_date(high_day.day),
            "charted": number_or_null(high_day.charted_mmhg),
            "level": estimate_or_null(high_day.level),
            "above": number_or_null(high_day.above_mmhg),
            "high": high_day.high,
        },
    }


def _other(other: OtherPressure) -> JsonObject:
    last = [] if other.since_last is None else [_change("session before", other.since_last)]
    return {
        "pressure": other.pressure,
        "sessions": other.sessions,
        "last": iso_date(other.last_day),
        "level": estimate_or_null(other.level),
        "changes": [*last, *(_change("event", change, event) for event, change in other.since_events)],
    }


def _least(least: LeastChange) -> JsonObject:
    return {
        "between_sd": estimate_or_null(least.between_sd),
        "two_sessions": number_or_null(least.two_sessions),
        "one_way": number_or_null(least.one_way),
        "next_low": number_or_null(least.next_low),
        "next_high": number_or_null(least.next_high),
        "own_sd": number_or_null(least.own_sd),
    }


def _recheck(recheck: Recheck) -> JsonObject:
    latest = recheck.window.latest
    return {
        "rule": recheck.rule,
        "says": words.recheck_sentence(recheck),
        "since": iso_date(recheck.since_day),
        "from": iso_date(recheck.earliest_day),
        "to": iso_date(recheck.latest_day),
        "worth_from": None if recheck.worth_day is None else iso_date(recheck.worth_day),
        "if_organ_damage": None
        if recheck.damaged_days is None
        else dict(zip(("from", "to"), map(iso_date, recheck.damaged_days), strict=True)),
        "stands_in": recheck.stands_in,
        "state": recheck.state,
        "overdue_days": recheck.overdue_days,
        "source": latest.source,
        "place": recheck.window.place,
        "standing": latest.standing,
    }
