"""An instrument with the order of its numbers; a cuff."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.equipment.models import SLOTS, Cuff, Gauge, Instrument, Technique, check_slots, usual_slots

if TYPE_CHECKING:
    InstrumentModelForm = forms.ModelForm[Instrument]
    CuffModelForm = forms.ModelForm[Cuff]
else:
    InstrumentModelForm = CuffModelForm = forms.ModelForm

NUMBERS = {
    "systolic": _("systolic"),
    "diastolic": _("diastolic"),
    "mean": _("mean"),
    "pulse_rate": _("pulse rate"),
}
PLACES = (_("First number"), _("Second number"), _("Third number"), _("Fourth number"))
SLOT_FIELDS = tuple(f"slot_{k}" for k in range(1, len(SLOTS) + 1))


def _why() -> forms.CharField:
    return forms.CharField(label=_("Why, for the journal"), max_length=400, required=False)


def _refuse_namesake(form: InstrumentForm | CuffForm, told: dict[str, Any], sentence: Any) -> None:
    """At the table a thing is chosen by its name: of those in service no two may share one."""
    name = str(told.get("name", "")).casefold()
    in_service = [each.name.casefold() for each in form.others if each.pk != form.instance.pk]
    if name and not told.get("out_of_service") and name in in_service:
        form.add_error("name", sentence)


class InstrumentForm(InstrumentModelForm):
    """An instrument. The slots stand in the order in which its display shows the numbers."""

    technique = forms.ChoiceField(
        label=_("Kind"), choices=[("", "---------"), *Technique.choices, *Gauge.choices], widget=forms.Select
    )

    class Meta:
        model = Instrument
        fields = (
            "name",
            "serial_number",
            "technique",
            "held_static",
            "read_on",
            "asset_tag",
            "loan",
            "out_of_service",
        )
        help_texts = {  # noqa: RUF012  the framework reads it once
            "held_static": _("Where it cannot be, a service certificate counts as its check."),
            "read_on": _("Of a Doppler unit: when this manometer fails, its sessions are in doubt too."),
            "asset_tag": _("Your own number on it."),
            "loan": _("From or to whom, and until when."),
        }

    field_order = (
        *("name", "serial_number", "technique", *SLOT_FIELDS),
        *("held_static", "read_on", "asset_tag", "loan", "out_of_service", "why"),
    )

    def __init__(self, *arguments: Any, others: QuerySet[Instrument], **named: Any) -> None:
        super().__init__(*arguments, **named)
        self.others = others.filter(out_of_service=False)
        self.initial["technique"] = self.instance.gauge or self.instance.technique
        read_on = self.fields["read_on"]
        assert isinstance(read_on, forms.ModelChoiceField)
        read_on.queryset = others.filter(gauge=Gauge.MANOMETER)
        shown = list(self.instance.slots)
        for name, label, place in zip(SLOT_FIELDS, PLACES, range(len(SLOTS)), strict=True):
            self.fields[name] = forms.ChoiceField(
                label=label,
                choices=[("", _("nothing")), *NUMBERS.items()],
                required=False,
                initial=shown[place] if place < len(shown) else "",
                help_text=_(
                    "As on its display, from the top or the left. By Doppler there is only one, a manometer has none."
                )
                if place == 0
                else "",
            )
        if not self.instance._state.adding:
            self.fields["why"] = _why()
        self.order_fields(self.field_order)

    def clean(self) -> dict[str, Any]:
        """The slots that were chosen, without gaps; by Doppler one is enough."""
        told = super().clean() or {}
        chosen = [told[name] for name in SLOT_FIELDS if told.get(name)]
        kind = told.get("technique", "")
        is_gauge = kind in Gauge.values
        self.instance.gauge = kind if is_gauge else ""
        if is_gauge:
            told["technique"] = ""
        if is_gauge or kind == Technique.DOPPLER:
            chosen = ["systolic"]
        if kind != Technique.DOPPLER:
            told["read_on"] = None
        try:
            check_slots(chosen)
        except forms.ValidationError as error:
            self.add_error(SLOT_FIELDS[0], error)
        else:
            self.instance.slots = chosen
        _refuse_namesake(self, told, _("Another instrument has this name: add its place or its serial number."))
        return told


class CuffForm(CuffModelForm):
    """A cuff."""

    width_cm = forms.FloatField(
        label=_("Width of the bladder, cm"),
        min_value=0.5,
        max_value=100.0,
        help_text=_("Measured: it counts more than what is printed on the cuff."),
    )
    length_cm = forms.FloatField(label=_("Length of the bladder, cm"), min_value=0.5, max_value=200.0, required=False)

    class Meta:
        model = Cuff
        fields = ("name", "width_cm", "length_cm", "asset_tag", "loan", "out_of_service")
        help_texts = {  # noqa: RUF012  the framework reads it once
            "asset_tag": _("Your own number on it."),
            "loan": _("From or to whom, and until when."),
        }

    def __init__(self, *arguments: Any, others: QuerySet[Cuff], **named: Any) -> None:
        super().__init__(*arguments, **named)
        self.others = others.filter(out_of_service=False)
        if not self.instance._state.adding:
            self.fields["why"] = _why()

    def clean(self) -> dict[str, Any]:
        """Another name than those of the others."""
        told = super().clean() or {}
        _refuse_namesake(self, told, _("Another cuff has this name: choose one that tells them apart."))
        return told


def new_instrument() -> Instrument:
    """An instrument that nobody has told anything of yet."""
    return Instrument(slots=usual_slots())
