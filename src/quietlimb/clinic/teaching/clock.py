"""Time in the teaching room. Now is always now: letting time pass moves what has happened into the past."""

from __future__ import annotations

from datetime import timedelta

from django.db.models import F

from quietlimb.clinic.sessions.models import Reading, Session
from quietlimb.clinic.stores import together
from quietlimb.clinic.teaching.models import TrainingInflation, TrainingRun


@together()
def let_pass(run: TrainingRun, by: timedelta) -> None:
    """Let so much time pass for the animal of a run and all that was done with it."""
    TrainingRun.objects.filter(pk=run.pk).update(came_in_at=F("came_in_at") - by)
    TrainingInflation.objects.filter(run=run).update(at=F("at") - by)
    sessions = Session.objects.filter(animal=run.animal_id, ending="")
    Reading.objects.filter(series__session__in=sessions).update(
        taken_at=F("taken_at") - by, saved_at=F("saved_at") - by
    )
    sessions.update(started_at=F("started_at") - by, acclimatised_since=F("acclimatised_since") - by)
    run.refresh_from_db()
