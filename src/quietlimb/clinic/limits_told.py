"""What a field says of a value beyond its limits, in one place for every form.

The framework's validators carry their sentences as attributes of their classes, and each form and model asks them. A
field that has a better sentence, as one that names both ends, gives it as its own message and is not touched.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, cast

from django.contrib.auth import password_validation
from django.core import validators
from django.utils.text import format_lazy
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _
from django.utils.translation import gettext_noop as mark


class Sentence:
    """A sentence that the framework fills by `%`; a whole number is shown without a decimal point."""

    def __init__(self, sentence: str) -> None:
        self.sentence = sentence

    def __mod__(self, told: Mapping[str, Any]) -> str:
        return _now(self.sentence) % {name: _plain(value) for name, value in told.items()}

    def __str__(self) -> str:
        return _now(self.sentence)


SENTENCES: Final[Mapping[type[validators.BaseValidator], str]] = {
    validators.BaseValidator: mark("%(show_value)s does not fit here: give %(limit_value)s."),
    validators.MinValueValidator: mark("%(show_value)s is too little: give %(limit_value)s or more."),
    validators.MaxValueValidator: mark("%(show_value)s is too much: give %(limit_value)s or less."),
    validators.StepValueValidator: mark("%(show_value)s lies between the steps: give a multiple of %(limit_value)s."),
    validators.MinLengthValidator: mark("Too few characters (%(show_value)s): give %(limit_value)s or more."),
    validators.MaxLengthValidator: mark("%(show_value)s characters are too many: shorten it to %(limit_value)s."),
}


class LongEnough(password_validation.MinimumLengthValidator):
    """The framework's rule on the length of a password."""

    def get_error_message(self) -> str:
        """What is too short, and what to do."""
        return _now("This password is too short: choose one of at least {least} characters.").format(
            least=self.min_length
        )


def tell_limits() -> None:
    """Give the framework's validators our sentences; once, when the program starts."""
    for validator, sentence in SENTENCES.items():
        # asked of the class by every field that has no message of its own; lazily filled like any of the framework's
        validator.message = cast("str", Sentence(sentence))


def between(least: float, most: float) -> dict[str, Any]:
    """The messages of a field with both ends, which one sentence then names."""
    says = format_lazy(_("Give {least} to {most}."), least=str(_plain(least)), most=str(_plain(most)))
    return {"min_value": says, "max_value": says}


def _plain(value: object) -> object:
    return repr(value).removesuffix(".0") if isinstance(value, float) else value
