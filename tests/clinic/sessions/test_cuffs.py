"""Which cuffs stand first for a limb, and what is said of the others."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from clinic.examples import Clinic
from quietlimb.clinic.equipment.models import Cuff
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.cuffs import circumference_of, judged_cuffs

SignIn = Callable[[Person], Client]


def more_cuffs(clinic: Clinic) -> None:
    """Four beside the one of 3 cm; the last is out of service, and one belongs to the other practice."""
    for name, width in (("tiny", 1.8), ("narrow", 2.5), ("wide", 4.0), ("worn", 3.1)):
        Cuff.objects.create(practice=clinic.practice, name=name, width_cm=width, out_of_service=name == "worn")
    Cuff.objects.create(practice=clinic.stranger.practice, name="theirs", width_cm=3.0)


def test_cuffs_that_fit_stand_first_and_the_others_say_which_way_they_err() -> None:
    """On 8.7 cm: 3.0 cm is 34 % and fits; 3.4 cm is 39 % and fits, farther from 35 %; the rest by distance.

    Oracle: by construction, from the limits of `engine.standards.cuff_width` (30 to 40 % from memory of ACVIM 2018).
    """
    widths = {"a": 1.8, "b": 2.5, "c": 3.0, "d": 3.4, "e": 4.0, "f": 5.0}
    found = judged_cuffs([Cuff(name=name, width_cm=width) for name, width in widths.items()], 8.7, "cat")
    assert [(each.cuff.name, each.fits) for each in found] == [
        ("c", True),
        ("d", True),
        ("b", False),
        ("e", False),
        ("a", False),
        ("f", False),
    ]
    said = {each.cuff.name: each.words for each in found}
    assert said["c"] == "c, 3 cm, 34 % of the limb, fits"
    assert said["b"].endswith("slightly narrow: may read high")
    assert said["e"].endswith("slightly wide: may read low")
    assert said["a"].endswith("far too narrow: expect a high reading")
    assert said["f"].endswith("far too wide: expect a low reading")
    (close,) = judged_cuffs([Cuff(name="g", width_cm=2.98)], 10.0, "cat")
    assert close.words == "g, 2.98 cm, 29.8 % of the limb, slightly narrow: may read high"


@pytest.mark.parametrize(
    ("told", "cm"),
    [("8.7", 8.7), (" 8,7 ", 8.7), (8.7, 8.7), ("", None), (None, None), ("nan", None), ("0", None), ("-3", None)],
)
def test_a_circumference_is_taken_as_it_is_typed(told: object, cm: float | None) -> None:
    """With point or comma; what cannot be one is none.

    Oracle: by construction.
    """
    assert circumference_of(told) == cm


def test_the_forms_and_the_part_show_the_cuffs_in_the_same_order(clinic: Clinic, signed_in: SignIn) -> None:
    """The recalled circumference orders the start form and another series; the part orders by the one being typed.

    Oracle: by construction.
    """
    more_cuffs(clinic)
    browser = signed_in(clinic.nurse)
    for address in (f"/start/{clinic.animal.pk}", f"/sessions/{clinic.session.pk}"):
        page = browser.get(address).text
        places = [page.index(f"{name}, ") for name in ("the small one", "narrow", "wide", "tiny")]
        assert places == sorted(places)
        assert "worn" not in page
        assert "theirs" not in page
    asked = {"limb_circumference_cm": "11,4", "cuff": str(clinic.cuff.pk)}
    part = browser.get(f"/animals/{clinic.animal.pk}/cuffs", asked).text
    assert part.startswith("<select")
    assert part.index("wide, 4 cm, 35 % of the limb, fits") < part.index("the small one, 3 cm, 26 %")
    assert f'value="{clinic.cuff.pk}" selected' in part
    assert "optgroup" not in browser.get(f"/animals/{clinic.animal.pk}/cuffs", {"limb_circumference_cm": "x"}).text


def test_a_refused_form_keeps_order_and_choice(clinic: Clinic, signed_in: SignIn) -> None:
    """Without JavaScript the answer of the clinic is in the order of the circumference that was sent.

    Oracle: by construction.
    """
    more_cuffs(clinic)
    sent = {"limb_circumference_cm": "11.4", "cuff": str(clinic.cuff.pk)}
    answer = signed_in(clinic.nurse).post(f"/start/{clinic.animal.pk}", sent)
    assert answer.status_code == 422
    assert answer.text.index("wide, 4 cm, 35 %") < answer.text.index("the small one, 3 cm, 26 %")
