"""Everything that is written of learning."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from quietlimb.capture.keeping import Keeping
from quietlimb.capture.paced import Paced
from quietlimb.capture.source import INVENTED_KEY, NOT_A_PATIENT
from quietlimb.clinic.animals.models import Animal
from quietlimb.clinic.animals.services import animal_add
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.journal.changing import change
from quietlimb.clinic.live import left
from quietlimb.clinic.live.running import CAPTURES, Order, Saved
from quietlimb.clinic.live.services import fresh, recording_save
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.recordings.files import recording_of
from quietlimb.clinic.sessions.entry import EntryError
from quietlimb.clinic.sessions.models import Series, Session
from quietlimb.clinic.sessions.results import reading_of
from quietlimb.clinic.stores import PRACTICE, TEACHING, present, together, working_in
from quietlimb.clinic.teaching.choosing import choices_of
from quietlimb.clinic.teaching.clock import let_pass
from quietlimb.clinic.teaching.learners import learner_of
from quietlimb.clinic.teaching.models import OwnCase, TrainingInflation, TrainingResult, TrainingRun
from quietlimb.clinic.teaching.telling import told_of, told_of_nothing
from quietlimb.engine.deflation import IDLE_MMHG
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.reading import Reading as EngineReading
from quietlimb.engine.recording import Recording
from quietlimb.engine.standards.rule_sets import rule_set
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.simulator.training import CHOICE_NAMES, Case, Choices, Inflation, TrainingAnimal, as_mapping, case_from
from quietlimb.teaching import Attempt, Debrief, Saying, debrief
from quietlimb.words.training import case_remarks

SPEED = 4.0  # of fast time: a deflation passes in less than ten seconds and can still be broken off [invented]
CHECKING = timedelta(minutes=2)  # to hold the display against a manometer and look cuff and tube over [invented]
WAITS_MIN = (1, 5, 10)
CUT_SHORT_MMHG = 3.0  # so much above its end a kept recording was broken off; a pulse is smaller [invented]


def run_begin(person: Person, *, key: str, case: Case, fast: bool) -> TrainingRun:
    """Take on a case: its animal comes in, in the learners' store."""
    with working_in(TEACHING), together():
        learner, now = learner_of(person), timezone.now()
        born = timezone.localdate() - timedelta(days=round(365.25 * case.story.age_years))
        animal = animal_add(
            learner,
            animal=Animal(
                name=case.story.animal,
                species=case.species,
                breed=case.story.breed,
                born=born,
                remarks=case_remarks(case)[:400],
            ),
            owner_name="",
        )
        run = TrainingRun(practice_id=learner.practice_id, animal=animal, learner=learner, fast=fast, came_in_at=now)
        run.begun_at = now
        run.home = person.practice_id
        run.case = {**as_mapping(case), "key": key}
        run.save(force_insert=True)
        return run


def run_of(session: Session) -> TrainingRun | None:
    """The run that a session belongs to; None for an animal of the learner's own."""
    return TrainingRun.objects.select_related(*TrainingRun.FETCHED_WITH).filter(animal=session.animal_id).first()


def places_of(session: Session) -> tuple[str, ...] | None:
    """Where the animal of a session's case can be measured; None where it belongs to no case."""
    run = run_of(session)
    return None if run is None else case_from(run.case).places


def wait(run: TrainingRun, minutes: int) -> None:
    """Let the animal be. Raises EntryError where time passes by itself, or that is no time to wait."""
    if not run.fast or minutes not in WAITS_MIN:
        raise EntryError("no-waiting", _("Time passes by itself here"), _("wait as you would at the table"))
    let_pass(run, timedelta(minutes=minutes))


def check_setup(run: TrainingRun) -> None:
    """Hold the display against a manometer, and look cuff and tube over; that takes two minutes."""
    if not run.checked:
        run.checked, run.checked_before = True, run.inflations.count() + 1
        run.save(update_fields=["checked", "checked_before"])
    if run.fast:
        let_pass(run, CHECKING)


@together()
def cuff_left_full(session: Session, pressure_mmhg: float) -> None:
    """Keep that the session of a case was ended with so much air in the cuff; nothing for any other session."""
    run = run_of(session)
    if run is not None:
        run.left_full_mmhg = pressure_mmhg
        run.save(update_fields=["left_full_mmhg"])


