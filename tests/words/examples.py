"""Every sentence of this room, with plausible invented numbers."""

from __future__ import annotations

from dataclasses import replace

from quietlimb.engine.findings import FINDING_CODES, REMARK_CODES, Finding
from quietlimb.engine.interpretation.background import Background
from quietlimb.engine.interpretation.cautions import CAUTION_CODES
from quietlimb.engine.interpretation.clues import CLUE_CODES
from quietlimb.engine.interpretation.decision import DECISION_CODES
from quietlimb.engine.interpretation.interpret import interpret_systolic
from quietlimb.engine.interpretation.interpretation import Advice, AnimalStatus, Caution, Clue, OtherRules, WouldChange
from quietlimb.engine.interpretation.measuring import MEASURING_CODES
from quietlimb.engine.interpretation.screen import SCREEN_CODES
from quietlimb.engine.interpretation.status import STATUS_REASONS
from quietlimb.engine.interpretation.would_change import CHANGE_CODES
from quietlimb.engine.standards.breeds import MEANS, SIGHTHOUNDS, breed_remark
from quietlimb.engine.values import Estimate
from quietlimb.simulator.training import CASES, Displayed
from quietlimb.teaching.debriefing import Cost, Debrief, Judged, Tape
from quietlimb.teaching.marks import GRADES, grade_of
from quietlimb.teaching.practice import RULES, Code, Departure
from quietlimb.teaching.to_the_owner import judge
from quietlimb.words import (
    advice,
    breeds,
    categories,
    cautions,
    clues,
    courses,
    cuffs,
    findings,
    live,
    organs,
    other_rules,
    status,
    training,
)

ADVICE_CODES = {**DECISION_CODES, **MEASURING_CODES, **SCREEN_CODES}


def a_finding(code: str, at_mmhg: float | None = None) -> Finding:
    numbers = {name: 2.0 + k for k, name in enumerate(FINDING_CODES[code])}
    return Finding(code=code, severity="doubt", numbers=numbers, at_mmhg=at_mmhg)


def a_remark(code: str) -> Finding:
    numbers = {name: 2.0 + k for k, name in enumerate(REMARK_CODES[code])}
    return Finding(code=code, severity="doubt", numbers=numbers)


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


def a_status(reason: str, **changes: object) -> AnimalStatus:
    told: dict[str, object] = {
        "name": "suspected",
        "reason": reason,
        "numbers": {name: 12.0 + 7.0 * k for k, name in enumerate(STATUS_REASONS[reason])},
        "rests_on": (30.0, 0.0),
        "left_out": (5.0,),
        "left_out_why": ("sedated",),
    }
    return AnimalStatus(**{**told, **changes})


def a_clue(code: str) -> Clue:
    numbers = {name: 130.0 + k for k, name in enumerate(CLUE_CODES[code])}
    return Clue(code=code, direction="for", strength="strong", numbers=numbers, source="practice", standing="derived")


def another_rule_set(**changes: object) -> OtherRules:
    told: dict[str, object] = {
        "rule_set": "IRIS 2015",
        "category": "AP1",
        "treatment": "not reached",
        "line_mmhg": 170.0,
        "differs": ("category", "treatment"),
        "source": "IRIS2015",
        "standing": "published",
    }
    return OtherRules(**{**told, **changes})


def a_change(code: str) -> WouldChange:
    numbers = {name: 140.0 + k for k, name in enumerate(CHANGE_CODES[code])}
    return WouldChange(code=code, numbers=numbers, then=(an_advice("repeat-session"), an_advice("treatment-now")))


def sentences_about_the_animal() -> list[str]:
    told = [status.status_sentence(a_status(reason)) for reason in STATUS_REASONS]
    told += [status.status_sentence(a_status("never-high", name=name)) for name in status.NAMES]
    told += [status.status_sentence(a_status("never-high", persists="hypertensive"))]
    told += [clues.clue_sentence(a_clue(code)) for code in CLUE_CODES]
    told += [other_rules.other_rules_sentence(another_rule_set(treatment=says)) for says in other_rules.TREATMENT]
    told += [
        other_rules.other_rules_sentence(another_rule_set(goal=goal, differs=("goal",))) for goal in other_rules.GOALS
    ]
    for says in other_rules.TREATMENT:
        alike = [another_rule_set(differs=("treatment",), treatment=says, category=None)] * 2
        told += other_rules.other_rules_sentences(alike)
    told += [other_rules.would_change_sentence(a_change(code)) for code in CHANGE_CODES]
    for breed in (*MEANS, *SIGHTHOUNDS, "irish wolfhound"):
        remark = breed_remark("dog", breed)
        assert remark is not None
        told.append(breeds.breed_sentence(remark))
    birman = breed_remark("cat", "birman")
    assert birman is not None
    return [*told, breeds.breed_sentence(birman), breeds.no_figure_sentence("Ragdoll")]


def a_cost(code: Code) -> Cost:
    return Cost(
        code=code,
        numbers=(1, 2),
        departures=(Departure(code=code, chosen=7.5, wanted=3.0),) * 2,
        lost=(),
        modelled_mmhg=25.1,
        found_mmhg=24.6,
        beside="as done",
        widened_mmhg=1.0,
        readings=0,
        rule=RULES[code],
    )


