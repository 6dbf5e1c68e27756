"""Instruments and cuffs."""

from __future__ import annotations

from typing import ClassVar

from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.rows import PracticeRow, one_of

# The places for numbers at the table, by what they hold.
SLOTS = ("systolic", "diastolic", "mean", "pulse_rate")


class Technique(models.TextChoices):
    """How an instrument finds the pressure."""

    OSCILLOMETRIC = "oscillometric", _("oscillometric")
    DOPPLER = "doppler", _("Doppler")


def check_slots(value: object) -> None:
    """Slots are known quantities, each once, and the systolic pressure is among them."""
    if not isinstance(value, list) or len(set(value)) != len(value) or not set(value) <= set(SLOTS):
        raise ValidationError(_("Slots are the systolic, diastolic and mean pressure and the pulse rate, each once."))
    if "systolic" not in value:
        raise ValidationError(_("An instrument shows a systolic pressure."))


def usual_slots() -> list[str]:
    """The order in which many displays show their numbers; each instrument is told its own once."""
    return ["systolic", "diastolic", "mean", "pulse_rate"]


class Instrument(PracticeRow):
    """An instrument, with the order in which it shows its numbers. A Doppler unit has one slot."""

    name = models.CharField(_("instrument"), max_length=120)
    serial_number = models.CharField(_("serial number"), max_length=80, blank=True)
    technique = models.CharField(_("kind"), max_length=20, choices=Technique.choices)
    slots = models.JSONField(_("order of the numbers"), default=usual_slots, validators=[check_slots])
    out_of_service = models.BooleanField(_("out of service"), default=False)

    class Meta:
        ordering: ClassVar = ["name", "id"]
        constraints: ClassVar = [
            models.CheckConstraint(condition=one_of("technique", Technique), name="known_technique")
        ]

    def __str__(self) -> str:
        return self.name


class Cuff(PracticeRow):
    """A cuff; the width of its bladder counts more than what is printed on it."""

    name = models.CharField(_("cuff"), max_length=120)
    width_cm = models.FloatField(_("width of the bladder, cm"))
    length_cm = models.FloatField(_("length of the bladder, cm"), null=True, blank=True)
    out_of_service = models.BooleanField(_("out of service"), default=False)

    class Meta:
        ordering: ClassVar = ["width_cm", "id"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(width_cm__gte=0.5) & models.Q(width_cm__lte=100.0), name="possible_width"
            )
        ]

    def __str__(self) -> str:
        return self.name