def inflate(by: Person, run: TrainingRun, *, series: Series, told: dict[str, Any]) -> None:
    """Inflate once. Raises EntryError where the session has ended, air is in the cuff still, or a choice is missing."""
    if not series.session.is_open:
        raise EntryError("ended", _("The session has ended"), _("take the case on again"))
    running = CAPTURES.of(series.pk)
    if running is not None and running.is_alive:
        raise EntryError("listening", _("There is air in the cuff still"), _("let it out first"))
    now = timezone.now()
    first = run.inflations.first()
    number, first_at = run.inflations.count() + 1, first.at if first else now
    choices = choices_of(run, series, told, first_at=first_at)
    try:
        made = TrainingAnimal(case_from(run.case)).inflate(
            choices, minute=(now - first_at).total_seconds() / 60.0, number=number
        )
    except ParameterError as error:
        raise EntryError(error.code, error.says, error.remedy) from None
    with together():
        if series.session.acclimatised_since is None:  # the door is known here
            Session.objects.filter(pk=series.session_id).update(acclimatised_since=run.came_in_at)
        row = TrainingInflation(practice_id=run.practice_id, run=run, number=number, at=now)
        row.choices, row.tape_cm = told_choices(choices), series.limb_circumference_cm
        row.save(force_insert=True)
    _play(by, run, row, series, made, now)


def told_choices(choices: Choices) -> dict[str, Any]:
    """Choices as they are kept."""
    return {name: getattr(choices, name) for name in CHOICE_NAMES}


def _play(by: Person, run: TrainingRun, row: TrainingInflation, series: Series, made: Inflation, now: datetime) -> None:
    recording = made.recording
    source = Paced(
        [(recording.time_s, recording.cuff_pressure_mmhg)],
        rate_hz=recording.sampling_rate_hz,
        header={INVENTED_KEY: NOT_A_PATIENT},
        circumstances=recording.circumstances,
        fast=False,
        speed=SPEED if run.fast else 1.0,
        began=now,
    )
    folder = left.folder_for(series, left.new_name())
    lasts = timedelta(seconds=float(recording.time_s[-1] - recording.time_s[0]))

    def keep(path: Path) -> Saved:
        passed = timezone.now() - now
        saved = recording_save(by, series=fresh(series.pk), path=path)
        if run.fast:  # the animal has lived through all of it; the reading too moves into the past, for its file tells
            # when it began by the clock on the wall. Broken off, only as much has been lived through as was played.
            let_pass(run, max(timedelta(), min(lasts - passed, passed * (SPEED - 1.0))))
        if saved.reading:
            TrainingInflation.objects.filter(pk=row.pk).update(reading=saved.reading)
        return saved

    order = Order(
        name=f"training:{run.pk}",
        source=source,
        circumstances=recording.circumstances,
        keeping=Keeping(folder),
        store=present(),
        save_recording=keep,
        save_reading=lambda _reading, _at: Saved(),
        finished=lambda _whole: left.forget(folder),
        began=now,
    )
    if CAPTURES.start(series.pk, order) is None:
        raise EntryError("listening", _("There is air in the cuff still"), _("let it out first"))


def is_claimed(run: TrainingRun) -> bool:
    """Whether the result of a run stands beside its learner's competence."""
    with working_in(PRACTICE):
        return TrainingResult.objects.filter(run=run.pk, person__isnull=False).exists()


def attempts_of(run: TrainingRun) -> list[Attempt]:
    """What the learner did, as the debrief wants it. A reading that was struck through was thrown out."""
    rows = list(run.inflations.select_related("reading__recording"))
    animal = TrainingAnimal(case_from(run.case))
    first = rows[0].at if rows else run.came_in_at
    found = []
    for row in rows:
        reading = row.reading
        kept = reading is not None and reading.counts
        why = None if kept else (reading.struck_because or None) if reading is not None else "broken off"
        minute = max(0.0, (row.at - first).total_seconds() / 60.0)
        choices = Choices(**row.choices)
        found.append(
            Attempt(
                choices=choices,
                minute=minute,
                number=row.number,
                kept=kept,
                why=why,
                as_read=_as_read(row),
                tape_cm=row.tape_cm,
                opened_at_mmhg=_opened_at(row, animal.inflate(choices, minute=minute, number=row.number).recording),
            )
        )
    return found


