"""The inspection folder."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import subprocess
import sys
import zipfile
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from django.test import Client
from django.utils import timezone

import quietlimb.clinic.inspection.folder as building
from clinic.bench.examples import checked, day, not_held
from clinic.desk.examples import signed_value
from clinic.examples import Clinic, person, reading
from quietlimb.clinic.animals.models import Owner
from quietlimb.clinic.bench.services import decision_add
from quietlimb.clinic.desk.signing import amendment_add
from quietlimb.clinic.equipment.models import Cuff, Decided
from quietlimb.clinic.inspection.as_of import as_of
from quietlimb.clinic.inspection.folder import harmless
from quietlimb.clinic.inspection.forms import months_before
from quietlimb.clinic.journal import changing
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Competence, Person, Role
from quietlimb.clinic.sessions.models import Ending, SignedValue
from quietlimb.clinic.sessions.services import session_end
from quietlimb.clinic.staff.services import role_end, role_give
from quietlimb.engine.standards.rule_sets import RULE_SETS

SignIn = Callable[[Person], Client]
TODAY = {"day": "", "months": 60}


def signed(clinic: Clinic) -> SignedValue:
    """The clinic's session, ended and signed now, with an amendment."""
    for k, systolic in enumerate((160, 152, 151, 150, 151, 150)):
        reading(clinic, 2 * k, systolic)
    ended = session_end(clinic.nurse, session=clinic.session, ending=Ending.CLOSED, at=clinic.started_at)
    reason = "=the first one was taken too early"
    value = signed_value(clinic.veterinarian, ended, clinic.series, chosen=150.0, reason=reason)
    amendment_add(clinic.veterinarian, signed_value=value, chosen=151.0, text="", why="wrong line", at=timezone.now())
    return value


def folder_of(browser: Client, tmp_path: Path, **asked: object) -> Path:
    """The folder as an inspector opens it."""
    told = {"day": timezone.localdate().isoformat(), "months": 60, **asked}
    answer = browser.post("/practice/inspection", told)
    assert answer.status_code == 200, answer.text
    assert answer.headers["Content-Type"] == "application/zip"
    assert f"inspection-{told['day']}.zip" in answer.headers["Content-Disposition"]
    with zipfile.ZipFile(io.BytesIO(answer.content)) as packed:
        assert packed.testzip() is None
        packed.extractall(tmp_path)
    made = tmp_path.parent / f"{tmp_path.name}.sha256"
    made.write_text(hashlib.sha256(answer.content).hexdigest(), encoding="ascii")
    return tmp_path


def rows_of(folder: Path, name: str) -> list[dict[str, str]]:
    """A table of the folder."""
    with (folder / name).open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def checked_folder(folder: Path) -> subprocess.CompletedProcess[str]:
    """The folder's own check, in a Python that knows nothing of this project."""
    return subprocess.run([sys.executable, "-I", folder / "check.py"], capture_output=True, text=True, check=False)


def test_one_touch_gives_a_folder_that_holds_everything_and_checks_itself(
    clinic: Clinic, signed_in: SignIn, tmp_path: Path
) -> None:
    """People, competence, equipment, sessions with readings, the signed value and its amendment; nothing of strangers.

    Oracle: by construction.
    """
    value = signed(clinic)
    last = Entry.objects.filter(practice=clinic.practice).latest("sequence")
    folder = folder_of(signed_in(clinic.lead), tmp_path)
    people = {row["name"]: row for row in rows_of(folder, "people.csv")}
    assert set(people) == {"Wren", "Linnet", "Heron", "Alder", "Sorrel"}
    assert people["Alder"]["roles"] == "practice lead since 2020-01-01"
    assert [row["slots"] for row in rows_of(folder, "instruments.csv")] == ["systolic mean diastolic pulse_rate"]
    assert [row["width_cm"] for row in rows_of(folder, "cuffs.csv")] == ["3.0"]
    assert [row["animal"] for row in rows_of(folder, "sessions.csv")] == ["Thistle"]
    assert [row["systolic mmHg"] for row in rows_of(folder, "readings.csv")][:2] == ["160.0", "152.0"]
    (stands,) = rows_of(folder, "signed_values.csv")
    assert (stands["signed mmHg"], stands["rule set"], stands["seal"]) == ("150.0", "acvim-2018", value.seal)
    assert stands["reason"] == "'=the first one was taken too early"
    assert [row["mmHg"] for row in rows_of(folder, "amendments.csv")] == ["151.0"]
    readme = (folder / "README.txt").read_text(encoding="utf-8")
    for words in ("Practice at the Mill Pond", "ACVIM", "check.py", "Retention, in the practice's words: not told"):
        assert words in readme
    assert "INVENTED" not in readme
    everything = "".join(path.read_text(encoding="utf-8") for path in folder.iterdir())
    assert "Magpie" not in everything
    assert "argon2" not in everything
    done = checked_folder(folder)
    assert done.returncode == 0, done.stdout
    assert last.hash in done.stdout
    assert "Everything is as it was written." in done.stdout


