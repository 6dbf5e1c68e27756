"""The data of an animal and who its owner is; which animal is meant."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.animals.models import Animal, Owner
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.rights import visible

if TYPE_CHECKING:
    AnimalModelForm = forms.ModelForm[Animal]
else:
    AnimalModelForm = forms.ModelForm

ANOTHER = "another"  # owner of the same name


def _day() -> forms.DateInput:
    return forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})


class AnimalForm(AnimalModelForm):
    """All of an animal that a person may change. Its species is fixed as soon as it has been measured.

    After validation `owner` is the owner that is meant: one who is here, None for nobody, or a new one, not saved.
    """

    owner_name = forms.CharField(label=_("Owner"), max_length=120, required=False)
    which = forms.ChoiceField(label=_("Which owner of this name?"), required=False)
    renamed = forms.BooleanField(label=_("The same owner, written differently"), required=False)
    why = forms.CharField(label=_("Why, for the journal"), max_length=400, required=False)

    class Meta:
        model = Animal
        fields = ("name", "species", "breed", "colour", "born", "sex", "remarks", "link_id", "deceased_on")
        widgets = {"born": _day(), "deceased_on": _day()}  # noqa: RUF012  the framework reads it once

    field_order = (
        "name",
        "species",
        "breed",
        "colour",
        "born",
        "sex",
        "owner_name",
        "which",
        "renamed",
        "remarks",
        "link_id",
        "deceased_on",
        "why",
    )

    def __init__(self, *arguments: Any, person: Person, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self.person, self.was = person, self.instance.owner
        self.owner: Owner | None = self.was
        self.fields["owner_name"].initial = "" if self.was is None else self.was.name
        if self.instance.sessions.exists():
            del self.fields["species"]
        if self.instance.born_about:
            self.fields["born"].help_text = _("Worked out from its age; with another day it counts as known.")
        self.namesakes = self._namesakes()
        which = self.fields["which"]
        assert isinstance(which, forms.ChoiceField)
        if self.namesakes:
            which.choices = [
                ("", "---------"),
                *((str(each.pk), " ".join(filter(None, _known_by(each)))) for each in self.namesakes),
                (ANOTHER, _("another one, who is new here")),
            ]
        else:
            del self.fields["which"]
        if self.was is None:
            del self.fields["renamed"]

    def _namesakes(self) -> list[Owner]:
        """Owners of exactly the name that was sent, where it is another one than before."""
        name = str(self.data.get("owner_name", "")).replace("\0", "").strip()
        if not name or (self.was is not None and name.casefold() == self.was.name.casefold()):
            return []
        return list(visible(self.person, Owner).filter(name__iexact=name).order_by("link_id", "id")[:20])

    def clean_link_id(self) -> str:
        """A number is one animal."""
        number = str(self.cleaned_data["link_id"]).strip()
        if number and visible(self.person, Animal).filter(link_id=number).exclude(pk=self.instance.pk).exists():
            raise forms.ValidationError(_("Another animal has this number. Are the two the same?"))
        return number

    def clean(self) -> dict[str, Any]:
        """Days that have come, in order; and who is meant by the owner's name."""
        told = super().clean() or {}
        if "born" in self.changed_data:
            self.instance.born_about = False
        for name in ("born", "deceased_on"):
            if told.get(name) and told[name] > timezone.localdate():
                self.add_error(name, _("This day has not come yet."))
        if told.get("born") and told.get("deceased_on") and told["deceased_on"] < told["born"]:
            self.add_error("deceased_on", _("This is before it was born."))
        self._find_owner(told)
        return told

    def _find_owner(self, told: dict[str, Any]) -> None:
        name = (told.get("owner_name") or "").strip()
        if self.was is not None and name == self.was.name:
            return
        if told.get("renamed") or (self.was is not None and name.casefold() == self.was.name.casefold()):
            if name:
                assert self.owner is not None
                self.owner.name = name
            else:
                self.add_error("owner_name", _("Type the name."))
            return
        if not name:
            self.owner = None
        elif not self.namesakes or told.get("which") == ANOTHER:
            self.owner = Owner(name=name)
        elif told.get("which"):
            self.owner = next(each for each in self.namesakes if str(each.pk) == told["which"])
        else:
            self.add_error("which", _("Somebody of this name is here already: say who is meant."))


def _known_by(owner: Owner) -> tuple[str, ...]:
    """By what owners of one name are told apart."""
    first = owner.animals.order_by("name").first()
    return (owner.name, owner.link_id, owner.telephone, "" if first is None else f"({first.name})")


class WhichAnimalForm(forms.Form):
    """Another animal of the same species, and why."""

    animal = forms.UUIDField(error_messages={"required": _("Choose an animal."), "invalid": _("Choose an animal.")})
    why = forms.CharField(label=_("Why, for the journal"), max_length=400, required=False)