def _as_read(row: TrainingInflation) -> EngineReading | None:
    """The reading that stands on the table; None where there is none, or another engine made it."""
    kept = row.reading.recording if row.reading is not None else None
    result = None if kept is None else kept.results.get(ENGINE_VERSION)
    return reading_of(result) if result else None


def _opened_at(row: TrainingInflation, whole: Recording) -> float | None:
    """Where the valve was opened [mmHg]: where the kept recording ends, if the whole one goes on; at the top where none
    was kept."""
    kept = row.reading.recording if row.reading is not None else None
    if kept is None:
        return float(whole.cuff_pressure_mmhg.max())
    end = float(recording_of(kept.name, bytes(kept.content), row.run.animal.of_the_engine).cuff_pressure_mmhg[-1])
    return end if end > max(float(whole.cuff_pressure_mmhg[-1]), IDLE_MMHG) + CUT_SHORT_MMHG else None


def run_finish(run: TrainingRun, session: Session, *, to_owner: Saying | None) -> TrainingRun:
    """Look at the truth: the debrief is made once, and a result of nobody goes to the practice's figures.

    to_owner : what the owner is told; it has to be chosen before the truth is seen

    Raises EntryError where the session goes on, or nothing was chosen for the owner.
    """
    if run.finished_at is not None:
        return run
    if session.is_open:
        raise EntryError("open", _("The session goes on"), _("end it first"))
    attempts = attempts_of(run)
    if not attempts:
        run.told, run.finished_at = told_of_nothing(), timezone.now()
        run.save(update_fields=["told", "finished_at"])
        return run
    if to_owner is None:
        raise EntryError(
            "owner-not-told",
            _("What the owner is told was not chosen"),
            _("choose it below, then see the truth"),
        )
    signed = session.signed_values.first()
    case = case_from(run.case)
    made = debrief(
        case,
        attempts,
        None if signed is None else signed.chosen,
        to_the_owner=to_owner,
        looked_over_before=run.checked_before,
        left_full_mmhg=run.left_full_mmhg,
        rules=rule_set(session.practice.rules, case.species),
    )
    now = timezone.now()
    run.to_owner, run.told, run.finished_at = to_owner, told_of(made), now
    run.save(update_fields=["to_owner", "told", "finished_at"])
    _keep_result(run, made, now)
    return run


def _keep_result(run: TrainingRun, made: Debrief, at: datetime) -> None:
    with working_in(PRACTICE), together():
        result = TrainingResult(
            practice_id=run.home,
            run=run.pk,
            case_key=run.case["key"],
            title=made.case.title,
            finished_at=at,
            grade=made.grade,
            error_mmhg=made.error_mmhg,
            inflations=len(made.inflations),
            wasted=made.wasted,
            minutes=made.minutes,
            departures=[each.code for each in made.costs],
            owner_told="" if made.owner is None else made.owner.standing,
        )
        result.save(force_insert=True)
        journal.write(None, "training result kept", result)


@together()
def result_claim(person: Person, *, run_id: uuid.UUID) -> bool:
    """Put a result beside the person's competence, in the practice's store; False where it is not hers."""
    with working_in(TEACHING):
        run = TrainingRun.objects.filter(pk=run_id, learner=person.pk).first()
    result = TrainingResult.objects.filter(run=run_id, practice=person.practice_id).first()
    if run is None or result is None:
        return False
    result.person = person
    change(person, "training result put to the competence", result, fields=("person",))
    return True


@together()
def result_take_back(person: Person, *, run_id: uuid.UUID) -> bool:
    """Let a result be of nobody again; the journal keeps that it was hers. False where it does not stand beside her
    competence."""
    result = TrainingResult.objects.filter(run=run_id, practice=person.practice_id, person=person).first()
    if result is None:
        return False
    result.person = None
    change(person, "training result taken back from the competence", result, fields=("person",))
    return True


@together()
def case_add(by: Person, *, case: Case) -> OwnCase:
    """A case of the practice's own."""
    row = OwnCase(practice_id=by.practice_id, case=as_mapping(case), made_by=by, made_at=timezone.now())
    row.save(force_insert=True)
    journal.write(by, "training case made", row)
    return row


@together()
def case_retire(by: Person, *, row: OwnCase) -> None:
    """Give it no longer."""
    row.retired = True
    change(by, "training case retired", row, fields=("retired",))
