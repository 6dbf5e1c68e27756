"""What the table shows in the teaching room where a real one has the cuff."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor

from django.utils import timezone

from quietlimb.clinic.sessions.models import Session
from quietlimb.clinic.teaching.choosing import WHERE_A_TABLE_IS
from quietlimb.clinic.teaching.forms import InflateForm, OwnerForm
from quietlimb.clinic.teaching.models import TrainingRun
from quietlimb.clinic.teaching.services import WAITS_MIN, run_of
from quietlimb.simulator.training import case_from
from quietlimb.teaching.practice import SLOWEST_FALL, fall_wanted
from quietlimb.words.training import left_full_sentence, looked_over_sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class AtTheCuff:
    """The form for one inflation, and the time that has passed since the animal came in.

    looked_over : what was found when display, cuff and tube were looked over; empty before
    left_full   : that the session was ended with air in the cuff; empty where it was not
    """

    form: InflateForm
    minutes: int
    waits: tuple[int, ...]
    looked_over: str
    left_full: str
    finished: bool
    owner: OwnerForm


def at_the_cuff(session: Session) -> AtTheCuff | None:
    """The panel; None for an animal that belongs to no case."""
    run = run_of(session)
    if run is None:
        return None
    last = run.inflations.last()
    chosen = {} if last is None else last.choices
    initial = {
        "inflate_to": chosen.get("inflate_to_mmhg", 180),
        "fall": chosen.get("fall_mmhg_per_s", usual_fall(run)),
        "steps": chosen.get("deflation") == "steps",
        "limb_free": not chosen.get("limb_loaded", True),
        "tail_held": chosen.get("tail_held", False),
        "on_table": chosen.get("on_table", False),
    }
    form = InflateForm(initial=initial)
    if session.place != WHERE_A_TABLE_IS:
        del form.fields["on_table"]
    return AtTheCuff(
        form=form,
        minutes=int((timezone.now() - run.came_in_at).total_seconds() // 60),
        waits=WAITS_MIN if run.fast else (),
        looked_over=_looked_over(run),
        left_full="" if run.left_full_mmhg is None else left_full_sentence(run.left_full_mmhg),
        finished=run.finished_at is not None,
        owner=OwnerForm(),
    )


def _looked_over(run: TrainingRun) -> str:
    if not run.checked:
        return ""
    return looked_over_sentence(case_from(run.case), before=run.checked_before or 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class AtTheEnd:
    """The way to the truth, on the pages where a learner looks for it.

    finished : whether it was seen, so that only a link is left
    owner    : what has to be chosen before it is seen
    """

    finished: bool
    owner: OwnerForm


def at_the_end(session: Session) -> AtTheEnd | None:
    """The way to the truth; None while the session goes on, and for an animal that belongs to no case."""
    run = None if session.is_open else run_of(session)
    return None if run is None else AtTheEnd(finished=run.finished_at is not None, owner=OwnerForm())


def usual_fall(run: TrainingRun) -> float:
    """What stands in the form before anything was chosen: the fall that is usual for this animal, so that whoever
    leaves it departs from no rule [mmHg/s]."""
    return max(SLOWEST_FALL.value, floor(10.0 * fall_wanted(case_from(run.case))) / 10.0)
