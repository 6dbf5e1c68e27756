"""Sessions, series, readings, recordings, and the values that a veterinarian signed from them."""

from __future__ import annotations

import hashlib
from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.equipment.models import Technique
from quietlimb.clinic.rows import PracticeRow, one_of


class Ending(models.TextChoices):
    """How a session ended."""

    CLOSED = "closed", _("closed")
    HAD_ENOUGH = "had enough", _("she has had enough")
    NONE_OBTAINED = "none obtained", _("no reading obtained")
    NO_VALID_VALUE = "no valid value", _("no valid value today")


class Session(PracticeRow):
    """One animal, one occasion. Open until it ends; every end is an honourable one.

    imported_id   : of what was measured, where it came from elsewhere, so that it comes once; else empty
    imported_from : file, instrument, cuff and people there, and what was signed there, a line each
    acclimatised_since : when the animal came to where it is measured
    disturbed_at       : when it was disturbed after its first reading, as ISO times; see `settling`
    called_at          : when the veterinarian was called to it at once
    """

    FETCHED_WITH = ("practice", "animal", "read_by")

    class Place(models.TextChoices):
        """Where."""

        HOME = "home", _("at home")
        CARRIER = "carrier", _("in the carrier")
        WAITING_ROOM = "waiting-room", _("waiting room")
        CONSULTING_ROOM = "consulting-room", _("consulting room")
        CAGE = "hospital-cage", _("hospital cage")

    class Consciousness(models.TextChoices):
        """How awake."""

        AWAKE = "awake", _("awake")
        SEDATED = "sedated", _("sedated")
        ANAESTHETISED = "anaesthetised", _("anaesthetised")

    class Tablet(models.TextChoices):
        """Today's tablet against high pressure."""

        GIVEN = "given", _("given")
        NOT_GIVEN = "not given", _("not given")
        UNKNOWN = "unknown", _("not known")

    animal = models.ForeignKey("animals.Animal", on_delete=models.PROTECT, related_name="sessions")
    started_at = models.DateTimeField()
    started_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    acclimatised_since = models.DateTimeField(null=True, blank=True)
    disturbed_at = models.JSONField(default=list, blank=True)
    called_at = models.DateTimeField(null=True, blank=True)
    called_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    place = models.CharField(_("place"), max_length=20, choices=Place.choices, blank=True)
    sedation = models.CharField(_("awake"), max_length=20, choices=Consciousness.choices, blank=True)
    demeanour = models.CharField(_("demeanour"), max_length=120, blank=True)
    demeanour_at_end = models.CharField(_("demeanour at the end"), max_length=120, blank=True)
    owner_present = models.BooleanField(_("owner there"), null=True, blank=True)
    before_examination = models.BooleanField(_("before the examination"), null=True, blank=True)
    calming_medicine = models.CharField(_("calming medicine before the visit"), max_length=200, blank=True)
    drugs_24_h = models.CharField(_("drugs in the last 24 hours"), max_length=400, blank=True)
    tablet = models.CharField(_("today's tablet"), max_length=20, choices=Tablet.choices, blank=True)
    read_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    held_by = models.CharField(_("held by"), max_length=120, blank=True)
    signs = models.CharField(_("signs seen"), max_length=400, blank=True)
    remarks = models.CharField(_("remarks"), max_length=400, blank=True)
    cuff_cleaned = models.BooleanField(_("cuff cleaned"), default=False)
    ending = models.CharField(max_length=20, choices=Ending.choices, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    imported_id = models.CharField(max_length=64, blank=True, default="", db_default="")
    imported_from = models.TextField(blank=True, default="", db_default="")

    class Meta:
        ordering: ClassVar = ["-started_at", "id"]
        indexes: ClassVar = [models.Index(fields=["practice", "ending", "started_at"], name="session_by_state")]
        constraints: ClassVar = [
            models.CheckConstraint(condition=one_of("ending", Ending, blank=True), name="known_ending"),
            models.CheckConstraint(
                condition=models.Q(ending="", ended_at=None)
                | (~models.Q(ending="") & models.Q(ended_at__isnull=False)),
                name="an_end_has_its_time",
            ),
            models.UniqueConstraint(
                fields=["practice", "imported_id"],
                condition=~models.Q(imported_id=""),
                name="a_session_is_imported_once",
            ),
        ]

    @property
    def is_open(self) -> bool:
        """Whether readings may still be added without an amendment."""
        return self.ending == ""


class Series(PracticeRow):
    """Readings under the same circumstances. Another cuff, site, side, position or instrument opens a new one."""

    FETCHED_WITH = ("session__practice", "session__animal", "session__read_by", "instrument", "cuff")

    class Site(models.TextChoices):
        """Where the cuff lies."""

        FORELIMB = "forelimb", _("forelimb")
        HINDLIMB = "hindlimb", _("hindlimb")
        TAIL = "tail", _("tail")

    class Side(models.TextChoices):
        """Of a limb."""

        LEFT = "left", _("left")
        RIGHT = "right", _("right")

    class Position(models.TextChoices):
        """Of the animal."""

        CHEST_DOWN = "chest-down", _("chest down")
        SIDE_LYING = "side-lying", _("lying on the side")
        SITTING = "sitting", _("sitting")
        STANDING = "standing", _("standing")
        ON_LAP = "on-lap", _("on the lap")

    session = models.ForeignKey(Session, on_delete=models.PROTECT, related_name="series")
    ordinal = models.PositiveSmallIntegerField()
    technique = models.CharField(_("method"), max_length=20, choices=Technique.choices)
    instrument = models.ForeignKey(
        "equipment.Instrument", on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    cuff = models.ForeignKey("equipment.Cuff", on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    site = models.CharField(_("site"), max_length=20, choices=Site.choices, blank=True)
    side = models.CharField(_("side"), max_length=10, choices=Side.choices, blank=True)
    position = models.CharField(_("position"), max_length=20, choices=Position.choices, blank=True)
    limb_circumference_cm = models.FloatField(_("limb circumference, cm"), null=True, blank=True)
    cuff_below_heart_cm = models.FloatField(_("cuff below the heart, cm"), null=True, blank=True)
    planned_readings = models.PositiveSmallIntegerField(_("planned readings"), default=6)

    class Meta:
        ordering: ClassVar = ["ordinal"]
        constraints: ClassVar = [
            models.CheckConstraint(condition=one_of("technique", Technique), name="series_of_known_technique"),
            models.UniqueConstraint(fields=["session", "ordinal"], name="series_in_order"),
        ]


class Recording(PracticeRow):
    """The bytes of one recording, kept once for each practice under their sha256.

    results : engine version -> result of reading, as `quietlimb.clinic.sessions.results` writes it; a newer engine adds
              its own and takes none away
    """

    sha256 = models.CharField(max_length=64)
    name = models.CharField(max_length=200)
    content = models.BinaryField()
    results = models.JSONField(default=dict)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["practice", "sha256"], name="the_same_bytes_are_kept_once")
        ]

    @property
    def is_whole(self) -> bool:
        """Whether the bytes are still those that were put in."""
        return hashlib.sha256(bytes(self.content)).hexdigest() == self.sha256


class Spoiled(models.TextChoices):
    """Why a reading does not count, said before any result is shown."""

    MOVED = "moved", _("moved")
    LEANED = "leaned on the leg", _("leaned on the leg")
    SLIPPED = "cuff slipped", _("cuff slipped")
    VOCAL = "crying or growling", _("crying or growling")
    INTERRUPTED = "interrupted", _("interrupted")
    OTHER = "other", _("other reason")


class Reading(PracticeRow):
    """One reading: typed from a display, or of a recording. Never removed; what was a mistake is struck through.

    client_id : made where it was typed, so that a reading sent twice is one row
    ordinal   : its place in the order of typing there
    saved_by  : whose sign-in sent it
    typed_by  : who typed it, where a tablet kept it and somebody else was there when it was sent; else None
    """

    series = models.ForeignKey(Series, on_delete=models.PROTECT, related_name="readings")
    client_id = models.UUIDField(unique=True)
    ordinal = models.PositiveIntegerField()
    taken_at = models.DateTimeField()
    saved_at = models.DateTimeField()
    saved_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    typed_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    systolic = models.FloatField(null=True, blank=True)
    mean = models.FloatField(null=True, blank=True)
    diastolic = models.FloatField(null=True, blank=True)
    pulse_rate = models.FloatField(null=True, blank=True)
    recording = models.ForeignKey(Recording, on_delete=models.PROTECT, related_name="readings", null=True, blank=True)
    spoiled = models.CharField(max_length=30, choices=Spoiled.choices, blank=True)
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    struck_because = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering: ClassVar = ["taken_at", "ordinal", "id"]
        indexes: ClassVar = [models.Index(fields=["series", "taken_at"], name="readings_in_order")]
        constraints: ClassVar = [
            models.CheckConstraint(condition=one_of("spoiled", Spoiled, blank=True), name="known_reason"),
            models.CheckConstraint(
                condition=models.Q(systolic__isnull=False) | models.Q(recording__isnull=False) | ~models.Q(spoiled=""),
                name="a_reading_says_something",
            ),
        ]

    @property
    def counts(self) -> bool:
        """Whether the engine sees it: neither spoiled nor struck through."""
        return not self.spoiled and self.struck_at is None


class LateReading(PracticeRow):
    """A typed reading that came once its session was signed, as one that a tablet had kept. It stands beside what was
    signed, which does not rest on it, until a veterinarian has looked at it.

    client_id, ordinal, saved_by, typed_by : as of a `Reading`; no two of either kind have the same key
    looked_at, looked_by                   : when a veterinarian left the signed value standing or amended it; else None
    """

    series = models.ForeignKey(Series, on_delete=models.PROTECT, related_name="late_readings")
    client_id = models.UUIDField(unique=True)
    ordinal = models.PositiveIntegerField()
    taken_at = models.DateTimeField()
    saved_at = models.DateTimeField()
    saved_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    typed_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    systolic = models.FloatField(null=True, blank=True)
    mean = models.FloatField(null=True, blank=True)
    diastolic = models.FloatField(null=True, blank=True)
    pulse_rate = models.FloatField(null=True, blank=True)
    spoiled = models.CharField(max_length=30, choices=Spoiled.choices, blank=True)
    looked_at = models.DateTimeField(null=True, blank=True)
    looked_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["taken_at", "ordinal", "id"]
        constraints: ClassVar = [
            models.CheckConstraint(condition=one_of("spoiled", Spoiled, blank=True), name="known_reason_of_late"),
            models.CheckConstraint(
                condition=models.Q(systolic__isnull=False) | ~models.Q(spoiled=""),
                name="a_late_reading_says_something",
            ),
        ]

    @property
    def numbers(self) -> str:
        """As they were typed: systolic, mean, diastolic, and the pulse rate apart; a dash for one that is missing."""
        pressures = [self.systolic, self.mean, self.diastolic]
        if self.mean is None and self.diastolic is None:
            pressures = pressures[:1]
        told = "/".join("-" if each is None else f"{each:g}" for each in pressures)
        return told if self.pulse_rate is None else f"{told} {self.pulse_rate:g}"


class SignedValue(PracticeRow):
    """What a veterinarian signed of a series. The database refuses to change or remove it; see `Amendment`.

    charted, chosen : systolic mmHg as the engine charted it, and as it was signed; None where none was obtained
    reason          : why another value than the charted one was chosen
    fingerprint     : of the readings, circumstances and parameters, by the engine
    frozen          : everything it rests on and all that was shown, as canonical JSON text
    seal            : sha256 of the other columns
    """

    session = models.ForeignKey(Session, on_delete=models.PROTECT, related_name="signed_values")
    series = models.ForeignKey(Series, on_delete=models.PROTECT, related_name="signed_values", null=True)
    signed_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    signed_at = models.DateTimeField()
    charted = models.FloatField(null=True)
    chosen = models.FloatField(null=True)
    reason = models.CharField(max_length=400, blank=True)
    rules = models.CharField(max_length=40)
    engine = models.CharField(max_length=40)
    fingerprint = models.CharField(max_length=64, blank=True)
    frozen = models.TextField()
    seal = models.CharField(max_length=64)

    class Meta:
        ordering: ClassVar = ["signed_at", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["session"], name="a_session_is_signed_once"),
        ]


class Amendment(PracticeRow):
    """What stands beside a signed value: who corrected what, when and why. Neither replaces the other.

    chosen    : systolic mmHg that counts from now on; None leaves the value that stood before
    withdrawn : no value counts any longer
    """

    signed_value = models.ForeignKey(SignedValue, on_delete=models.PROTECT, related_name="amendments")
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    chosen = models.FloatField(null=True)
    withdrawn = models.BooleanField(default=False, db_default=False)
    text = models.TextField(blank=True)
    why = models.CharField(max_length=400)
    seal = models.CharField(max_length=64)

    class Meta:
        ordering: ClassVar = ["at", "id"]
