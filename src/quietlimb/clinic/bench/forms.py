"""What is entered at the bench, one form for each kind of check; pressures in the person's unit, kept in mmHg."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import TYPE_CHECKING, Any

from django import forms
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.bench.judging import (
    DISPLAY_MMHG,
    DOWN_MMHG,
    HOLDS_MMHG,
    UP_MMHG,
    Judged,
    certificate_mark,
    judge,
    limits_for,
    usual_limit,
)
from quietlimb.clinic.bench.services import SCHEDULE
from quietlimb.clinic.bench.standing import Schedule, Thing
from quietlimb.clinic.equipment.models import Check, CheckKind, CheckSchedule, Decided, Gauge, Instrument
from quietlimb.clinic.recordings.files import bare, packed
from quietlimb.clinic.technique.forms import day_field
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.units import kpa_from_mmhg, mmhg_from_kpa

if TYPE_CHECKING:
    ScheduleModelForm = forms.ModelForm[CheckSchedule]
else:
    ScheduleModelForm = forms.ModelForm

LOWEST_MMHG, HIGHEST_MMHG = -20.0, 350.0  # as `quietlimb.instruments.checks` takes them
STEPS = (("1", _("1 mmHg")), ("2", _("2 mmHg, as many dials")), ("0.1", _("0.1 mmHg")), ("0.75", _("0.1 kPa")))


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A step at the bench: what to do, and the fields to fill in; `timed` where seconds are to be measured."""

    title: str
    fields: tuple[forms.BoundField, ...]
    timed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What a form has to know besides what is typed.

    unit       : in which pressures are typed, mmHg or kPa
    references : the reference manometers in service
    corrects   : the check that this one stands in place of
    invented   : whether recordings of invented instruments belong here
    """

    thing: Thing
    unit: str
    references: QuerySet[Instrument]
    corrects: Check | None
    now: datetime
    invented: bool = False


class CheckForm(forms.Form):
    """What all checks have in common."""

    kind: CheckKind
    has_limit = has_reference = has_step = takes_recording = False

    day = day_field(_("Made on"))

    def __init__(self, *arguments: Any, setting: Setting, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self.setting = setting
        today = timezone.localtime(setting.now)
        self.fields["day"].initial = today.date()
        self.fields["time"] = forms.TimeField(
            label=_("At"),
            initial=today.strftime("%H:%M"),
            widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
            required=False,
        )
        self._points()
        if self.takes_recording:
            self.fields["file"] = forms.FileField(
                label=_("Recording of the pressure"),
                required=False,
                allow_empty_file=True,
                help_text=_("CSV or EDF+; drop it anywhere on this page. Its figures go before what is typed."),
            )
        if self.has_reference:
            self.fields["reference"] = forms.ModelChoiceField(
                setting.references,
                label=_("Reference manometer"),
                help_text=_("By its own certificate."),
                error_messages={"required": _("Choose the reference manometer that this was held against.")},
            )
            today_is = today.date()
            self.fields["reference"].label_from_instance = lambda each: certificate_mark(each, today_is)  # type: ignore[attr-defined]
            if setting.references.count() == 1:
                self.fields["reference"].initial = setting.references.first()
        if self.has_limit:
            self.fields["limit"] = forms.ChoiceField(
                label=_("Judged by"),
                choices=limits_for(self.kind),
                initial=usual_limit(self.kind, setting.thing),
            )
        if self.has_step:
            self.fields["step"] = forms.ChoiceField(
                label=_("Read to"),
                choices=STEPS,
                initial="2" if getattr(setting.thing, "gauge", "") == Gauge.MANOMETER else "1",
            )
        self._details()
        self.fields["remarks"] = forms.CharField(label=_("Remarks"), max_length=400, required=False)
        if setting.corrects is not None:
            self.fields["why"] = forms.CharField(label=_("Why it is corrected"), max_length=400)

    def _points(self) -> None:
        """Fields of the steps; to be filled in by each kind."""

    def _details(self) -> None:
        """Fields below them."""

    def rows(self) -> list[Row]:
        """The steps."""
        return []

    def details(self) -> Iterator[forms.BoundField]:
        """All fields that are no step."""
        steps = {field.name for row in self.rows() for field in row.fields}
        return (self[name] for name in self.fields if name not in steps)

    def typed(self) -> dict[str, Any]:
        """What was typed, pressures in mmHg."""
        return {}

    def clean(self) -> dict[str, Any]:
        """Judged, where everything is there."""
        told = super().clean() or {}
        self.recording: tuple[str, bytes] | None = None
        self.done_at = self._moment(told)
        if told.get("file") is not None:
            self._take(told["file"])
        if self.errors:
            return told
        try:
            self.judged = self._judged(told)
        except QuietlimbError as error:
            self.add_error(None, f"{error.says}; {error.remedy}.")
            return told
        if self.judged.good is None:
            self.add_error(None, _now("This cannot be judged: {why}").format(why=" ".join(self.judged.sentences)))
        return told

    def _judged(self, told: Mapping[str, Any]) -> Judged:
        return judge(
            self.kind,
            self.typed(),
            limit=told.get("limit", ""),
            reference=told.get("reference"),
            resolution_mmhg=float(told.get("step") or 1.0),
            recording=self.recording,
            on=timezone.localdate(self.done_at or self.setting.now),
            invented=self.setting.invented,
        )

    def _moment(self, told: Mapping[str, Any]) -> datetime | None:
        day, at = told.get("day"), told.get("time")
        if not isinstance(day, date):
            return None
        found = datetime.combine(day, at or time.min, timezone.get_current_timezone())
        if found > self.setting.now:
            if timezone.localtime(found).date() > timezone.localdate(self.setting.now):
                self.add_error("day", _now("This day has not come yet."))
                return None
            return self.setting.now
        return found

    def _take(self, file: Any) -> None:
        try:
            self.recording = packed({bare(file.name or ""): file.read()})
        except QuietlimbError as error:
            self.add_error("file", f"{error.says}; {error.remedy}.")

    def _pressure(self, name: str, label: Any, *, initial_mmhg: float | None = None, required: bool = True) -> None:
        """A field for a pressure in the person's unit."""
        unit = self.setting.unit
        least, most = (self._in_unit(value) for value in (LOWEST_MMHG, HIGHEST_MMHG))
        self.fields[name] = forms.FloatField(
            label=label,
            min_value=least,
            max_value=most,
            required=required,
            initial=None if initial_mmhg is None else f"{self._in_unit(initial_mmhg):g}",
            widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal", "autocomplete": "off"}),
            help_text="",
        )
        self.fields[name].widget.attrs["aria-description"] = unit

    def _in_unit(self, mmhg: float) -> float:
        return round(kpa_from_mmhg(mmhg), 1) if self.setting.unit == "kPa" else mmhg

    def mmhg(self, name: str) -> float | None:
        """What was typed into a field, in mmHg to three decimals; None where nothing was."""
        value = self.cleaned_data.get(name)
        if value is None:
            return None
        return round(mmhg_from_kpa(value), 3) if self.setting.unit == "kPa" else float(value)

    def shown(self, mmhg: float) -> str:
        """A pressure to go to, in the person's unit."""
        return f"{self._in_unit(mmhg):g} {self.setting.unit}"

    def check(self) -> Check:
        """The check as it is to be kept."""
        thing, told, judged = self.setting.thing, self.cleaned_data, self.judged
        assert self.done_at is not None
        assert judged.good is not None
        named: dict[str, Any] = {"instrument" if isinstance(thing, Instrument) else "cuff": thing}
        return Check(
            **named,
            kind=self.kind,
            done_at=self.done_at,
            good=judged.good,
            reference=told.get("reference"),
            figure=judged.figure,
            unit=judged.unit,
            limit=judged.limit,
            typed=judged.typed,
            result=judged.result,
            engine=judged.engine,
            issuer=told.get("issuer", ""),
            number=told.get("number", ""),
            valid_until=told.get("valid_until"),
            room_c=told.get("room_c"),
            remarks=told.get("remarks", ""),
            corrects=self.setting.corrects,
            why=told.get("why", ""),
        )


