"""Every sentence of this room, with plausible invented numbers."""

from __future__ import annotations

from quietlimb.engine.findings import FINDING_CODES, Finding
from quietlimb.engine.interpretation.cautions import CAUTION_CODES
from quietlimb.engine.interpretation.decision import DECISION_CODES
from quietlimb.engine.interpretation.interpret import interpret_systolic
from quietlimb.engine.interpretation.interpretation import Advice, Caution
from quietlimb.engine.interpretation.measuring import MEASURING_CODES
from quietlimb.engine.values import Estimate
from quietlimb.words import advice, categories, cautions, courses, cuffs, findings, organs

ADVICE_CODES = {**DECISION_CODES, **MEASURING_CODES}


def a_finding(code: str, at_mmhg: float | None = None) -> Finding:
    numbers = {name: 2.0 + k for k, name in enumerate(FINDING_CODES[code])}
    return Finding(code=code, severity="doubt", numbers=numbers, at_mmhg=at_mmhg)


def an_advice(code: str, **changes: object) -> Advice:
    told: dict[str, object] = {
        "code": code,
        "within_days": (7.0, 14.0),
        "numbers": {name: 100.0 + 70.0 * k for k, name in enumerate(ADVICE_CODES[code])},
        "source": "ACVIM2018",
        "place": "decision flow",
        "standing": "from memory",
    }
    return Advice(**{**told, **changes})


def a_caution(code: str) -> Caution:
    return Caution(code=code, numbers={name: 3.0 + k for k, name in enumerate(CAUTION_CODES[code])})


def every_sentence() -> list[str]:
    told: list[str] = []
    for code in FINDING_CODES:
        for at_mmhg in (None, 150.0):
            finding = a_finding(code, at_mmhg)
            told += [findings.says(finding), findings.remedy(finding) or ""]
    for code in ADVICE_CODES:
        told += [advice.sentence(an_advice(code)), advice.source_line(an_advice(code))]
    told += [cautions.sentence(a_caution(code)) for code in CAUTION_CODES]
    told += [categories.category_name(name) for name in categories.NAMES]
    told += [categories.category_risk(name) for name in categories.RISKS]
    told += [courses.course_name(course) for course in courses.COURSES]
    told += [cuffs.fit_words(fit) for fit in cuffs.FITS]
    told += [cuffs.remark_sentence(remark, circumference_cm=20.0, species="cat") for remark in cuffs.REMARKS]
    told += [cuffs.judged_by(species) for species in ("cat", "dog")]
    told.append(cuffs.how_to_measure())
    for systolic in (None, 60.0, 150.0, 172.0):
        spread = (
            None
            if systolic is None
            else Estimate(value=systolic, low=systolic - 50.0, high=systolic + 50.0, own_sd=25.5, shared_sd=0.0)
        )
        meaning = interpret_systolic(spread, species="cat")
        told += [categories.heading(meaning), categories.brief_heading(meaning)]
    told += [line for line in (advice.shared_source_line([an_advice("recheck")] * 2),) if line]
    for organ in organs.NAMES:
        told_list = organs.check_list(organ)
        told += [told_list.name, told_list.noticed_at_home, told_list.look_for, told_list.examine]
    return [sentence for sentence in told if sentence]
