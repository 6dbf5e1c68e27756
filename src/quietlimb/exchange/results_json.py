"""Results as JSON objects. What each member means is written in `schemas/`, how numbers are rounded in `json_values`;
probabilities may therefore add up to 1 only within 2e-4.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Final

from quietlimb.engine.circumstances import Circumstances, Species
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.findings import Finding
from quietlimb.engine.interpretation.interpretation import (
    Advice,
    AnimalStatus,
    CategoryProbability,
    Caution,
    Clue,
    InRecord,
    Interpretation,
    OrganCheck,
    OtherRules,
    WouldChange,
)
from quietlimb.engine.reading import Reading
from quietlimb.engine.recording import Recording
from quietlimb.engine.session.charted import ChartedPressure, GuidelineAverage, ReadingInSeries
from quietlimb.engine.session.series import Series
from quietlimb.engine.session.two_values import TwoValues, two_values
from quietlimb.engine.standards.breeds import BreedRemark
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.json_values import JsonObject, error_object, estimate_or_null, number_or_null, share_or_null
from quietlimb.instruments.cuffs import CuffChoice
from quietlimb.words import advice as advice_words
from quietlimb.words import cautions as caution_words
from quietlimb.words import findings as finding_words
from quietlimb.words.breeds import breed_sentence
from quietlimb.words.clues import clue_sentence
from quietlimb.words.enough import enough_sentences
from quietlimb.words.other_rules import other_rules_sentence, would_change_sentence
from quietlimb.words.status import status_sentence

if TYPE_CHECKING:
    from quietlimb.engine.session.enough import Enough
    from quietlimb.exchange.converted_json import Beside

READ: Final = "quietlimb/read/1"
CHART: Final = "quietlimb/chart/1"
INTERPRET: Final = "quietlimb/interpret/1"
CUFF: Final = "quietlimb/cuff/1"


def reading_object(path_as_given: str, reading: Reading, recording: Recording) -> JsonObject:
    """What `read` tells about a recording."""
    return {
        "schema": READ,
        "recording": path_as_given,
        "invented": recording.circumstances.is_invented,
        "verdict": reading.verdict,
        "systolic": estimate_or_null(reading.systolic),
        "mean": estimate_or_null(reading.mean),
        "diastolic": estimate_or_null(reading.diastolic),
        "pulse_rate": estimate_or_null(reading.pulse_rate),
        "method": reading.method,
        "findings": [_finding(finding) for finding in reading.findings],
        "circumstances": _circumstances(recording.circumstances),
        "engine": ENGINE_VERSION,
        "fingerprint": recording.fingerprint,
    }


def reading_error_object(path_as_given: str, error: QuietlimbError) -> JsonObject:
    """What `read` tells about a file that cannot be read."""
    return {"schema": READ, "recording": path_as_given, "error": error_object(error)}


def charted_object(
    path_as_given: str,
    charted: ChartedPressure,
    interpretation: Interpretation,
    found: Enough | None = None,
    converted: Beside | None = None,
) -> JsonObject:
    """What `chart` tells about a session.

    found     : whether the readings are enough; None where nothing is charted, or nobody asked
    converted : beside the measured value, where a conversion was chosen
    """
    series = charted.series
    return {
        "schema": CHART,
        "session": path_as_given,
        "invented": series.circumstances.is_invented,
        **{name: estimate_or_null(getattr(charted, name)) for name in ("systolic", "mean", "diastolic", "pulse_rate")},
        "course": charted.course,
        "course_probability": _course_probability(charted),
        "fall_mmHg": number_or_null(charted.fall_mmhg),
        "levels_off_mmHg": number_or_null(charted.levels_off_mmhg),
        "readings": [_reading_in_series(series, k, judged) for k, judged in enumerate(charted.readings)],
        "correlation": {name: number_or_null(value, 4) for name, value in charted.correlation.items()},
        "guideline": _guideline(charted.guideline),
        "two_values": _two_values(two_values(charted, rules=interpretation.rules)),
        "enough": _enough(found),
        "converted": None if converted is None else _beside(converted),
        "findings": [_finding(finding) for finding in charted.findings],
        **_meaning(interpretation),
        "circumstances": _circumstances(series.circumstances),
        "parameters": dict(charted.parameters),
        "engine": ENGINE_VERSION,
        "fingerprint": charted.fingerprint,
    }


def _beside(converted: Beside) -> JsonObject:
    # imported here, as reading needs no part of scipy, which a conversion does
    from quietlimb.exchange.converted_json import beside_object

    return beside_object(converted)


def charted_error_object(path_as_given: str, error: QuietlimbError) -> JsonObject:
    """What `chart` tells about a session that cannot be read."""
    return {"schema": CHART, "session": path_as_given, "error": error_object(error)}


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
        "systolic": number_or_null(systolic_mmhg),
        "sd": number_or_null(sd_mmhg),
        **_meaning(interpretation),
        "engine": ENGINE_VERSION,
    }


def cuff_object(circumference_cm: float, species: Species, choices: Sequence[CuffChoice]) -> JsonObject:
    """What `cuff` tells about a limb: the widths in the order of `choices`."""
    return {
        "schema": CUFF,
        "species": species,
        "limb_circumference_cm": number_or_null(circumference_cm),
        "cuffs": [
            {
                "width_cm": number_or_null(choice.width_cm),
                "ratio": share_or_null(choice.ratio),
                "fit": choice.fit,
                "direction": choice.direction,
            }
            for choice in choices
        ],
        "engine": ENGINE_VERSION,
    }


def _course_probability(charted: ChartedPressure) -> JsonObject | None:
    if charted.systolic is None or charted.fall_mmhg is None:
        return None  # what is expected of any series says nothing about this one, and one reading tells no course
    return {
        name: share_or_null(share)
        for name, share in zip(("level", "falling", "rising"), charted.course_probability, strict=True)
    }


def _finding(finding: Finding) -> JsonObject:
    return {
        "code": finding.code,
        "severity": finding.severity,
        "says": finding_words.says(finding),
        "remedy": finding_words.remedy(finding),
        "touches": list(finding.touches),
        "at_s": number_or_null(finding.at_s),
        "at_mmHg": number_or_null(finding.at_mmhg),
        "numbers": _numbers(finding.numbers),
    }


def _numbers(numbers: Mapping[str, float]) -> JsonObject:
    return {name: number_or_null(value, 4) for name, value in numbers.items()}


def _circumstances(circumstances: Circumstances) -> JsonObject:
    return {name: value for name, value in asdict(circumstances).items() if value is not None}


def _reading_in_series(series: Series, k: int, judged: ReadingInSeries) -> JsonObject:
    return {
        "minute": number_or_null(judged.minute),
        "systolic": number_or_null(series.systolic[k]),
        "mean": number_or_null(series.mean[k]),
        "diastolic": number_or_null(series.diastolic[k]),
        "pulse_rate": number_or_null(series.pulse_rate[k]),
        "verdict": judged.verdict,
        "weights": {
            "systolic": share_or_null(judged.systolic_weight),
            "mean": share_or_null(judged.mean_weight),
            "diastolic": share_or_null(judged.diastolic_weight),
        },
        "why": list(dict.fromkeys(finding.code for finding in judged.findings if finding.severity != "note")),
        "findings": [_finding(finding) for finding in judged.findings],
    }


def _guideline(average: GuidelineAverage | None) -> JsonObject | None:
    if average is None:
        return None
    return {
        "systolic": number_or_null(average.systolic),
        "mean": number_or_null(average.mean),
        "diastolic": number_or_null(average.diastolic),
        "kept": list(average.kept),
        "left_out": {part: list(average.left_out.get(part, ())) for part in ("mean", "diastolic")},
        "rule": average.rule,
        "consistent": None if average.spread is None else average.consistent,
        "consistent_but_for_spoiled": average.consistent_but_for_spoiled,
        "enough": average.enough,
        "spread": share_or_null(average.spread),
    }


def _two_values(two: TwoValues | None) -> JsonObject | None:
    if two is None:
        return None
    return {
        "difference_mmHg": number_or_null(two.difference_mmhg),
        "charted_category": two.charted_category,
        "guideline_category": two.guideline_category,
        "to_choose": two.to_choose,
        "parts": [
            {"cause": part.cause, "mmHg": number_or_null(part.mmhg), "readings": list(part.readings)}
            for part in two.parts
        ],
    }


def _enough(found: Enough | None) -> JsonObject | None:
    if found is None:
        return None
    return {
        "half_width_mmHg": number_or_null(found.half_width_mmhg),
        "expected_half_width_mmHg": [number_or_null(width) for width in found.expected_half_width_mmhg],
        "shared_half_width_mmHg": number_or_null(found.shared_half_width_mmhg),
        "wanted_mmHg": number_or_null(found.wanted_mmhg),
        "category": found.category,
        "category_probability": share_or_null(found.category_probability),
        "boundary_mmHg": number_or_null(found.boundary_mmhg),
        "by_numbers": found.by_numbers,
        "by_protocol": found.by_protocol,
        "protocol_kept": found.protocol_kept,
        "protocol_needed": found.protocol_needed,
        "more": found.more,
        "why": list(found.why),
        "says": enough_sentences(found),
    }


def _meaning(interpretation: Interpretation) -> JsonObject:
    return {
        "rule_set": interpretation.rule_set,
        "rules": interpretation.rules,
        "category": interpretation.category,
        "near_boundary": interpretation.near_boundary,
        "categories": {"today": _categories(interpretation.today), "animal": _categories(interpretation.animal)},
        "day_to_day_sd": number_or_null(interpretation.day_to_day_sd),
        "day_to_day_source": _source(interpretation.day_to_day_source),
        "method_sd": number_or_null(interpretation.method_sd),
        "low_today": share_or_null(interpretation.low_today),
        "low_animal": share_or_null(interpretation.low_animal),
        "status": _status(interpretation.status),
        "organ_damage": interpretation.organ_damage,
        "organs": [_organ(check) for check in interpretation.organs],
        "next": [advice_object(advice) for advice in interpretation.next],
        "would_change": [_would_change(change) for change in interpretation.would_change],
        "clues": [_clue(clue) for clue in interpretation.clues],
        "breed": _breed(interpretation.breed),
        "in_record": [_in_record(each) for each in interpretation.in_record],
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
        "rests_on_days_ago": [number_or_null(day) for day in status.rests_on],
        "left_out_days_ago": [number_or_null(day) for day in status.left_out],
        "left_out_why": list(status.left_out_why),
        "goal_standing": status.goal_standing,
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
        "systolic": number_or_null(remark.systolic_mmhg),
        "sd": number_or_null(remark.sd_mmhg),
        "diastolic": number_or_null(remark.diastolic_mmhg),
        "source": remark.source,
        "standing": remark.standing,
    }


def _in_record(found: InRecord) -> JsonObject:
    least, largest = found.share
    return {
        "kind": found.kind,
        "name": found.name,
        "least_share": share_or_null(least),
        "largest_share": share_or_null(largest),
        "source": found.source,
        "standing": found.standing,
    }


def _other_rules(other: OtherRules) -> JsonObject:
    return {
        "rule_set": other.rule_set,
        "category": other.category,
        "treatment": other.treatment,
        "goal": other.goal,
        "line": number_or_null(other.line_mmhg),
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
        "then": [advice_object(advice) for advice in change.then],
    }


def _categories(categories: Sequence[CategoryProbability]) -> list[JsonObject]:
    return [
        {
            "name": category.name,
            "from": number_or_null(category.from_mmhg),
            "to": number_or_null(category.to_mmhg),
            "probability": share_or_null(category.probability),
        }
        for category in categories
    ]


def advice_object(advice: Advice) -> JsonObject:
    """One thing to do next, by which rule."""
    return {
        "code": advice.code,
        "says": advice_words.sentence(advice),
        "within_days": None if advice.within_days is None else [number_or_null(day) for day in advice.within_days],
        "numbers": _numbers(advice.numbers),
        "source": advice.source,
        "place": advice.place,
        "standing": advice.standing,
    }


def _source(source: tuple[str, str] | None) -> JsonObject | None:
    return None if source is None else {"source": source[0], "standing": source[1]}


def _caution(caution: Caution) -> JsonObject:
    return {
        "code": caution.code,
        "says": caution_words.sentence(caution),
        "numbers": _numbers(caution.numbers),
        "sources": [_source(each) for each in caution.sources],
    }
