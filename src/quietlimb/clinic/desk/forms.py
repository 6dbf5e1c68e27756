"""What a veterinarian fills in: organs, the value to chart, an amendment, an event."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from django import forms
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.animals.models import Condition, Event, OrganFinding
from quietlimb.clinic.desk.conditions import condition_names
from quietlimb.clinic.sessions.selectors import ORGANS_COUNT_AFTER_DAYS, ORGANS_COUNT_FOR_DAYS

if TYPE_CHECKING:
    EventModelForm = forms.ModelForm[Event]
else:
    EventModelForm = forms.ModelForm

# name of the row -> organ, side, heading
ORGAN_ROWS: dict[str, tuple[str, str, Any]] = {
    "left": ("eyes", "left", _("Left eye")),
    "right": ("eyes", "right", _("Right eye")),
    "brain": ("brain", "", _("Brain")),
    "heart": ("heart", "", _("Heart and vessels")),
    "kidneys": ("kidneys", "", _("Kidneys")),
}
NOT_SAID = ("", _("nothing new"))
YES_NO = [("", _("not told")), ("yes", _("dilated")), ("no", _("not dilated"))]
SEEN = (OrganFinding.View.WHOLE, OrganFinding.View.PART)
LEAST_MMHG, MOST_MMHG = 20.0, 350.0


class OrgansForm(forms.Form):
    """A row for each organ, for each eye its own. What is left at "nothing new" makes no finding.

    day, today : of the session, and the latest on which something can have been seen
    """

    on = forms.DateField(
        label=_("Seen on"), required=False, widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    )

    def __init__(self, *arguments: Any, day: date, today: date, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self.day, self.today = day, today
        self.fields["on"].initial = day
        for name, (organ, _side, heading) in ORGAN_ROWS.items():
            states = [choice for choice in OrganFinding.State.choices if choice[0] != "known disease"]
            if organ == "kidneys":
                states = list(OrganFinding.State.choices)
            self._add(name, "state", heading, forms.ChoiceField(choices=[NOT_SAID, *states], required=False))
            self._add(name, "method", _("How"), forms.CharField(max_length=120, required=False))
            if organ == "eyes":
                self._add(name, "dilated", _("Pupil"), forms.ChoiceField(choices=YES_NO, required=False))
                views = [("", _("not told")), *OrganFinding.View.choices]
                self._add(name, "view", _("View"), forms.ChoiceField(choices=views, required=False))
            label = _("Creatinine, protein-to-creatinine, with dates") if organ == "kidneys" else _("Seen")
            self._add(name, "numbers", label, forms.CharField(max_length=200, required=False))

    def _add(self, row: str, part: str, label: Any, field: forms.Field) -> None:
        field.label = label
        self.fields[f"{row}-{part}"] = field

    def rows(self) -> Iterator[tuple[Any, list[forms.BoundField]]]:
        """Heading and fields of each organ."""
        for name, (_organ, _side, heading) in ORGAN_ROWS.items():
            yield heading, [field for field in self if field.name.startswith(f"{name}-")]

    def clean_on(self) -> date:
        """The day of the session, unless another one is told that still belongs to it."""
        on: date = self.cleaned_data["on"] or self.day
        first = self.day - timedelta(days=ORGANS_COUNT_FOR_DAYS)
        last = min(self.day + timedelta(days=ORGANS_COUNT_AFTER_DAYS), self.today)
        if not first <= on <= last:
            told = {"first": date_format(first, "j F Y"), "last": date_format(last, "j F Y")}
            says = _("For this session it counts from %(first)s to %(last)s; tell the rest with a session of its time.")
            raise forms.ValidationError(says % told)
        return on

    def clean(self) -> dict[str, Any]:
        """What was told of an organ without saying its state is not understood as any."""
        told = super().clean() or {}
        for name in ORGAN_ROWS:
            others = [told.get(f"{name}-{part}") for part in ("method", "dilated", "view", "numbers")]
            if any(others) and not told.get(f"{name}-state"):
                self.add_error(f"{name}-state", _("Say what was found: present, absent, unclear or not examined."))
            unseen = name in ("left", "right") and told.get(f"{name}-view") not in SEEN
            if unseen and told.get(f"{name}-state") == "absent":
                says = _("Say how much of the fundus was seen. Without a view, absent cannot be said: unclear.")
                self.add_error(f"{name}-view", says)
        return told

    def findings(self) -> list[OrganFinding]:
        """What was said, as rows that are not saved yet."""
        told, pupils = self.cleaned_data, {"yes": True, "no": False}
        return [
            OrganFinding(
                organ=organ,
                side=side,
                state=told[f"{name}-state"],
                method=told[f"{name}-method"],
                numbers=told[f"{name}-numbers"],
                dilated=pupils.get(told.get(f"{name}-dilated", "")),
                view=told.get(f"{name}-view", ""),
            )
            for name, (organ, side, _heading) in ORGAN_ROWS.items()
            if told[f"{name}-state"]
        ]


class SignForm(forms.Form):
    """The value as charted, the guideline average, another, or none; whatever is not the charted one has a reason.

    shown   : a pressure as text
    is_open : the session has not ended, so it is asked whether anything still comes from the table
    beside  : a series of the session that asks for more, as text; empty where there is none
    """

    value = forms.ChoiceField(label=_("Chart"), widget=forms.RadioSelect)
    other = forms.FloatField(label=_("Another value, mmHg"), min_value=LEAST_MMHG, max_value=MOST_MMHG, required=False)
    reason = forms.CharField(label=_("Reason for another value than the charted"), max_length=400, required=False)
    nothing_comes = forms.BooleanField(
        label=_("The session is still open: nothing more comes from the table, signing ends it"), required=False
    )
    looked_at = forms.CharField(widget=forms.HiddenInput, max_length=64)

    def __init__(
        self,
        *arguments: Any,
        charted: float | None,
        guideline: float | None,
        shown: Callable[[float], str],
        is_open: bool,
        beside: str = "",
        **named: Any,
    ) -> None:
        super().__init__(*arguments, **named)
        self.charted, self.guideline, self.is_open, self.beside = charted, guideline, is_open, beside
        choices: list[tuple[str, Any]] = [
            ("charted", _("as charted: %(mmhg)s mmHg") % {"mmhg": shown(charted)})
            if charted is not None
            else ("charted", _("no value"))
        ]
        if guideline is not None:
            choices.append(("guideline", _("guideline average: %(mmhg)s mmHg") % {"mmhg": shown(guideline)}))
        choices.append(("other", _("another value")))
        if charted is not None:
            choices.append(("none", _("no valid value")))
        field = self.fields["value"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = choices
        field.initial = "charted"

    def clean(self) -> dict[str, Any]:
        """Whatever is not the charted value has its reason."""
        told = super().clean() or {}
        value = told.get("value")
        if value == "other" and told.get("other") is None and "other" not in self.errors:
            self.add_error("other", _("Give the value in mmHg."))
        if value not in (None, "other") and told.get("other") is not None:
            self.add_error("value", _("Another value is typed: choose it, or empty its slot."))
        if self.is_open and not told.get("nothing_comes"):
            self.add_error("nothing_comes", _("Ask at the table first: a reading that comes later stands beside."))
        if value in ("guideline", "other", "none") and not told.get("reason"):
            self.add_error("reason", _("Say why another value than the charted one."))
        elif self.beside and not told.get("reason"):
            says = _("%(series)s. Say why this series is charted and not that one.")
            self.add_error("reason", says % {"series": self.beside})
        return told

    @property
    def chosen(self) -> float | None:
        """The value to sign [mmHg]; None where there is none."""
        by_choice = {"charted": self.charted, "guideline": self.guideline, "other": self.cleaned_data.get("other")}
        return by_choice.get(self.cleaned_data["value"])


class AmendmentForm(forms.Form):
    """What stands beside the signed value from now on."""

    chosen = forms.FloatField(
        label=_("Pressure in its place, mmHg"), min_value=LEAST_MMHG, max_value=MOST_MMHG, required=False
    )
    withdrawn = forms.BooleanField(label=_("No valid value"), required=False)
    text = forms.CharField(label=_("What is corrected"), widget=forms.Textarea(attrs={"rows": 2}), required=False)
    why = forms.CharField(label=_("Why it is amended"), max_length=400)

    def clean(self) -> dict[str, Any]:
        """An amendment says something."""
        told = super().clean() or {}
        if told.get("withdrawn") and told.get("chosen") is not None:
            self.add_error("withdrawn", _("Give another pressure or take it back, not both."))
        if told.get("chosen") is None and not told.get("withdrawn") and not told.get("text") and not self.errors:
            self.add_error("text", _("Give another pressure, or say what is corrected."))
        return told


def _has_come(day: date | None) -> date | None:
    if day is not None and day > timezone.localdate():
        raise forms.ValidationError(_("This day is still to come: tell it once it has happened."))
    return day


def _day_input() -> forms.DateInput:
    return forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})


class ConditionForm(forms.Form):
    """An illness, or a class of drugs, that stands in the record and goes with high pressure."""

    what = forms.ChoiceField(label=_("What"))
    since = forms.DateField(label=_("Since, where it is known"), required=False, widget=_day_input())

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        field = self.fields["what"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [
            ("", "---------"),
            *(
                (label, [(f"{kind}:{code}", text) for (of, code), text in condition_names().items() if of == kind])
                for kind, label in Condition.Kind.choices
            ),
        ]

    def clean_since(self) -> date | None:
        """A day that has come."""
        return _has_come(self.cleaned_data["since"])

    @property
    def condition(self) -> Condition:
        """A row that is not saved yet."""
        kind, code = self.cleaned_data["what"].split(":")
        return Condition(kind=kind, code=code, since=self.cleaned_data["since"])


class ConditionEndForm(forms.Form):
    """Until when an illness was there."""

    until = forms.DateField(label=_("Until"), widget=_day_input())

    def __init__(self, *arguments: Any, condition: Condition, **named: Any) -> None:
        super().__init__(*arguments, **{"initial": {"until": timezone.localdate()}, **named})
        self.condition = condition

    def clean_until(self) -> date:
        """A day that has come, and not before it began."""
        until: date = self.cleaned_data["until"]
        _has_come(until)
        if self.condition.since is not None and until < self.condition.since:
            raise forms.ValidationError(_("This is before it began."))
        return until


class EventForm(EventModelForm):
    """A treatment event; the prescription as it is written elsewhere, never one of ours."""

    def clean_on(self) -> date:
        """Something that has happened."""
        on: date = self.cleaned_data["on"]
        _has_come(on)
        return on

    class Meta:
        model = Event
        fields = ("on", "kind", "prescription")
        widgets = {"on": forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})}  # noqa: RUF012  the framework reads it once
