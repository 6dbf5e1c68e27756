"""Backup and restore, as whole programs and from inside."""

from __future__ import annotations

import json
import os
import stat
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from clinic.serving import PROGRAM, asked, filled, filled_by, surroundings


def run(data: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """`quietlimb clinic ...` on a data folder."""
    told = [*PROGRAM, "clinic", *words, "--data", str(data)]
    return subprocess.run(told, capture_output=True, text=True, check=False, env=surroundings(data))


def members(path: Path) -> dict[str, bytes]:
    """What is in a backup, without when it was made."""
    with zipfile.ZipFile(path) as archive:
        found = {name: archive.read(name) for name in archive.namelist()}
    about = json.loads(found.pop("about.json"))
    assert about.pop("made_at")
    return {**found, "about": json.dumps(about).encode()}


LEARNT = """
from dataclasses import replace
from pathlib import Path
from quietlimb.clinic import starting
starting.set_up(starting.configuration_for(data=Path({data!r}), lan_host=None))
from django.utils import timezone
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.teaching import services
from quietlimb.clinic.teaching.models import TrainingResult
from quietlimb.simulator.training import CASES
lead, case = Person.objects.get(name="Alder"), CASES["just-arrived"]
services.case_add(lead, case=replace(case, title="a case that the lead made"))
met = replace(case, story=replace(case.story, animal="an animal that only learners met"))
run = services.run_begin(lead, key="just-arrived", case=met, fast=True)
TrainingResult(
    practice=lead.practice, run=run.pk, case_key="just-arrived", title="a result of a run",
    finished_at=timezone.now(), grade="near", error_mmhg=6.0, inflations=6, wasted=1, minutes=11.0,
).save(force_insert=True)
"""


COMPARED = """
from pathlib import Path
from uuid import UUID
from quietlimb.clinic import starting
starting.set_up(starting.configuration_for(data=Path({data!r}), lan_host=None))
from django.utils import timezone
from quietlimb.clinic.comparisons import services
from quietlimb.clinic.comparisons.reckoning import Chosen
from quietlimb.clinic.people.models import Person
lines = [f"a{{k}},{{120 + 7 * k % 40}},{{118 + 5 * k % 40}}" for k in range(9)]
text = "\\n".join(["# invented: yes", "animal,tested_systolic_mmHg,reference_systolic_mmHg", *lines])
dropped = services.Dropped(
    key=UUID(int=7), name="a comparison", file_name="p.csv", content=text.encode(), plan_name="", plan=b"",
    chosen=Chosen(schemes=("veterinary-consensus",)),
)
services.comparison_keep(Person.objects.get(name="Alder"), dropped=dropped, at=timezone.now())
"""


@pytest.fixture(scope="module")
def backed_up(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A data folder with the invented practice, and its backup."""
    folder = tmp_path_factory.mktemp("backup")
    filled(folder / "data")
    done = run(folder / "data", "backup", str(folder / "kept.zip"))
    assert done.returncode == 0, done.stderr
    return folder / "data", folder / "kept.zip"


def test_what_is_restored_is_what_was_backed_up(backed_up: tuple[Path, Path], tmp_path: Path) -> None:
    """A backup of what was restored has the same members, byte for byte, and the journal holds.

    Oracle: by construction; people, animals and readings are besides counted with SQL.
    """
    data, kept = backed_up
    other = tmp_path / "other"
    done = run(other, "restore", str(kept))
    assert done.returncode == 0, done.stderr
    assert "Everything is as it was written." in done.stdout
    assert run(other, "backup", str(tmp_path / "again.zip")).returncode == 0
    assert members(tmp_path / "again.zip") == members(kept)
    for table in ("people_person", "animals_animal", "measuring_session", "measuring_series"):
        question = f"SELECT count(*) FROM {table}"
        assert asked(other, question) == asked(data, question) != [(0,)]
    # the triggers are there too: serve would refuse to start without
    assert run(other, "verify").returncode == 0


def test_a_comparison_comes_back_with_its_files_and_results(tmp_path: Path) -> None:
    """Its member is the same byte for byte after restoring, and its protection is there again.

    Oracle: by construction.
    """
    data, other = tmp_path / "data", tmp_path / "other"
    filled(data)
    subprocess.run([sys.executable, "-c", COMPARED.format(data=str(data))], check=True, env=surroundings(data))
    for folder, words in ((data, ("backup", "1.zip")), (other, ("restore", "1.zip")), (other, ("backup", "2.zip"))):
        done = run(folder, words[0], str(tmp_path / words[1]))
        assert done.returncode == 0, done.stderr
    first, second = (members(tmp_path / name)["comparisons.comparison.jsonl"] for name in ("1.zip", "2.zip"))
    assert b"a comparison" in first
    assert first == second
    assert run(other, "verify").returncode == 0


def test_a_backup_says_what_it_holds_of_teaching(tmp_path: Path) -> None:
    """The practice's results and own cases are in it, a run of the learners' store is not, and the command says so.

    Oracle: by construction: an own case and a result stand in the practice's store, a run's animal in the learners'.
    """
    data = tmp_path / "data"
    filled(data)
    code = LEARNT.format(data=str(data))
    subprocess.run([sys.executable, "-c", code], check=True, env=surroundings(data))
    done = run(data, "backup", str(tmp_path / "kept.zip"))
    assert done.returncode == 0, done.stderr
    assert "Not in it: the learners' runs in the teaching room" in done.stdout
    found = members(tmp_path / "kept.zip")
    rows = {name: content.decode() for name, content in found.items()}
    assert "a case that the lead made" in "".join(rows.values())
    assert "a result of a run" in "".join(rows.values())
    assert "an animal that only learners met" not in "".join(rows.values())


def test_a_backup_is_for_its_owner_and_never_written_over(backed_up: tuple[Path, Path]) -> None:
    """Mode 0600; a second one under the same name is refused and leaves the first.

    Oracle: by construction.
    """
    data, kept = backed_up
    if os.name == "posix":
        assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    before = kept.read_bytes()
    refused = run(data, "backup", str(kept))
    assert refused.returncode != 0
    assert "is there already; name a new file" in refused.stderr
    assert kept.read_bytes() == before
    assert "cannot be written" in run(data, "backup", str(kept.parent / "none" / "k.zip")).stderr


@pytest.mark.parametrize("words", [("backup", "kept.zip"), ("verify",)], ids=["backup", "verify"])
def test_a_folder_without_a_clinic_is_named_and_nothing_is_made(tmp_path: Path, words: tuple[str, ...]) -> None:
    """A mistyped folder, and an empty one: an error that names it, no backup, and the place stays as it was.

    Oracle: by construction.
    """
    told = [words[0], *(str(tmp_path / name) for name in words[1:])]
    (tmp_path / "empty").mkdir(mode=0o700)
    for name in ("mistyped", "empty"):
        refused = run(tmp_path / name, *told)
        assert refused.returncode == 1, refused.stdout
        assert f"there is no clinic in {tmp_path / name}" in refused.stderr
        assert refused.stdout == ""
    assert [path.name for path in tmp_path.rglob("*")] == ["empty"]


def test_a_clinic_in_which_nobody_has_set_up_a_practice_is_no_backup(tmp_path: Path) -> None:
    """Started and stopped before the first lead came: there is nothing that could be taken for all.

    Oracle: by construction.
    """
    data = tmp_path / "data"
    filled_by(data, "")
    refused = run(data, "backup", str(tmp_path / "kept.zip"))
    assert refused.returncode == 1
    assert f"nobody has set up a practice in the clinic in {data}" in refused.stderr
    assert not (tmp_path / "kept.zip").exists()


def test_a_database_that_is_not_empty_is_not_filled(backed_up: tuple[Path, Path]) -> None:
    """Nothing of it changes. Oracle: by construction."""
    data, kept = backed_up
    before = asked(data, "SELECT count(*) FROM people_person")
    refused = run(data, "restore", str(kept))
    assert refused.returncode != 0
    assert "tables in this database already" in refused.stderr
    assert asked(data, "SELECT count(*) FROM people_person") == before


def test_a_file_that_is_no_backup_or_not_whole_is_refused(backed_up: tuple[Path, Path], tmp_path: Path) -> None:
    """A changed byte, another archive, no file, a newer version, a row that is missing: one line each.

    Oracle: by construction.
    """
    _, kept = backed_up
    with zipfile.ZipFile(kept) as archive:
        people = archive.getinfo("people.person.jsonl")
        about = json.loads(archive.read("about.json"))
        others = {name: archive.read(name) for name in archive.namelist() if name != "about.json"}
    broken = bytearray(kept.read_bytes())
    broken[people.header_offset + 60 + len(people.filename)] ^= 0xFF

    def packed(name: str, told: object, **changed: bytes) -> Path:
        with zipfile.ZipFile(tmp_path / name, "w") as made:
            made.writestr("about.json", json.dumps(told))
            for member, content in {**others, **changed}.items():
                made.writestr(member, content)
        return tmp_path / name

    (tmp_path / "broken.zip").write_bytes(bytes(broken))
    (tmp_path / "text.zip").write_text("no archive", encoding="utf-8")
    newer = {**about, "migrations": [*about["migrations"], ["people", "9999_from_the_future"]]}
    cases = {
        tmp_path / "broken.zip": ("is not as it was written", "is no backup"),
        tmp_path / "text.zip": ("is no backup of a clinic",),
        tmp_path / "none.zip": ("there is no file",),
        packed("other.zip", {"format": 99}): ("of another format",),
        packed("newer.zip", newer): ("a newer version made this backup",),
        packed("short.zip", about, **{"people.person.jsonl": b""}): ("could not be taken",),
        packed("text-row.zip", about, **{"people.person.jsonl": b"{}\n"}): ("could not be taken",),
    }
    for k, (path, words) in enumerate(cases.items()):
        refused = run(tmp_path / f"data-{k}", "restore", str(path))
        assert refused.returncode != 0
        assert any(each in refused.stderr for each in words), (path, refused.stderr)
        assert "Traceback" not in refused.stderr
