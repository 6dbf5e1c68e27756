"""Values beyond the limits of a field are told in our words, whatever the form."""

from __future__ import annotations

import importlib
import pkgutil
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
from django import forms
from django.apps import apps
from django.contrib.auth.password_validation import validate_password
from django.core import validators
from django.core.exceptions import ValidationError
from django.db import models
from django.forms.forms import BaseForm

import quietlimb.clinic
from clinic.examples import Clinic
from quietlimb.clinic.bench.forms import FORMS, ScheduleForm, Setting
from quietlimb.clinic.bench.standing import schedule_of
from quietlimb.clinic.equipment.models import Instrument
from quietlimb.clinic.limits_told import SENTENCES, between

FRAMEWORKS = re.compile(r"\bEnsure\b|\bmust contain at least\b|has at (least|most)|no more than \d+ (digits|decimal)")
OURS = re.compile(r"too (much|little|many|few)|Give \S+ to \S+\.|before there were|too far ahead|multiple of")
BEYOND: tuple[object, ...] = (
    *("-1e300", "1e300", "-99999999999999999999", "99999999999999999999", "0001-01-01", "9999-12-31"),
    "x" * 2_000_000,
)


def all_forms() -> list[type[BaseForm]]:
    """Every form that the clinic defines, wherever it stands."""
    for module in pkgutil.walk_packages(quietlimb.clinic.__path__, "quietlimb.clinic."):
        if module.name.rsplit(".", 1)[-1] == "forms":
            importlib.import_module(module.name)
    found: dict[str, type[BaseForm]] = {}
    left: list[type[BaseForm]] = [BaseForm]
    while left:
        form = left.pop()
        left += form.__subclasses__()
        if form.__module__.startswith("quietlimb.clinic."):
            found[f"{form.__module__}.{form.__qualname__}"] = form
    return [found[name] for name in sorted(found)]


def objections(field: forms.Field | models.Field[Any, Any]) -> Iterator[str]:
    """What a field says of values that are far beyond anything. One that chooses among rows has no limits."""
    if isinstance(field, forms.ModelChoiceField):
        return
    for value in BEYOND:
        try:
            if isinstance(field, forms.Field):
                field.clean(value)
            else:
                field.run_validators(field.to_python(value))
        except ValidationError as error:
            yield from error.messages
        except OverflowError:
            continue


def limited(field: forms.Field) -> bool:
    """Whether it has a least or a most."""
    return any(isinstance(each, validators.BaseValidator) for each in field.validators)


@pytest.mark.parametrize("form", all_forms(), ids=lambda form: form.__qualname__)
def test_no_form_tells_a_limit_in_the_frameworks_words(form: type[BaseForm]) -> None:
    """Each field of each form, given far too much and far too little, answers in our words, where it has a limit.

    Oracle: by construction; the sentences of the framework begin with "Ensure".
    """
    for name, field in form.base_fields.items():  # type: ignore[attr-defined]
        said = list(objections(field))
        assert not [each for each in said if FRAMEWORKS.search(each)], name
        if limited(field):
            assert [each for each in said if OURS.search(each)], (name, said)


def test_forms_were_found() -> None:
    """The walk finds those of every room that has some.

    Oracle: by construction, a few rooms that are known to.
    """
    rooms = {form.__module__.split(".")[2] for form in all_forms()}
    assert rooms >= {"bench", "desk", "equipment", "practice", "inspection", "sessions", "teaching", "people"}
    assert len(all_forms()) > 40


@pytest.mark.django_db
def test_no_check_tells_a_limit_in_the_frameworks_words(clinic: Clinic) -> None:
    """The fields of a check are made when it is opened, in either unit.

    Oracle: by construction.
    """
    limits = 0
    for unit in ("mmHg", "kPa"):
        for made in FORMS.values():
            setting = Setting(
                thing=Instrument(name="M1", gauge="manometer"),
                unit=unit,
                references=Instrument.objects.none(),
                corrects=None,
                now=datetime(2031, 5, 4, 9, 0, tzinfo=UTC),
            )
            for name, field in made(setting=setting).fields.items():
                said = list(objections(field))
                assert not [each for each in said if FRAMEWORKS.search(each)], (made, name)
                limits += sum(bool(OURS.search(each)) for each in said)
    for field in ScheduleForm(usual=schedule_of(clinic.practice)).fields.values():
        said = list(objections(field))
        assert any("is too much: give 120 or less." in each for each in said)
        assert not [each for each in said if FRAMEWORKS.search(each)]
    assert limits > 50


def test_no_column_tells_a_limit_in_the_frameworks_words() -> None:
    """What a form leaves to its model is told in the same words.

    Oracle: by construction.
    """
    said = [
        each
        for model in apps.get_models()
        if model.__module__.startswith("quietlimb.clinic.")
        for field in model._meta.get_fields()
        if isinstance(field, models.CharField | models.IntegerField | models.FloatField)
        for each in objections(field)
    ]
    assert not [each for each in said if FRAMEWORKS.search(each)]
    assert [each for each in said if OURS.search(each)]


def test_every_limit_of_the_framework_has_our_words() -> None:
    """A validator that a later form may use is among them, and fills its sentence with what was given and the limit.

    Oracle: by construction: the framework's own classes.
    """
    known = {each for each in vars(validators).values() if isinstance(each, type)}
    assert {each for each in known if issubclass(each, validators.BaseValidator)} == set(SENTENCES)
    for validator, value, says in (
        (validators.MaxValueValidator(300.0), 350.0, "350 is too much: give 300 or less."),
        (validators.MinValueValidator(0.5), 0.25, "0.25 is too little: give 0.5 or more."),
        (validators.MaxLengthValidator(3), "four", "4 characters are too many: shorten it to 3."),
    ):
        with pytest.raises(ValidationError) as raised:
            validator(value)
        assert raised.value.messages == [says]


def test_a_field_may_name_both_ends() -> None:
    """As the choices at the training cuff do.

    Oracle: by construction.
    """
    field = forms.FloatField(min_value=1.5, max_value=12.0, error_messages=between(1.5, 12.0))
    assert set(objections(field)) >= {"Give 1.5 to 12."}


def test_a_short_password_is_told_in_our_words() -> None:
    """What, and what to do.

    Oracle: by construction; ten characters are the clinic's own rule.
    """
    with pytest.raises(ValidationError) as raised:
        validate_password("brook7")
    assert "This password is too short: choose one of at least 10 characters." in raised.value.messages
