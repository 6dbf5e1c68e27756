"""A new person, her name, her competence; and the page on which she sets her password."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.people.models import Competence, Person, Role
from quietlimb.clinic.staff.services import COMPETENCE

if TYPE_CHECKING:
    PersonModelForm = forms.ModelForm[Person]
    CompetenceModelForm = forms.ModelForm[Competence]
else:
    PersonModelForm = CompetenceModelForm = forms.ModelForm

SIGN_IN_NAME = r"\A[\w.@+-]{2,60}\Z"


class InviteForm(forms.Form):
    """Somebody new."""

    name = forms.CharField(label=_("Name, as others should see it"), max_length=120)
    username = forms.RegexField(
        label=_("Name to sign in"), regex=SIGN_IN_NAME, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    roles = forms.MultipleChoiceField(
        label=_("Roles"), choices=Role.choices, widget=forms.CheckboxSelectMultiple, required=True
    )


class DetailsForm(PersonModelForm):
    """The names of a person."""

    username = forms.RegexField(
        label=_("Name to sign in"), regex=SIGN_IN_NAME, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )

    class Meta:
        model = Person
        fields = ("name", "username")
        error_messages = {"username": {"unique": _("Somebody signs in by this name; choose another one.")}}  # noqa: RUF012

    def clean_username(self) -> str:
        """Capitals do not matter."""
        return str(self.cleaned_data["username"]).strip().lower()


class CompetenceForm(CompetenceModelForm):
    """What she has been taught."""

    class Meta:
        model = Competence
        fields = COMPETENCE
        widgets = {name: forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d") for name in ("since", "until")}  # noqa: RUF012
        help_texts = {  # noqa: RUF012  the framework reads it once
            "subject": _("As: Doppler in cats, forelimb."),
            "taught_elsewhere": _("A course, or somebody who is not of the practice."),
            "until": _("Leave it empty where it does not end."),
        }

    def __init__(self, *arguments: Any, teachers: list[Person], **named: Any) -> None:
        super().__init__(*arguments, **named)
        field = self.fields["taught_by"]
        assert isinstance(field, forms.ModelChoiceField)
        assert field.queryset is not None
        field.queryset = field.queryset.filter(pk__in=[teacher.pk for teacher in teachers])

    def clean(self) -> dict[str, Any]:
        """An end comes after its beginning."""
        told = super().clean() or {}
        since, until = told.get("since"), told.get("until")
        if since and until and until < since:
            self.add_error("until", _("This is before it begins."))
        return told


class WelcomeForm(forms.Form):
    """One's own first password, by the code that the practice lead was shown."""

    username = forms.CharField(
        label=_("Name to sign in"), max_length=60, widget=forms.TextInput(attrs={"autocomplete": "username"})
    )
    code = forms.CharField(
        label=_("Code from the practice lead"), max_length=20, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    password = forms.CharField(
        label=_("New password, at least 10 characters"),
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def clean(self) -> dict[str, Any]:
        """Not too short, not a common one, not one's own name."""
        told = super().clean() or {}
        if told.get("password"):
            try:
                validate_password(told["password"], Person(username=told.get("username", "")))
            except forms.ValidationError as error:
                self.add_error("password", error)
        return told
