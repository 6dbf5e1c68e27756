"""A plan as a file with its fingerprint."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from pathlib import Path

import pytest

from quietlimb.agreement.plan import Analysis, Plan
from quietlimb.agreement.window_rule import Rule
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.plan_json import plan_text, read_plan
from quietlimb.exchange.schemas import faults

PLAN = Plan(
    title="Ein Schwanz-Cuff für Katzen",
    question="Does it agree?",
    tested="tail cuff",
    reference="catheter",
    primary="mean",
    animals=12,
    readings=None,
    made_on="2031-02-04",
    reasons="by formula",
    analysis=Analysis(bounds={"mean": (60.0, 120.0)}, rule=Rule(window="around", seconds=8.0)),
)


def test_a_plan_comes_back_as_it_was(tmp_path: Path) -> None:
    """Same plan, same bytes; read again it is the same.

    Oracle: by construction; the committed schema.
    """
    path = tmp_path / "plan.json"
    path.write_text(plan_text(PLAN), encoding="utf-8")
    found = read_plan(path)
    assert found.plan == PLAN
    assert plan_text(found.plan) == plan_text(PLAN)
    assert faults("comparison-plan", json.loads(plan_text(PLAN))) == []


def test_the_fingerprint_is_sha_256_of_the_content() -> None:
    """By a hand of one's own.

    Oracle: reference library, hashlib; JSON with keys in order and no blanks.
    """
    told = json.loads(plan_text(PLAN))
    fingerprint = told.pop("fingerprint")
    text = json.dumps(told, sort_keys=True, separators=(",", ":"))
    assert hashlib.sha256(text.encode()).hexdigest() == fingerprint


def test_a_changed_plan_is_refused(tmp_path: Path) -> None:
    """One number changed, the fingerprint left; other blanks and line ends are no change.

    Oracle: by construction.
    """
    path = tmp_path / "plan.json"
    path.write_text(plan_text(PLAN).replace('"animals": 12', '"animals": 11'), encoding="utf-8")
    with pytest.raises(FileError) as caught:
        read_plan(path)
    assert caught.value.code == "plan-changed"
    path.write_text(json.dumps(json.loads(plan_text(PLAN))), encoding="utf-8")
    assert read_plan(path).plan == PLAN
    assert plan_text(replace(PLAN, animals=11)) != plan_text(PLAN)


@pytest.mark.parametrize(
    ("text", "code"),
    [("{", "not-json"), ("[]", "not-as-described"), ('{"schema": "quietlimb/read/1"}', "not-as-described")],
)
def test_what_is_no_plan_is_refused(tmp_path: Path, text: str, code: str) -> None:
    """With what is wrong.

    Oracle: by construction.
    """
    path = tmp_path / "plan.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FileError) as caught:
        read_plan(path)
    assert caught.value.code == code
