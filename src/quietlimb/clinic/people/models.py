"""Practices, people, their roles and what they have been taught."""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.hashers import check_password, make_password
from django.db import models
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.rows import PracticeRow, one_of


class Practice(models.Model):
    """A practice. Two practices on one installation never see each other's rows.

    preparing  : how owners prepare for a visit, in the practice's words, a line each; empty for ours
    first_code : hash of a code with which its first lead sets it up, once; empty where none waits
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(_("name"), max_length=120)
    time_zone = models.CharField(_("time zone"), max_length=60, default="UTC")
    rules = models.CharField(_("rule set"), max_length=40, default="acvim-2018")
    invented = models.BooleanField(_("demo data"), default=False)
    planned_readings = models.PositiveSmallIntegerField(_("planned readings"), default=6)
    telephone_day = models.CharField(_("telephone by day"), max_length=60, blank=True)
    telephone_night = models.CharField(_("telephone by night"), max_length=60, blank=True)
    preparing = models.TextField(_("how owners prepare for a visit"), max_length=1200, blank=True)
    retention = models.TextField(_("how long records are kept"), max_length=1000, blank=True)
    first_code = models.CharField(max_length=128, blank=True, default="", db_default="")
    first_code_until = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(planned_readings__gte=1) & models.Q(planned_readings__lte=20),
                name="a_possible_plan",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Role(models.TextChoices):
    """What somebody is in the practice; one person may have several roles."""

    NURSE = "nurse", _("nurse")
    VETERINARIAN = "veterinarian", _("veterinarian")
    LEAD = "lead", _("practice lead")
    RESEARCHER = "researcher", _("researcher")


class PersonManager(BaseUserManager["Person"]):
    """Finds a person by the name that she signs in with."""

    def get_by_natural_key(self, username: str | None) -> Person:
        """Capitals do not matter in a name that is typed in a hurry."""
        return self.get(username=(username or "").strip().lower())


class PressureUnit(models.TextChoices):
    """How pressures are typed and shown; they are kept in mmHg, and mmHg is shown in any case."""

    MMHG = "mmHg", _("mmHg")
    KPA = "kPa", _("kPa, with mmHg beside")


class Person(AbstractBaseUser):
    """Somebody who signs in. Belongs to one practice; who works for two has two names to sign in with.

    first_code                 : hash of a code with which she sets her password herself, once; empty where none waits
    pressure_unit, left_handed : her own choices for the pages that she works with
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    practice = models.ForeignKey(Practice, on_delete=models.PROTECT, related_name="people")
    username = models.CharField(_("name to sign in"), max_length=60, unique=True)
    name = models.CharField(_("name"), max_length=120)
    short_code = models.CharField(max_length=128, blank=True)
    first_code = models.CharField(max_length=128, blank=True)
    first_code_until = models.DateTimeField(null=True, blank=True)
    is_active = models.BooleanField(default=True)
    pressure_unit = models.CharField(
        _("pressures in"),
        max_length=10,
        choices=PressureUnit.choices,
        default=PressureUnit.MMHG,
        db_default=PressureUnit.MMHG,
    )
    left_handed = models.BooleanField(_("buttons for the left hand"), default=False, db_default=False)

    objects: ClassVar[PersonManager] = PersonManager()

    USERNAME_FIELD = "username"

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(condition=models.Q(username=Lower("username")), name="username_in_small_letters"),
            models.CheckConstraint(condition=one_of("pressure_unit", PressureUnit), name="known_pressure_unit"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def roles(self) -> frozenset[str]:
        """The roles held today; looked up once for each request."""
        if not hasattr(self, "_roles"):
            held = self.memberships.filter(until__isnull=True).values_list("role", flat=True)
            self._roles = frozenset(held) if self.is_active else frozenset()
        return self._roles

    def set_short_code(self, code: str) -> None:
        """Keep a short code, hashed as a password is."""
        self.short_code = make_password(code)

    def has_short_code(self, code: str) -> bool:
        """Whether this is the short code; never true where none was set."""
        return bool(self.short_code) and check_password(code, self.short_code)


class Membership(PracticeRow):
    """One role that a person holds or held."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=20, choices=Role.choices)
    since = models.DateField()
    until = models.DateField(null=True, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(condition=one_of("role", Role), name="known_role"),
            models.UniqueConstraint(
                fields=["person", "role"], condition=models.Q(until__isnull=True), name="a_role_is_held_once"
            ),
        ]

    def __str__(self) -> str:
        return str(Role(self.role).label)


class Competence(PracticeRow):
    """What a person has been taught, by whom, how many sessions were watched, and until when it counts."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="competences")
    subject = models.CharField(_("what"), max_length=120)
    taught_by = models.ForeignKey(
        Person, verbose_name=_("taught by"), on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    taught_elsewhere = models.CharField(_("or elsewhere"), max_length=120, blank=True)
    observed_sessions = models.PositiveSmallIntegerField(_("sessions watched"), default=0)
    since = models.DateField(_("since"))
    until = models.DateField(_("until"), null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["subject", "since", "id"]

    def __str__(self) -> str:
        return self.subject


class Attempts(models.Model):
    """How often something was tried in vain, under a digest of who tried what; see `throttling`."""

    digest = models.CharField(max_length=64, primary_key=True)
    failures = models.PositiveIntegerField(default=0)
    last_at = models.DateTimeField()


class KnownAddress(models.Model):
    """An address from which a person has signed in before, as a digest."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    digest = models.CharField(max_length=64)
    last_at = models.DateTimeField()

    class Meta:
        constraints: ClassVar = [models.UniqueConstraint(fields=["person", "digest"], name="an_address_is_known_once")]