def a_debrief(charted_mmhg: float | None) -> Debrief:
    case = CASES["just-arrived"]
    error = None if charted_mmhg is None else charted_mmhg - case.resting.systolic
    return Debrief(
        case=case,
        resting=case.resting,
        charted_mmhg=charted_mmhg,
        error_mmhg=error,
        grade=grade_of(error),
        measured=None,
        all_mended=None,
        costs=(),
        inflations=(),
        spoiled_kept=(),
        good_discarded=(),
        wasted=0,
        enough=False,
        consistent=False,
        minutes=14.0,
    )


def a_judged(number: int) -> Judged:
    return Judged(
        number=number,
        minute=2.0 * number,
        kept=True,
        why=None,
        verdict="keep",
        systolic=None,
        true_systolic=130.0,
        counts=True,
    )


def sentences_of_a_debrief() -> list[str]:
    value = Estimate(value=131.0, low=121.0, high=141.0, own_sd=5.0, shared_sd=0.0)
    told = [training.done_sentence(a_cost(code).departure) for code in RULES]
    for code in RULES:
        for found in (None, 0.0, 9.0):
            for readings in (0, 1, 3):
                told.append(
                    training.cost_sentence(replace(a_cost(code), found_mmhg=found, readings=readings, widened_mmhg=4.0))
                )
                told.append(
                    training.cost_sentence(replace(a_cost(code), found_mmhg=found, readings=readings, beside="mended"))
                )
        told.append(training.cost_sentence(replace(a_cost(code), lost=(1, 2), readings=2)))
        told.append(training.cost_sentence(replace(a_cost(code), lost_too=(1,), lost_besides=(2, 3))))
        told.append(training.cost_sentence(replace(a_cost(code), lost_too=(1, 2), lost_besides=(3,))))
        told += [training.rule_line(a_cost(code)), training.inflations_sentence(a_cost(code))]
        for numbers, fits in (((1,), True), ((1, 2), False)):
            for cost in (None, a_cost(code), replace(a_cost(code), found_mmhg=None)):
                tape = Tape(numbers=numbers, told_cm=12.0, is_cm=8.0, by_the_tape=fits, cost=cost)
                told += training.besides_sentences(replace(a_debrief(None), tape=tape, left_full_mmhg=317.0))
    for code in training.REACHED:
        told.append(training.done_sentence(Departure(code=code, chosen=300.0, wanted=210.0, reached=317.0)))
    for fault in (None, *(case.fault for case in CASES.values() if case.fault is not None)):
        told += [training.looked_over_sentence(replace(CASES["just-arrived"], fault=fault), before=k) for k in (1, 3)]
    told += training.besides_sentences(replace(a_debrief(None), looked_over_before=1))
    for charted in (None, 120.0, 128.0, 150.0):
        session = a_debrief(charted)
        told += [training.truth_sentence(session), training.engine_sentence(session)]
        for said in (None, *training.SAYINGS):
            for true in (120.0, 128.0, 150.0, 200.0):
                owner = judge(said, charted_mmhg=charted, true_mmhg=true)
                told += [*training.owner_sentences(replace(session, owner=owner)), training.owner_rule_line(owner)]
        kept = replace(session, spoiled_kept=(1,), good_discarded=(2, 3), measured=value, all_mended=value)
        told += [*training.readings_sentences(kept), training.engine_sentence(kept)]
        told += [training.engine_sentence(replace(kept, costs=(a_cost("table"),)))]
        told += training.readings_sentences(replace(kept, spoiled_kept=(1, 2), good_discarded=(3,), enough=True))
        for short in (0, 1, 3):
            hurried = replace(kept, averaged=short, unrested=(2,) * short, shortest_rest_s=4.0)
            told += training.readings_sentences(hurried)
    told += [training.grade_sentence(grade) for grade in GRADES]
    told += [training.display_words(Displayed(failure=failure)) for failure in training.FAILURES]
    told += [training.choice_label(name) for name in training.CHOICES]
    told += [training.departure_name(code) for code in RULES]
    told += [training.saying_label(said) for said in training.SAYINGS]
    told += [training.difficulty_name(difficulty) for difficulty in training.DIFFICULTIES]
    return [*told, training.invented_sentence()]


def every_sentence() -> list[str]:
    told: list[str] = [*sentences_about_the_animal(), *sentences_of_a_debrief()]
    for code in FINDING_CODES:
        for at_mmhg in (None, 150.0):
            finding = a_finding(code, at_mmhg)
            told += [findings.says(finding), findings.remedy(finding) or ""]
    told += [live.say(a_remark(code)) for code in REMARK_CODES]
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
        for rules in ("acvim-2018", "iris-2015", "acvim-2007"):
            meaning = interpret_systolic(spread, species="cat", rules=rules, background=Background(breed="Birman"))
            told += [categories.heading(meaning), categories.brief_heading(meaning)]
    told += [line for line in (advice.shared_source_line([an_advice("recheck")] * 2),) if line]
    for organ in organs.NAMES:
        told += [*organs.figures(organ, "cat"), *organs.figures(organ, "dog")]
        told_list = organs.check_list(organ)
        told += [told_list.name, told_list.noticed_at_home, told_list.look_for, told_list.examine]
    return [sentence for sentence in told if sentence]