def _room(form: CheckForm) -> None:
    form.fields["room_c"] = forms.FloatField(
        label=_("Room, degrees Celsius"), min_value=-10.0, max_value=50.0, required=False
    )


class StaticForm(CheckForm):
    """Static points, up and down one after the other."""

    kind = CheckKind.STATIC
    has_limit = has_reference = has_step = True
    points = (*(("up", mmhg) for mmhg in UP_MMHG), *(("down", mmhg) for mmhg in DOWN_MMHG))

    def _points(self) -> None:
        for k, (_way, mmhg) in enumerate(self.points, start=1):
            self._pressure(f"reference_{k}", _("Reference"), initial_mmhg=mmhg, required=False)
            self._pressure(f"shown_{k}", _("Instrument"), required=False)

    def _details(self) -> None:
        _room(self)

    def rows(self) -> list[Row]:
        """Up, then down."""
        words = {"up": _now("Up to {pressure}"), "down": _now("Down to {pressure}")}
        return [
            Row(
                title=_now("Open to air: 0") if mmhg == 0 else words[way].format(pressure=self.shown(mmhg)),
                fields=(self[f"reference_{k}"], self[f"shown_{k}"]),
            )
            for k, (way, mmhg) in enumerate(self.points, start=1)
        ]

    def typed(self) -> dict[str, Any]:
        """Each point that was read."""
        found = []
        for k, (way, _mmhg) in enumerate(self.points, start=1):
            reference, shown = self.mmhg(f"reference_{k}"), self.mmhg(f"shown_{k}")
            if shown is not None and reference is not None:
                found.append({"direction": way, "reference_mmhg": reference, "instrument_mmhg": shown})
        return {"points": found, "unit": self.setting.unit}

    def clean(self) -> dict[str, Any]:
        """A reading of the instrument has one of the reference beside it."""
        for k in range(1, len(self.points) + 1):
            if self.cleaned_data.get(f"shown_{k}") is not None and self.cleaned_data.get(f"reference_{k}") is None:
                self.add_error(f"reference_{k}", _now("Type what the reference shows."))
        return super().clean()


