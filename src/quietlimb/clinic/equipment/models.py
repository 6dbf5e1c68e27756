"""Instruments, manometers and cuffs; how they were checked, and what was decided of sessions held in doubt."""

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


class Gauge(models.TextChoices):
    """What measures no animal by itself."""

    MANOMETER = "manometer", _("manometer")
    REFERENCE = "reference", _("reference manometer")


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
    """An instrument, with the order in which it shows its numbers. A Doppler unit has one slot.

    technique   : by which it measures animals; empty for a gauge
    gauge       : which of those that measure no animal by themselves; empty for all others
    asset_tag   : the practice's own number on it
    loan        : from or to whom it is lent, and until when, in words; empty where it is not
    held_static : it can be held at a pressure in the practice; where it cannot, a service certificate counts instead
    read_on     : the manometer on which a Doppler unit is read
    """

    name = models.CharField(_("instrument"), max_length=120)
    serial_number = models.CharField(_("serial number"), max_length=80, blank=True)
    technique = models.CharField(_("kind"), max_length=20, choices=Technique.choices, blank=True)
    gauge = models.CharField(_("gauge"), max_length=20, choices=Gauge.choices, blank=True, default="", db_default="")
    asset_tag = models.CharField(_("asset tag"), max_length=60, blank=True, default="", db_default="")
    loan = models.CharField(_("on loan"), max_length=200, blank=True, default="", db_default="")
    held_static = models.BooleanField(_("can be held at a pressure here"), default=True, db_default=True)
    read_on = models.ForeignKey(
        "self",
        verbose_name=_("read on the manometer"),
        on_delete=models.PROTECT,
        related_name="read_with",
        null=True,
        blank=True,
    )
    slots = models.JSONField(_("order of the numbers"), default=usual_slots, validators=[check_slots])
    out_of_service = models.BooleanField(_("out of service"), default=False)

    class Meta:
        ordering: ClassVar = ["name", "id"]
        constraints: ClassVar = [
            models.CheckConstraint(condition=one_of("technique", Technique, blank=True), name="known_technique"),
            models.CheckConstraint(condition=one_of("gauge", Gauge, blank=True), name="known_gauge"),
            models.CheckConstraint(
                condition=(~models.Q(technique="") & models.Q(gauge=""))
                | (models.Q(technique="") & ~models.Q(gauge="")),
                name="it_measures_or_is_a_gauge",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def kind_name(self) -> str:
        """What it is, in a word."""
        return str(self.get_gauge_display() if self.gauge else self.get_technique_display())


class Cuff(PracticeRow):
    """A cuff; the width of its bladder counts more than what is printed on it."""

    name = models.CharField(_("cuff"), max_length=120)
    width_cm = models.FloatField(_("width of the bladder, cm"))
    length_cm = models.FloatField(_("length of the bladder, cm"), null=True, blank=True)
    asset_tag = models.CharField(_("asset tag"), max_length=60, blank=True, default="", db_default="")
    loan = models.CharField(_("on loan"), max_length=200, blank=True, default="", db_default="")
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

    @property
    def kind_name(self) -> str:
        """What it is, in a word."""
        return str(self._meta.verbose_name)


class CheckKind(models.TextChoices):
    """What was looked at."""

    STATIC = "static", _("static accuracy")
    LEAK = "leak", _("leak")
    DISPLAY = "display", _("display against manometer")
    EXHAUST = "exhaust", _("rapid exhaust")
    BLEED = "bleed", _("bleed rate")
    LOOK = "look", _("look over")
    CERTIFICATE = "certificate", _("service certificate")


class Check(PracticeRow):
    """One check of an instrument or a cuff. The database refuses to change or remove it; a new one corrects it.

    done_at     : when it was made; of a certificate the first moment of its day
    good        : the verdict, by the limit
    reference   : the manometer that it was held against
    recording   : the pressure over time that it was made from
    figure      : the one number that is followed over the checks, in `unit`; None where there is none
    limit       : the code of the limit it was judged by
    typed       : what was entered, as canonical JSON text, pressures in mmHg
    result      : what `quietlimb.instruments` made of it, as canonical JSON text
    engine      : version that judged it; empty where a person judged
    issuer, number, valid_until : of a certificate
    room_c      : temperature of the room [degrees C]
    corrects    : the check that this one stands in place of, with `why`
    seal        : sha256 of the other columns
    """

    FETCHED_WITH = ("practice", "instrument", "cuff", "reference", "by", "recording", "corrects")

    instrument = models.ForeignKey(Instrument, on_delete=models.PROTECT, related_name="checks", null=True, blank=True)
    cuff = models.ForeignKey(Cuff, on_delete=models.PROTECT, related_name="checks", null=True, blank=True)
    kind = models.CharField(max_length=20, choices=CheckKind.choices)
    done_at = models.DateTimeField()
    entered_at = models.DateTimeField()
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    good = models.BooleanField()
    reference = models.ForeignKey(Instrument, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    recording = models.ForeignKey("measuring.Recording", on_delete=models.PROTECT, related_name="+", null=True)
    figure = models.FloatField(null=True)
    unit = models.CharField(max_length=20, blank=True)
    limit = models.CharField(max_length=40, blank=True)
    typed = models.TextField(blank=True)
    result = models.TextField(blank=True)
    engine = models.CharField(max_length=40, blank=True)
    issuer = models.CharField(max_length=120, blank=True)
    number = models.CharField(max_length=80, blank=True)
    valid_until = models.DateField(null=True)
    room_c = models.FloatField(null=True)
    remarks = models.CharField(max_length=400, blank=True)
    corrects = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="corrected_by", null=True, blank=True
    )
    why = models.CharField(max_length=400, blank=True)
    seal = models.CharField(max_length=64)

    class Meta:
        ordering: ClassVar = ["done_at", "entered_at", "id"]
        constraints: ClassVar = [
            models.CheckConstraint(condition=one_of("kind", CheckKind), name="known_kind_of_check"),
            models.CheckConstraint(
                condition=models.Q(instrument__isnull=False, cuff=None) | models.Q(instrument=None, cuff__isnull=False),
                name="a_check_is_of_one_thing",
            ),
        ]

    @property
    def thing(self) -> Instrument | Cuff:
        """What was checked."""
        found = self.instrument or self.cuff
        assert found is not None, "the database holds no other"
        return found


class Decided(models.TextChoices):
    """What became of a session that was measured with something that then failed."""

    STANDS = "stands", _("stands")
    REPEAT = "repeat", _("repeat")
    OWNER_CALLED = "owner called", _("owner called")


class Decision(PracticeRow):
    """What a veterinarian decided of one session held in doubt by a failed check. The database refuses to change or
    remove it; a later one of the same session stands beside it and counts.

    failed : the check that holds it in doubt
    seal   : sha256 of the other columns
    """

    failed = models.ForeignKey(Check, on_delete=models.PROTECT, related_name="decisions")
    session = models.ForeignKey("measuring.Session", on_delete=models.PROTECT, related_name="decisions")
    what = models.CharField(max_length=20, choices=Decided.choices)
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    why = models.CharField(max_length=400)
    seal = models.CharField(max_length=64)

    class Meta:
        ordering: ClassVar = ["at", "id"]
        constraints: ClassVar = [
            models.CheckConstraint(condition=one_of("what", Decided), name="known_decision"),
        ]


class CheckSchedule(PracticeRow):
    """How often the practice checks, in months; one row for each practice, none before its lead chose."""

    aneroid_months = models.PositiveSmallIntegerField(_("manometers, months between checks"))
    electronic_months = models.PositiveSmallIntegerField(_("electronic instruments, months between checks"))
    cuff_months = models.PositiveSmallIntegerField(_("cuffs, months between checks"))
    reference_months = models.PositiveSmallIntegerField(_("reference manometers, months between certificates"))

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["practice"], name="a_practice_has_one_schedule"),
            models.CheckConstraint(
                condition=models.Q(aneroid_months__range=(1, 120))
                & models.Q(electronic_months__range=(1, 120))
                & models.Q(cuff_months__range=(1, 120))
                & models.Q(reference_months__range=(1, 120)),
                name="possible_months_between_checks",
            ),
        ]
