"""What is kept of learning: in the learners' store what was done, in the practice's store what came of it."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.rows import PracticeRow


class TrainingRun(PracticeRow):
    """One case that somebody took on, with the animal made for it. Lives in the learners' store alone.

    home       : key of the practice in which the learner works
    case       : the case with its hidden truth, as `simulator.training.as_mapping` writes it
    fast       : inflations and waiting pass faster than they would
    begun_at   : when the case was taken on, by the clock on the wall; None in runs from before that was kept
    came_in_at : when the animal came in; moves into the past as time is let pass
    checked    : whether display, cuff and tube were looked over
    checked_before : the number of the inflation that came next then; None where they were not, or it was not kept
    left_full_mmhg : what the cuff held when the session was ended with air in it; None where it was empty
    to_owner   : what the learner chose that the owner is told; empty until then
    told       : the debrief as it is shown; empty until then
    """

    FETCHED_WITH = ("practice", "animal", "learner")

    animal = models.OneToOneField("animals.Animal", on_delete=models.PROTECT, related_name="training")
    learner = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    home = models.UUIDField()
    case = models.JSONField()
    fast = models.BooleanField(_("time passes faster"), default=True)
    begun_at = models.DateTimeField(null=True, blank=True)
    came_in_at = models.DateTimeField()
    checked = models.BooleanField(default=False)
    checked_before = models.PositiveSmallIntegerField(null=True, blank=True)
    left_full_mmhg = models.FloatField(null=True, blank=True)
    to_owner = models.CharField(max_length=30, blank=True, default="", db_default="")
    told = models.JSONField(default=dict, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)


class TrainingInflation(PracticeRow):
    """One inflation of a run: when, what was chosen, and the reading that came of it.

    tape_cm : the circumference of the limb as the learner put it down; None where that was not told
    """

    run = models.ForeignKey(TrainingRun, on_delete=models.PROTECT, related_name="inflations")
    number = models.PositiveSmallIntegerField()
    at = models.DateTimeField()
    choices = models.JSONField()
    tape_cm = models.FloatField(null=True, blank=True)
    reading = models.ForeignKey(
        "measuring.Reading", on_delete=models.PROTECT, related_name="training", null=True, blank=True
    )

    class Meta:
        ordering: ClassVar = ["number"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["run", "number"], name="an_inflation_has_its_number"),
        ]


class OwnCase(PracticeRow):
    """A case that a practice lead made. One that is no longer given stays for what came of it."""

    case = models.JSONField()
    made_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    retired = models.BooleanField(default=False)

    class Meta:
        ordering: ClassVar = ["made_at", "id"]

    def __str__(self) -> str:
        return str(self.case.get("title", ""))


class TrainingResult(PracticeRow):
    """What came of one run, for the practice's figures; of nobody, unless the person wants it beside her competence.

    run        : the key of the run in the learners' store
    error_mmhg : what was charted minus the truth; None where nothing was charted
    departures : codes of what departed from good practice
    owner_told : how what the owner was told stands to what was charted and to the truth; empty where that was not asked
    """

    run = models.UUIDField(unique=True)
    person = models.ForeignKey(
        "people.Person", on_delete=models.PROTECT, related_name="training_results", null=True, blank=True
    )
    case_key = models.CharField(max_length=80)
    title = models.CharField(max_length=120)
    finished_at = models.DateTimeField()
    grade = models.CharField(max_length=30)
    error_mmhg = models.FloatField(null=True)
    inflations = models.PositiveSmallIntegerField()
    wasted = models.PositiveSmallIntegerField()
    minutes = models.FloatField()
    departures = models.JSONField(default=list)
    owner_told = models.CharField(max_length=30, blank=True, default="", db_default="")

    class Meta:
        ordering: ClassVar = ["-finished_at", "id"]