def test_the_journal_tells_who_made_a_folder_and_its_hash(clinic: Clinic, signed_in: SignIn, tmp_path: Path) -> None:
    """So that a folder can be known again years later.

    Oracle: by construction.
    """
    folder = folder_of(signed_in(clinic.lead), tmp_path)
    entry = Entry.objects.get(what="inspection folder made")
    assert entry.who == clinic.lead
    assert json.loads(entry.after)["sha256"] == (folder.parent / f"{folder.name}.sha256").read_text(encoding="ascii")


@pytest.mark.parametrize(
    ("name", "old", "new", "says"),
    [
        ("journal.jsonl", '"what":"value signed"', '"what":"value sighed"', "has been changed"),
        ("signed_values.jsonl", '"chosen":150.0', '"chosen":140.0', "has been changed"),
        ("amendments.jsonl", "wrong line", "other line", "has been changed"),
    ],
)
def test_what_was_changed_in_a_folder_is_found(
    clinic: Clinic, signed_in: SignIn, tmp_path: Path, name: str, old: str, new: str, says: str
) -> None:
    """One word or number in one of the files.

    Oracle: by construction.
    """
    signed(clinic)
    folder = folder_of(signed_in(clinic.lead), tmp_path)
    text = (folder / name).read_text(encoding="utf-8")
    assert old in text
    (folder / name).write_text(text.replace(old, new), encoding="utf-8")
    done = checked_folder(folder)
    assert done.returncode == 1
    assert says in done.stdout


def test_every_file_of_a_folder_is_checked(clinic: Clinic, signed_in: SignIn, tmp_path: Path) -> None:
    """One byte more in any file is found by its name; so is a file that is gone, and one that was put in.

    Oracle: by construction, the files that are there.
    """
    signed(clinic)
    folder = folder_of(signed_in(clinic.lead), tmp_path)
    names = sorted(path.name for path in folder.iterdir() if path.name != "SHA256SUMS.txt")
    assert len(names) >= 14
    for name in names:
        as_made = (folder / name).read_bytes()
        (folder / name).write_bytes(as_made + b"\n")
        done = checked_folder(folder)
        assert done.returncode == 1, name
        assert f"{name} has been changed" in done.stdout
        (folder / name).write_bytes(as_made)
    assert checked_folder(folder).returncode == 0
    (folder / "cuffs.csv").rename(folder / "other.csv")
    said = checked_folder(folder).stdout
    assert "cuffs.csv is missing" in said
    assert "other.csv was not in the folder when it was made" in said


def test_a_table_that_says_other_than_the_sealed_row_is_found(
    clinic: Clinic, signed_in: SignIn, tmp_path: Path
) -> None:
    """Also where the sum of the table was made to fit.

    Oracle: by construction.
    """
    signed(clinic)
    folder = folder_of(signed_in(clinic.lead), tmp_path)
    for name, old, new, says in (
        ("signed_values.csv", ",150.0,", ",140.0,", "signed mmHg is 140.0, and 150.0 in the sealed row"),
        ("amendments.csv", ",151.0,", ",141.0,", "mmHg is 141.0, and 151.0 in the sealed row"),
    ):
        table, sums = folder / name, folder / "SHA256SUMS.txt"
        as_made = table.read_bytes()
        changed = as_made.replace(old.encode(), new.encode())
        assert changed != as_made
        table.write_bytes(changed)
        digests = [hashlib.sha256(content).hexdigest() for content in (as_made, changed)]
        sums.write_text(sums.read_text(encoding="utf-8").replace(*digests), encoding="utf-8")
        done = checked_folder(folder)
        assert done.returncode == 1
        assert says in done.stdout