class DisplayForm(CheckForm):
    """A display beside a manometer in the hand."""

    kind = CheckKind.DISPLAY
    has_limit = has_reference = has_step = True

    def _points(self) -> None:
        for k, mmhg in enumerate(DISPLAY_MMHG, start=1):
            self._pressure(f"reference_{k}", _("Manometer"), initial_mmhg=mmhg, required=False)
            self._pressure(f"shown_{k}", _("Display"), required=False)

    def rows(self) -> list[Row]:
        """One pressure after the other."""
        return [
            Row(
                title=_now("At about {pressure}").format(pressure=self.shown(mmhg)),
                fields=(self[f"reference_{k}"], self[f"shown_{k}"]),
            )
            for k, mmhg in enumerate(DISPLAY_MMHG, start=1)
        ]

    def typed(self) -> dict[str, Any]:
        """Each pressure that was read."""
        found = []
        for k in range(1, len(DISPLAY_MMHG) + 1):
            manometer, shown = self.mmhg(f"reference_{k}"), self.mmhg(f"shown_{k}")
            if manometer is not None and shown is not None:
                found.append({"manometer_mmhg": manometer, "display_mmhg": shown})
        return {"points": found, "unit": self.setting.unit}


class LeakForm(CheckForm):
    """Holds of a closed cuff: from one pressure to another in so many seconds; or a recording of it."""

    kind = CheckKind.LEAK
    has_limit = has_step = takes_recording = True

    def _points(self) -> None:
        for k, _mmhg in enumerate(HOLDS_MMHG, start=1):
            self._pressure(f"start_{k}", _("At the start"), required=False)
            self.fields[f"held_{k}"] = forms.FloatField(
                label=_("Seconds"),
                min_value=5.0,
                max_value=3600.0,
                required=False,
                widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal", "autocomplete": "off"}),
            )
            self._pressure(f"end_{k}", _("At the end"), required=False)

    def _details(self) -> None:
        _room(self)

    def rows(self) -> list[Row]:
        """One hold after the other; the later ones may be left out."""
        words = (_now("Hold at {pressure}"), _now("Then at {pressure}, if you like"))
        return [
            Row(
                title=words[min(k - 1, 1)].format(pressure=self.shown(mmhg)),
                fields=(self[f"start_{k}"], self[f"held_{k}"], self[f"end_{k}"]),
                timed=True,
            )
            for k, mmhg in enumerate(HOLDS_MMHG, start=1)
        ]

    def typed(self) -> dict[str, Any]:
        """Each hold."""
        found = []
        for k in range(1, len(HOLDS_MMHG) + 1):
            start, held, end = self.mmhg(f"start_{k}"), self.cleaned_data.get(f"held_{k}"), self.mmhg(f"end_{k}")
            if start is not None and held is not None and end is not None:
                found.append({"start_mmhg": start, "held_s": held, "end_mmhg": end})
        return {"holds": found, "unit": self.setting.unit}

    def clean(self) -> dict[str, Any]:
        """A hold is told whole, or not at all."""
        for k in range(1, len(HOLDS_MMHG) + 1):
            names = (f"start_{k}", f"held_{k}", f"end_{k}")
            missing = [name for name in names if self.cleaned_data.get(name) is None and name not in self.errors]
            if 0 < len(missing) < len(names):
                self.add_error(missing[0], _now("Tell start, seconds and end of this hold, or none of them."))
        return super().clean()


