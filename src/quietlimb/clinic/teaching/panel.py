"""What the table shows in the teaching room where a real one has the cuff."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils import timezone

from quietlimb.clinic.sessions.models import Session
from quietlimb.clinic.teaching.forms import InflateForm, OwnerForm
from quietlimb.clinic.teaching.services import WAITS_MIN, run_of


@dataclass(frozen=True, slots=True, kw_only=True)
class AtTheCuff:
    """The form for one inflation, and the time that has passed since the animal came in."""

    form: InflateForm
    minutes: int
    waits: tuple[int, ...]
    checked: bool
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
        "fall": chosen.get("fall_mmhg_per_s", 6),
        "steps": chosen.get("deflation") == "steps",
        "limb_free": not chosen.get("limb_loaded", True),
        "tail_held": chosen.get("tail_held", False),
        "on_table": chosen.get("on_table", False),
    }
    return AtTheCuff(
        form=InflateForm(initial=initial),
        minutes=int((timezone.now() - run.came_in_at).total_seconds() // 60),
        waits=WAITS_MIN if run.fast else (),
        checked=run.checked,
        finished=run.finished_at is not None,
        owner=OwnerForm(),
    )
