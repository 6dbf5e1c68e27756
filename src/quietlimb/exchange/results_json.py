"""Results as JSON objects, one a line. What each member means is written in `schemas/`.

Pressures, rates and seconds are rounded to 3 decimals, shares and probabilities to 4; probabilities may therefore add
up to 1 only within 2e-4. A number that has no finite value, such as the open end of an interval, is null.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any, Final

from quietlimb.engine.circumstances import Circumstances, Species
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.findings import Finding
from quietlimb.engine.interpretation.interpretation import (
    Advice,
    AnimalStatus,
    CategoryProbability,
    Caution,
    Clue,
    Interpretation,
    OrganCheck,
    OtherRules,
    WouldChange,
)
from quietlimb.engine.reading import Reading
from quietlimb.engine.recording import Recording
from quietlimb.engine.session.charted import ChartedPressure, GuidelineAverage, ReadingInSeries
from quietlimb.engine.session.series import Series
from quietlimb.engine.standards.breeds import BreedRemark
from quietlimb.engine.values import Estimate
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.errors import FileError
from quietlimb.instruments.cuffs import CuffChoice
from quietlimb.words import advice as advice_words
from quietlimb.words import cautions as caution_words
from quietlimb.words import findings as finding_words
from quietlimb.words.breeds import breed_sentence
from quietlimb.words.clues import clue_sentence
from quietlimb.words.other_rules import other_rules_sentence, would_change_sentence
from quietlimb.words.status import status_sentence

READ: Final = "quietlimb/read/1"
CHART: Final = "quietlimb/chart/1"
INTERPRET: Final = "quietlimb/interpret/1"
CUFF: Final = "quietlimb/cuff/1"

JsonObject = dict[str, Any]


def dump_line(obj: Mapping[str, Any]) -> str:
    """One line of JSON, letters as they are; without line end."""
    text = json.dumps(obj, ensure_ascii=False, allow_nan=False)
    # A file name may hold bytes that are no text; they arrive as lone surrogates, which JSON can only carry escaped.
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def reading_object(path_as_given: str, reading: Reading, recording: Recording) -> JsonObject:
    """What `read` tells about a recording."""
    return {
        "schema": READ,
        "recording": path_as_given,
        "verdict": reading.verdict,
        "systolic": _estimate(reading.systolic),
        "mean": _estimate(reading.mean),
        "diastolic": _estimate(reading.diastolic),
        "pulse_rate": _estimate(reading.pulse_rate),
        "method": reading.method,
        "findings": [_finding(finding) for finding in reading.findings],
        "circumstances": _circumstances(recording.circumstances),
        "engine": ENGINE_VERSION,
        "fingerprint": recording.fingerprint,
    }


def reading_error_object(path_as_given: str, error: QuietlimbError) -> JsonObject:
    """What `read` tells about a file that cannot be read."""
    return {"schema": READ, "recording": path_as_given, "error": _error(error)}


def charted_object(path_as_given: str, charted: ChartedPressure, interpretation: Interpretation) -> JsonObject:
    """What `chart` tells about a session."""
    series = charted.series
    return {
        "schema": CHART,
        "session": path_as_given,
        **{
            name: _estimate(getattr(charted, name), shared_known=charted.shared_known)
            for name in ("systolic", "mean", "diastolic", "pulse_rate")
        },
        "course": charted.course,
        "course_probability": _course_probability(charted),
        "fall_mmHg": _number(charted.fall_mmhg),
        "readings": [_reading_in_series(series, k, judged) for k, judged in enumerate(charted.readings)],
        "guideline": _guideline(charted.guideline),
        "findings": [_finding(finding) for finding in charted.findings],
        **_meaning(interpretation),
        "circumstances": _circumstances(series.circumstances),
        "parameters": dict(charted.parameters),
        "engine": ENGINE_VERSION,
        "fingerprint": charted.fingerprint,
    }


def charted_error_object(path_as_given: str, error: QuietlimbError) -> JsonObject:
    """What `chart` tells about a session that cannot be read."""
    return {"schema": CHART, "session": path_as_given, "error": _error(error)}


def interpretation_object(
    interpretation: Interpretation,
    *,
    systolic_mmhg: float | None,
    species: Species,
    sd_mmhg: float | None = None,
) -> JsonObject:
    """What `interpret` tells about one systolic pressure.

    sd_mmhg : its standard deviation as given; None where it was taken as exact
    """
    return {
        "schema": INTERPRET,
        "species": species,
        "systolic": _number(systolic_mmhg),
        "sd": _number(sd_mmhg),
        **_meaning(interpretation),
        "engine": ENGINE_VERSION,
    }


def cuff_object(circumference_cm: float, species: Species, choices: Sequence[CuffChoice]) -> JsonObject:
    """What `cuff` tells about a limb: the widths in the order of `choices`."""
    return {
        "schema": CUFF,
        "species": species,
        "limb_circumference_cm": _number(circumference_cm),
        "cuffs": [
            {
                "width_cm": _number(choice.width_cm),
                "ratio": _share(choice.ratio),
                "fit": choice.fit,
                "direction": choice.direction,
            }
            for choice in choices
        ],
        "engine": ENGINE_VERSION,
    }


def _number(value: float | None, decimals: int = 3) -> float | None:
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), decimals) + 0.0  # no negative zero


def _share(value: float | None) -> float | None:
    return _number(value, 4)


def _estimate(estimate: Estimate | None, *, shared_known: bool = True) -> JsonObject | None:
    if estimate is None:
        return None
    told = {name: _number(getattr(estimate, name)) for name in ("value", "low", "high", "own_sd", "shared_sd")}
    return told if shared_known else {**told, "shared_sd": None}


def _course_probability(charted: ChartedPressure) -> JsonObject | None:
    if charted.systolic is None:
        return None  # what is expected of any series says nothing about this one
    return {
        name: _share(share)
        for name, share in zip(("level", "falling", "rising"), charted.course_probability, strict=True)
    }


def _finding(finding: Finding) -> JsonObject:
    return {
        "code": finding.code,
        "severity": finding.severity,
        "says": finding_words.says(finding),
        "remedy": finding_words.remedy(finding),
        "touches": list(finding.touches),
        "at_s": _number(finding.at_s),
        "at_mmHg": _number(finding.at_mmhg),
        "numbers": _numbers(finding.numbers),
    }


def _numbers(numbers: Mapping[str, float]) -> JsonObject:
    return {name: _number(value, 4) for name, value in numbers.items()}


def _error(error: QuietlimbError) -> JsonObject:
    line = error.line if isinstance(error, FileError) else None
    return {"code": error.code, "says": error.says, "remedy": error.remedy, "line": line}


def _circumstances(circumstances: Circumstances) -> JsonObject:
    return {name: value for name, value in asdict(circumstances).items() if value is not None}


def _reading_in_series(series: Series, k: int, judged: ReadingInSeries) -> JsonObject:
    return {
        "minute": _number(judged.minute),
        "systolic": _number(series.systolic[k]),
        "mean": _number(series.mean[k]),
        "diastolic": _number(series.diastolic[k]),
        "pulse_rate": _number(series.pulse_rate[k]),
        "verdict": judged.verdict,
        "weights": {
            "systolic": _share(judged.systolic_weight),
            "mean": _share(judged.mean_weight),
            "diastolic": _share(judged.diastolic_weight),
        },
        "why": list(dict.fromkeys(finding.code for finding in judged.findings if finding.severity != "note")),
        "findings": [_finding(finding) for finding in judged.findings],
    }


def _guideline(average: GuidelineAverage | None) -> JsonObject | None:
    if average is None:
        return None
    return {
        "systolic": _number(average.systolic),
        "mean": _number(average.mean),
        "diastolic": _number(average.diastolic),
        "kept": list(average.kept),
        "rule": average.rule,
        "consistent": average.consistent,
        "enough": average.enough,
        "spread": _share(average.spread),
    }


def _meaning(interpretation: Interpretation) -> JsonObject:
    return {
        "rule_set": interpretation.rule_set,
        "rules": interpretation.rules,
        "category": interpretation.category,
        "near_boundary": interpretation.near_boundary,
        "categories": {"today": _categories(interpretation.today), "animal": _categories(interpretation.animal)},
        "day_to_day_sd": _number(interpretation.day_to_day_sd),
        "method_sd": _number(interpretation.method_sd),
        "low_today": _share(interpretation.low_today),
        "status": _status(interpretation.status),
        "organ_damage": interpretation.organ_damage,
        "organs": [_organ(check) for check in interpretation.organs],
        "next": [_advice(advice) for advice in interpretation.next],
        "would_change": [_would_change(change) for change in interpretation.would_change],
        "clues": [_clue(clue) for clue in interpretation.clues],
        "breed": _breed(interpretation.breed),
        "other_rule_sets": [_other_rules(other) for other in interpretation.others],
        "cautions": [_caution(caution) for caution in interpretation.cautions],
    }


def _organ(check: OrganCheck) -> JsonObject:
    eyes = {eye.replace(" ", "_"): state for eye, state in check.eyes}
    return {"organ": check.organ, "state": check.state, "eyes": eyes or None}


def _status(status: AnimalStatus | None) -> JsonObject | None:
    if status is None:
        return None
    return {
        "name": status.name,
        "reason": status.reason,
        "says": status_sentence(status),
        "numbers": _numbers(status.numbers),
        "rests_on_days_ago": [_number(day) for day in status.rests_on],
        "left_out_days_ago": [_number(day) for day in status.left_out],
        "too_low": status.too_low,
        "persists": status.persists,
    }


def _clue(clue: Clue) -> JsonObject:
    return {
        "code": clue.code,
        "direction": clue.direction,
        "strength": clue.strength,
        "says": clue_sentence(clue),
        "numbers": _numbers(clue.numbers),
        "source": clue.source,
        "standing": clue.standing,
    }


def _breed(remark: BreedRemark | None) -> JsonObject | None:
    if remark is None:
        return None
    return {
        "breed": remark.breed,
        "tendency": remark.tendency,
        "says": breed_sentence(remark),
        "systolic": _number(remark.systolic_mmhg),
        "sd": _number(remark.sd_mmhg),
        "source": remark.source,
        "standing": remark.standing,
    }


def _other_rules(other: OtherRules) -> JsonObject:
    return {
        "rule_set": other.rule_set,
        "category": other.category,
        "treatment": other.treatment,
        "goal": other.goal,
        "line": _number(other.line_mmhg),
        "differs": list(other.differs),
        "says": other_rules_sentence(other),
        "source": other.source,
        "standing": other.standing,
    }


def _would_change(change: WouldChange) -> JsonObject:
    return {
        "code": change.code,
        "says": would_change_sentence(change),
        "numbers": _numbers(change.numbers),
        "then": [_advice(advice) for advice in change.then],
    }


def _categories(categories: Sequence[CategoryProbability]) -> list[JsonObject]:
    return [
        {
            "name": category.name,
            "from": _number(category.from_mmhg),
            "to": _number(category.to_mmhg),
            "probability": _share(category.probability),
        }
        for category in categories
    ]


def _advice(advice: Advice) -> JsonObject:
    return {
        "code": advice.code,
        "says": advice_words.sentence(advice),
        "within_days": None if advice.within_days is None else [_number(day) for day in advice.within_days],
        "numbers": _numbers(advice.numbers),
        "source": advice.source,
        "place": advice.place,
        "standing": advice.standing,
    }


def _caution(caution: Caution) -> JsonObject:
    return {"code": caution.code, "says": caution_words.sentence(caution), "numbers": _numbers(caution.numbers)}