class ExhaustForm(CheckForm):
    """The opened valve lets everything out: a recording of it."""

    kind = CheckKind.EXHAUST
    has_limit = takes_recording = True


class BleedForm(CheckForm):
    """The bleed valve: a recording of the fall."""

    kind = CheckKind.BLEED
    has_limit = takes_recording = True


class LookForm(CheckForm):
    """Looked over: a person says what she found."""

    kind = CheckKind.LOOK

    def _details(self) -> None:
        self.fields["condition"] = forms.ChoiceField(
            label=_("Condition"),
            choices=[
                ("sound", _("sound: tube, bladder, fastening, contacts; of a crystal also its face and sound")),
                ("worn", _("worn, but it holds: to be replaced soon")),
                ("unfit", _("not fit for use")),
            ],
            widget=forms.RadioSelect,
        )
        self.fields["cleaned"] = forms.BooleanField(label=_("Cleaned"), required=False)

    def typed(self) -> dict[str, Any]:
        """What was found."""
        return {"condition": self.cleaned_data["condition"], "cleaned": self.cleaned_data["cleaned"]}


class CertificateForm(CheckForm):
    """A service certificate, or a calibration certificate of a reference manometer."""

    kind = CheckKind.CERTIFICATE

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        del self.fields["time"]

    def _details(self) -> None:
        self.fields["issuer"] = forms.CharField(label=_("Issued by"), max_length=120)
        self.fields["number"] = forms.CharField(label=_("Number"), max_length=80, required=False)
        self.fields["outcome"] = forms.ChoiceField(
            label=_("It says"),
            choices=[("good", _("within its limits")), ("failed", _("not within its limits"))],
            widget=forms.RadioSelect,
        )
        self.fields["valid_until"] = day_field(_("Valid until, if it says so"))
        self.fields["valid_until"].required = False
        thing = self.setting.thing
        if isinstance(thing, Instrument) and thing.gauge == Gauge.REFERENCE:
            self.fields["expanded_mmhg"] = forms.FloatField(
                label=_("Its uncertainty, mmHg"),
                min_value=0.0,
                max_value=20.0,
                help_text=_("The expanded one, as the certificate has it."),
            )
            self.fields["coverage_factor"] = forms.FloatField(
                label=_("Coverage factor k"), min_value=1.0, max_value=5.0, initial=2.0
            )
            self.fields["correction_mmhg"] = forms.FloatField(
                label=_("Correction, mmHg"),
                min_value=-20.0,
                max_value=20.0,
                help_text=_("To be added to what it shows."),
            )

    def clean(self) -> dict[str, Any]:
        """It does not end before it begins."""
        told = self.cleaned_data
        if told.get("day") and told.get("valid_until") and told["valid_until"] < told["day"]:
            self.add_error("valid_until", _now("This is before the day it was made."))
        return super().clean()

    def typed(self) -> dict[str, Any]:
        """The outcome, and what a reference manometer brings along."""
        names = ("expanded_mmhg", "coverage_factor", "correction_mmhg")
        numbers = {name: float(self.cleaned_data[name]) for name in names if name in self.fields}
        return {"outcome": self.cleaned_data["outcome"], **numbers}


FORMS: Mapping[str, type[CheckForm]] = {
    form.kind: form for form in (StaticForm, DisplayForm, LeakForm, ExhaustForm, BleedForm, LookForm, CertificateForm)
}


class DecisionForm(forms.Form):
    """What becomes of one session."""

    what = forms.ChoiceField(label=_("Decision"), choices=[("", "---------"), *Decided.choices])
    why = forms.CharField(label=_("Why"), max_length=400)


class ScheduleForm(ScheduleModelForm):
    """How often the practice checks."""

    class Meta:
        model = CheckSchedule
        fields = SCHEDULE

    def __init__(self, *arguments: Any, usual: Schedule, **named: Any) -> None:
        super().__init__(*arguments, **named)
        for name in SCHEDULE:
            every = getattr(usual, name.removesuffix("_months"))
            self.initial[name] = int(every.value)
            self.fields[name] = forms.IntegerField(
                label=str(self.fields[name].label).capitalize(), min_value=1, max_value=120
            )
