"""Owners, animals and what happened to them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any, ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.rows import PracticeRow, one_of
from quietlimb.clinic.sought import sought_by
from quietlimb.engine.circumstances import Species as EngineSpecies
from quietlimb.engine.follow_up.recheck import DueState


class Species(models.TextChoices):
    """The animals that the engine knows."""

    CAT = "cat", _("cat")
    DOG = "dog", _("dog")


class Sex(models.TextChoices):
    """As it stands in the record."""

    FEMALE = "female", _("female")
    FEMALE_NEUTERED = "female neutered", _("female, neutered")
    MALE = "male", _("male")
    MALE_NEUTERED = "male neutered", _("male, neutered")


class Found(PracticeRow):
    """A row that is found by a few letters.

    sought : by which it is found, worked out anew at every saving
    """

    SOUGHT_BY: ClassVar[tuple[str, ...]] = ()

    sought = models.TextField(blank=True, default="", db_default="", editable=False)

    class Meta:
        abstract = True

    def save(self, *arguments: Any, update_fields: Iterable[str] | None = None, **named: Any) -> None:
        """Save it with what it is found by."""
        self.sought = sought_by(*(getattr(self, name) for name in self.SOUGHT_BY))
        if update_fields is not None:
            update_fields = {*update_fields, "sought"}
        super().save(*arguments, update_fields=update_fields, **named)


class Owner(Found):
    """Who answers for an animal.

    imported : what the last import wrote into each field, so that the next one sees what a person changed here since
    """

    SOUGHT_BY = ("name", "telephone", "link_id")

    name = models.CharField(_("owner"), max_length=120)
    telephone = models.CharField(_("telephone"), max_length=60, blank=True)
    email = models.EmailField(_("e-mail"), blank=True)
    address = models.TextField(_("address"), blank=True)
    link_id = models.CharField(_("number in your records"), max_length=80, blank=True)
    imported = models.JSONField(default=dict, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["practice", "link_id"], condition=~models.Q(link_id=""), name="a_link_id_is_one_owner"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Animal(Found):
    """An animal. `link_id` is its number in the record that it lives in elsewhere; `imported` as of an owner.

    born_about  : its age was told, and the day of birth was worked out from it
    merged_into : the one that stands, where this row turned out to be a double of it; everything has moved there
    """

    SOUGHT_BY = ("name", "link_id")

    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="animals", null=True, blank=True)
    name = models.CharField(_("animal"), max_length=80)
    species = models.CharField(_("species"), max_length=10, choices=Species.choices)
    breed = models.CharField(_("breed"), max_length=80, blank=True)
    colour = models.CharField(_("colour"), max_length=80, blank=True)
    born = models.DateField(_("born"), null=True, blank=True)
    born_about = models.BooleanField(_("born about then"), default=False, db_default=False)
    sex = models.CharField(_("sex"), max_length=20, choices=Sex.choices, blank=True)
    remarks = models.CharField(_("remarks"), max_length=400, blank=True)
    link_id = models.CharField(_("number in your records"), max_length=80, blank=True)
    deceased_on = models.DateField(_("deceased on"), null=True, blank=True)
    merged_into = models.ForeignKey(
        "self", verbose_name=_("a double of"), on_delete=models.PROTECT, related_name="doubles", null=True, blank=True
    )
    imported = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering: ClassVar = ["name", "id"]
        indexes: ClassVar = [models.Index(fields=["practice", "name"], name="animal_by_name")]
        constraints: ClassVar = [
            models.CheckConstraint(condition=one_of("species", Species), name="known_species"),
            models.CheckConstraint(condition=one_of("sex", Sex, blank=True), name="known_sex"),
            models.UniqueConstraint(
                fields=["practice", "link_id"], condition=~models.Q(link_id=""), name="a_link_id_is_one_animal"
            ),
        ]

    @property
    def of_the_engine(self) -> EngineSpecies:
        """The species as the engine names it; the database knows no third."""
        return "cat" if self.species == Species.CAT else "dog"

    def __str__(self) -> str:
        return self.name


class Event(PracticeRow):
    """Something about the treatment: the prescription as somebody wrote it, never one of ours."""

    class Kind(models.TextChoices):
        """What happened."""

        STARTED = "started", _("started")
        INCREASED = "stepped up", _("stepped up")
        DECREASED = "stepped down", _("stepped down")
        STOPPED = "stopped", _("stopped")
        MISSED = "missed", _("missed")

    animal = models.ForeignKey(Animal, on_delete=models.PROTECT, related_name="events")
    on = models.DateField(_("on"))
    kind = models.CharField(_("what"), max_length=20, choices=Kind.choices)
    prescription = models.CharField(_("prescription as written"), max_length=400, blank=True)

    class Meta:
        ordering: ClassVar = ["on", "id"]


class Condition(PracticeRow):
    """An illness, or a class of drugs in the record, that the interpretation may have to know; codes of the engine."""

    class Kind(models.TextChoices):
        """What the code names."""

        ILLNESS = "illness", _("illness")
        DRUG = "drug class", _("class of drug")

    animal = models.ForeignKey(Animal, on_delete=models.PROTECT, related_name="conditions")
    kind = models.CharField(max_length=20, choices=Kind.choices)
    code = models.CharField(max_length=60)
    since = models.DateField(null=True, blank=True)
    until = models.DateField(null=True, blank=True)


class OrganFinding(PracticeRow):
    """What was seen of one organ on one day. What has no row was not examined; absent is never assumed."""

    class Organ(models.TextChoices):
        """The organs that high pressure damages."""

        EYES = "eyes", _("eyes")
        BRAIN = "brain", _("brain")
        HEART = "heart", _("heart and vessels")
        KIDNEYS = "kidneys", _("kidneys")

    class State(models.TextChoices):
        """As the engine tells them apart; known disease is of the kidneys alone."""

        PRESENT = "present", _("present")
        ABSENT = "absent", _("absent")
        KNOWN_DISEASE = "known disease", _("known disease, not progressing")
        UNCLEAR = "unclear", _("unclear")
        NOT_EXAMINED = "not examined", _("not examined")

    class Side(models.TextChoices):
        """Of the eyes."""

        LEFT = "left", _("left")
        RIGHT = "right", _("right")

    class View(models.TextChoices):
        """How much of the back of an eye was seen."""

        WHOLE = "whole", _("whole fundus")
        PART = "part", _("part of the fundus")
        NONE = "none", _("no view")

    animal = models.ForeignKey(Animal, on_delete=models.PROTECT, related_name="organ_findings")
    on = models.DateField()
    organ = models.CharField(max_length=10, choices=Organ.choices)
    side = models.CharField(max_length=10, choices=Side.choices, blank=True)
    state = models.CharField(max_length=20, choices=State.choices)
    method = models.CharField(_("how"), max_length=120, blank=True)
    dilated = models.BooleanField(_("pupil dilated"), null=True, blank=True)
    view = models.CharField(_("view"), max_length=10, choices=View.choices, blank=True)
    numbers = models.CharField(_("values"), max_length=200, blank=True)
    entered_at = models.DateTimeField(null=True, blank=True)
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["on", "id"]
        constraints: ClassVar = [
            models.CheckConstraint(condition=models.Q(organ="eyes") | models.Q(side=""), name="only_eyes_have_sides"),
            models.CheckConstraint(
                condition=models.Q(organ="kidneys") | ~models.Q(state="known disease"), name="known_disease_of_kidneys"
            ),
            models.CheckConstraint(condition=models.Q(view__in=["", "whole", "part", "none"]), name="known_view"),
        ]


class Recheck(PracticeRow):
    """When an animal is to be measured again and why; one row for each animal, and the one place that says so.

    Renewed with all that changes it, see `desk.rechecks`.

    since        : the day that the window counts from
    last_charted : the pressure that it rests on [mmHg]; None where none was obtained
    source       : of the rule, with its standing
    unsigned     : whether it rests on a session that nobody has signed yet
    """

    class Contact(models.TextChoices):
        """What came of telling the owner."""

        CONTACTED = "contacted", _("contacted")
        BOOKED = "booked", _("booked")
        DECLINED = "declined", _("declined")

    animal = models.OneToOneField(Animal, on_delete=models.PROTECT, related_name="recheck")
    since = models.DateField()
    due_from = models.DateField(_("due from"))
    due_by = models.DateField(_("due by"))
    why = models.CharField(_("why"), max_length=400)
    source = models.CharField(max_length=200, blank=True, default="", db_default="")
    last_charted = models.FloatField(null=True, blank=True)
    unsigned = models.BooleanField(default=False, db_default=False)
    contact = models.CharField(max_length=20, choices=Contact.choices, blank=True)
    contact_on = models.DateField(null=True, blank=True)
    contact_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["due_by", "id"]
        indexes: ClassVar = [models.Index(fields=["practice", "due_from"], name="rechecks_by_day")]
        constraints: ClassVar = [
            models.CheckConstraint(condition=models.Q(due_from__lte=models.F("due_by")), name="due_window_in_order")
        ]

    def state_on(self, day: date) -> DueState:
        """Whether it is due on a day."""
        return "not yet" if day < self.due_from else "due" if day <= self.due_by else "overdue"

    @property
    def contact_now(self) -> str:
        """What came of telling the owner this time; what was said before the window was set anew counts no longer."""
        return self.contact if self.contact_on is None or self.contact_on >= self.since else ""
