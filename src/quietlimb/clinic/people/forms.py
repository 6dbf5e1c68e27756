"""What is typed to sign in, to change person, and to set up the first lead."""

from __future__ import annotations

import zoneinfo
from typing import TYPE_CHECKING, Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.people.first_leads import is_taken
from quietlimb.clinic.people.models import Person, Practice

if TYPE_CHECKING:
    PracticeModelForm = forms.ModelForm[Practice]
    PersonModelForm = forms.ModelForm[Person]
else:
    PracticeModelForm = PersonModelForm = forms.ModelForm

_PASSWORD = forms.PasswordInput(attrs={"autocomplete": "current-password"})
_CODE = forms.PasswordInput(attrs={"autocomplete": "off", "inputmode": "numeric", "pattern": "[0-9]{4,8}"})


class SignInForm(forms.Form):
    """Name and password."""

    username = forms.CharField(
        label=_("Name"), max_length=60, widget=forms.TextInput(attrs={"autocomplete": "username", "autofocus": True})
    )
    password = forms.CharField(label=_("Password"), max_length=200, strip=False, widget=_PASSWORD)

    def without_focus(self) -> SignInForm:
        """The same, below the form for a short code, which is the quicker way."""
        del self.fields["username"].widget.attrs["autofocus"]
        return self


class ChangePersonForm(forms.Form):
    """Who is here now, and her short code.

    resting : who was at work here before a rest, and most likely comes back
    leaving : who is at work here, and hands over to somebody else
    """

    username = forms.ChoiceField(label=_("Who"))
    code = forms.CharField(label=_("Short code"), max_length=8, widget=_CODE)

    def __init__(
        self,
        *arguments: Any,
        people: list[Person],
        resting: Person | None = None,
        leaving: Person | None = None,
        **named: Any,
    ) -> None:
        named.setdefault("auto_id", "change_%s")  # the form below has a name too
        super().__init__(*arguments, **named)
        field = self.fields["username"]
        assert isinstance(field, forms.ChoiceField)
        others = [person for person in people if person != leaving]
        self.people = others
        likely = resting if resting in others else others[0] if len(others) == 1 else None
        blank = [] if likely else [("", _("choose"))]
        field.choices = [*blank, *((person.username, person.name) for person in others)]
        field.initial = likely.username if likely else ""
        self.fields["code" if likely else "username"].widget.attrs["autofocus"] = True


class ShortCodeForm(forms.Form):
    """One's own password, and the short code that stands for it on a browser that is known."""

    password = forms.CharField(label=_("Your password"), max_length=200, strip=False, widget=_PASSWORD)
    code = forms.RegexField(label=_("New short code, 4 to 8 digits"), regex=r"\A[0-9]{4,8}\Z", widget=_CODE, strip=True)

    def clean_code(self) -> str:
        """A code of one digit repeated is the first that anybody tries."""
        code = str(self.cleaned_data["code"])
        if len(set(code)) == 1 or code in "0123456789" or code in "9876543210":
            raise ValidationError(_("Choose digits that are not all alike and not in a row."))
        return code


class PasswordForm(forms.Form):
    """One's own password, and the one to have in its place."""

    old = forms.CharField(label=_("Your password now"), max_length=200, strip=False, widget=_PASSWORD)
    new = forms.CharField(
        label=_("New password, at least 10 characters"),
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def __init__(self, *arguments: Any, person: Person, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self.person = person

    def clean_new(self) -> str:
        """Not too short, not a common one, not like her name."""
        password = str(self.cleaned_data["new"])
        validate_password(password, self.person)
        return password


class ChoicesForm(PersonModelForm):
    """A person's own choices for the pages that she works with."""

    class Meta:
        model = Person
        fields = ("pressure_unit", "left_handed")


class FirstLeadForm(forms.Form):
    """A practice and its lead; another practice than the first was named where it was made."""

    code = forms.CharField(label=_("Code printed where the clinic was started"), max_length=20)
    practice_name = forms.CharField(label=_("Name of the practice"), max_length=120)
    time_zone = forms.ChoiceField(
        label=_("Time zone"), initial="UTC", choices=[(zone, zone) for zone in sorted(zoneinfo.available_timezones())]
    )
    name = forms.CharField(label=_("Your name, as others should see it"), max_length=120)
    username = forms.RegexField(
        label=_("Name to sign in"),
        regex=r"\A[\w.@+-]{2,60}\Z",
        widget=forms.TextInput(attrs={"autocomplete": "username"}),
    )
    password = forms.CharField(
        label=_("Password, at least 10 characters"),
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def __init__(self, *arguments: Any, first_of_all: bool, **named: Any) -> None:
        super().__init__(*arguments, **named)
        if not first_of_all:
            del self.fields["practice_name"]

    def clean_username(self) -> str:
        """Nobody else signs in by it."""
        username = str(self.cleaned_data["username"])
        if is_taken(username):
            raise ValidationError(_("Somebody signs in by this name; choose another one."))
        return username

    def clean_password(self) -> str:
        """Not too short, not a common one."""
        password = str(self.cleaned_data["password"])
        validate_password(password)
        return password