def test_an_entry_taken_out_and_a_signed_value_put_in_are_found(
    clinic: Clinic, signed_in: SignIn, tmp_path: Path
) -> None:
    """Even with a seal that fits, a row that the journal does not tell of is no signed value.

    Oracle: by construction.
    """
    signed(clinic)
    folder = folder_of(signed_in(clinic.lead), tmp_path)
    entries = (folder / "journal.jsonl").read_text(encoding="utf-8").splitlines(keepends=True)
    (folder / "journal.jsonl").write_text("".join(entries[:1] + entries[2:]), encoding="utf-8")
    assert "does not follow the one before it" in checked_folder(folder).stdout
    (folder / "journal.jsonl").write_text("".join(entries), encoding="utf-8")
    row = json.loads((folder / "signed_values.jsonl").read_text(encoding="utf-8"))
    row["chosen"] = 140.0
    del row["seal"]
    text = json.dumps(row, sort_keys=True, separators=(",", ":"))
    row["seal"] = hashlib.sha256(text.encode()).hexdigest()
    (folder / "signed_values.jsonl").write_text(json.dumps(row) + "\n", encoding="utf-8")
    assert "is not what the journal tells of it" in checked_folder(folder).stdout


def test_rows_are_as_they_were_on_the_day(clinic: Clinic) -> None:
    """What was changed later is as before, what was made later is not there, what the journal never told is as now.

    Oracle: by construction, moments between the changes.
    """
    moments = [timezone.now()]
    changed = Cuff.objects.get(pk=clinic.cuff.pk)
    for width in (3.5, 4.0):
        changed.width_cm = width
        changing.change(clinic.lead, "cuff changed", changed, fields=["width_cm"])
        moments.append(timezone.now())
    with journal.transaction.atomic():
        journal.write(clinic.lead, "cuff added", Cuff.objects.create(practice=clinic.practice, name="b", width_cm=9.0))
    silent = Cuff.objects.create(practice=clinic.practice, name="c", width_cm=20.0)
    moments.append(timezone.now())
    widths = [
        sorted(row["width_cm"] for row in as_of(clinic.practice, Cuff.objects.all(), moment)) for moment in moments
    ]
    assert widths == [[3.0, 20.0], [3.5, 20.0], [4.0, 20.0], [4.0, 9.0, 20.0]]
    assert as_of(clinic.practice, [], moments[0]) == []
    assert silent.width_cm == 20.0


def test_roles_and_competence_are_those_of_the_day(clinic: Clinic, signed_in: SignIn, tmp_path: Path) -> None:
    """A role that ended that day no longer counts; a competence is good on its last day and not the day after.

    Oracle: by construction.
    """
    today = timezone.localdate()
    role_end(clinic.lead, person=clinic.nurse, role=Role.NURSE, on=today)
    role_give(clinic.lead, person=clinic.nurse, role=Role.LEAD, on=today)
    for until in (today, today - timedelta(days=1)):
        Competence.objects.create(
            practice=clinic.practice, person=clinic.nurse, subject=str(until), since="2020-01-01", until=until
        )
    folder = folder_of(signed_in(clinic.lead), tmp_path)
    people = {row["name"]: row["roles"] for row in rows_of(folder, "people.csv")}
    assert people["Wren"] == f"practice lead since {today}"
    good = {row["what"]: row["good on the day"] for row in rows_of(folder, "competence.csv")}
    assert good == {str(today): "yes", str(today - timedelta(days=1)): "no"}


def test_only_the_days_of_the_period_are_in_it(clinic: Clinic, signed_in: SignIn, tmp_path: Path) -> None:
    """The session of 4 January 2024 is in the folder of that day, and not in that of the day before.

    Oracle: by construction.
    """
    browser = signed_in(clinic.lead)
    assert rows_of(folder_of(browser, tmp_path / "a", day="2024-01-04", months=1), "sessions.csv")
    assert not rows_of(folder_of(browser, tmp_path / "b", day="2024-01-03", months=1), "sessions.csv")


@pytest.mark.parametrize("rules", RULE_SETS)
def test_every_rule_set_is_told_with_its_boundaries(
    clinic: Clinic, signed_in: SignIn, tmp_path: Path, rules: str
) -> None:
    """One line a category, the first without a boundary; an invented practice is marked.

    Oracle: by construction.
    """
    clinic.practice.rules, clinic.practice.invented = rules, True
    clinic.practice.save()
    folder = folder_of(signed_in(clinic.lead), tmp_path)
    found = rows_of(folder, "rule_set.csv")
    assert [row["category"] for row in found] == list(RULE_SETS[rules].categories)
    assert [float(row["from mmHg"]) for row in found[1:]] == [line.value for line in RULE_SETS[rules].systolic_from]
    assert (folder / "README.txt").read_text(encoding="utf-8").startswith("INVENTED - not a patient")


@pytest.mark.parametrize("asked", [{"day": "2199-01-01"}, {"day": "x"}, {"months": 0}, {"months": 61}, {"day": ""}])
def test_impossible_days_are_refused(clinic: Clinic, signed_in: SignIn, asked: dict[str, object]) -> None:
    """With the reason, and without an entry.

    Oracle: by construction.
    """
    answer = signed_in(clinic.lead).post("/practice/inspection", {"day": "2024-01-04", "months": 1, **asked})
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text
    assert not Entry.objects.exists()


@pytest.mark.parametrize("most", ["MOST_SESSIONS", "MOST_ENTRIES"])
def test_what_is_too_much_for_one_folder_is_told(
    clinic: Clinic, signed_in: SignIn, monkeypatch: pytest.MonkeyPatch, most: str
) -> None:
    """With the remedy.

    Oracle: by construction.
    """
    signed(clinic)
    monkeypatch.setattr(building, most, 0)
    told = {"day": timezone.localdate().isoformat(), "months": 60}
    answer = signed_in(clinic.lead).post("/practice/inspection", told)
    assert answer.status_code == 422
    assert "choose fewer months" in answer.text


def test_a_cell_is_no_formula() -> None:
    """Signs that a spreadsheet would calculate with get an apostrophe; numbers and other text stay.

    Oracle: common practice for such files.
    """
    assert [harmless(cell) for cell in ("=1+1", "+49", "-", "@a", "\tx", "a=b", -1.5, None)] == [
        "'=1+1",
        "'+49",
        "'-",
        "'@a",
        "'\tx",
        "a=b",
        -1.5,
        "",
    ]
    assert harmless(datetime(2024, 1, 4, 9, 0, tzinfo=UTC)) == "2024-01-04T09:00:00+00:00"


@pytest.mark.parametrize(
    ("day", "months", "first"),
    [
        (date(2024, 1, 4), 12, date(2023, 1, 4)),
        (date(2024, 3, 31), 1, date(2024, 2, 29)),
        (date(2024, 2, 29), 12, date(2023, 2, 28)),
        (date(2024, 1, 31), 1, date(2023, 12, 31)),
        (date(2024, 12, 30), 10, date(2024, 2, 29)),
    ],
)
def test_months_back_end_on_a_day_that_exists(day: date, months: int, first: date) -> None:
    """The last day of a month that is shorter.

    Oracle: by construction, the calendar.
    """
    assert months_before(day, months) == first


def test_owners_and_people_who_left_stay_in_the_books(clinic: Clinic, signed_in: SignIn, tmp_path: Path) -> None:
    """Who may no longer sign in is told so; names in other alphabets come through.

    Oracle: by construction.
    """
    Owner.objects.create(practice=clinic.practice, name="Ωμέγα")
    left = person(clinic.practice, "Ästrid", Role.NURSE)
    Person.objects.filter(pk=left.pk).update(is_active=False)
    folder = folder_of(signed_in(clinic.lead), tmp_path)
    assert {row["name"]: row["may sign in"] for row in rows_of(folder, "people.csv")}["Ästrid"] == "no"


def test_the_folder_tells_how_instruments_stood_and_what_was_decided(
    clinic: Clinic, signed_in: SignIn, tmp_path: Path
) -> None:
    """Register with its state on the day, checks and decisions with their seals; a verdict that was turned is found.

    Oracle: by construction.
    """
    not_held(clinic)
    checked(clinic, day(1, 2), good=True)
    failed = checked(clinic, day(3, 1), good=False, remarks="=off")
    told = {"check": failed, "session": clinic.session, "what": Decided.STANDS, "why": "far from 160"}
    decision_add(clinic.veterinarian, **told, at=timezone.now())
    folder = folder_of(signed_in(clinic.lead), tmp_path)
    done = checked_folder(folder)
    assert done.returncode == 0, done.stdout
    box = next(row for row in rows_of(folder, "instruments.csv") if row["name"] == "grey box")
    assert (box["state on the day"], box["out_of_service"]) == ("failed 1 March 2024 (service certificate)", "True")
    assert [row["verdict"] for row in rows_of(folder, "checks.csv")] == ["good", "failed"]
    assert [row["decision"] for row in rows_of(folder, "decisions.csv")] == ["stands"]
    for name, before, after in (("checks.csv", "failed", "good"), ("decisions.csv", "far from 160", "near 160")):
        path = folder / name
        as_it_was = path.read_bytes()
        path.write_bytes(as_it_was.replace(before.encode(), after.encode()))
        found = checked_folder(folder)
        assert found.returncode == 1
        assert f"{name}: " in found.stdout
        path.write_bytes(as_it_was)
