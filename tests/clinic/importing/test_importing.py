"""Import of animals and owners: what is shown, what is done, what stays."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client

from clinic.examples import Clinic
from quietlimb.clinic.animals.models import Animal, Owner
from quietlimb.clinic.importing.lines import agreed
from quietlimb.clinic.importing.table import MOST_BYTES, ImportFileError, read_table
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.verifying import verify

SignIn = Callable[[Person], Client]
HEADER = "animal_id;animal;species;born;owner_id;owner;telephone"
FILE = f"{HEADER}\nA1;Burdock;dog;2019-03-31;O1;Ms Öhr;01 234\nA2;Clover;feline;;O1;Ms Öhr;\nA3;Yarrow;cat;;;;\n"
TODAY = date(2024, 1, 4)


def shown(browser: Client, content: str | bytes) -> HttpResponse:
    """The page that tells what would happen."""
    raw = content.encode() if isinstance(content, str) else content
    answer: HttpResponse = browser.post(
        "/practice/import", {"file": SimpleUploadedFile("clients.csv", raw, content_type="text/csv")}
    )
    return answer


def sent_on(page: HttpResponse) -> dict[str, str]:
    """What the page's button sends."""
    found = re.findall(r'<input type="hidden" name="(file_name|content|fingerprint)" value="([^"]*)">', page.text)
    return {name: html.unescape(value) for name, value in found}


def imported(browser: Client, content: str | bytes, **more: str) -> str:
    """Look, then do it; the last page."""
    sent = sent_on(shown(browser, content))
    if not sent:
        return ""
    answer = browser.post("/practice/import/done", {**sent, **more})
    assert answer.status_code == 200
    return str(answer.text)


def test_a_look_writes_nothing_and_the_import_writes_what_was_shown(clinic: Clinic, signed_in: SignIn) -> None:
    """Owners are made once for all their animals; the journal names file and line; the practice beside it sees nothing.

    Oracle: by construction.
    """
    browser = signed_in(clinic.lead)
    page = shown(browser, FILE)
    assert page.status_code == 200
    for words in ("read as UTF-8 with a semicolon", "line 2", "Burdock", "New owners"):
        assert words in page.text
    assert (Animal.objects.count(), Owner.objects.count(), Entry.objects.count()) == (1, 1, 0)
    imported(browser, FILE)
    burdock, clover, yarrow = (Animal.objects.get(link_id=number) for number in ("A1", "A2", "A3"))
    assert (burdock.name, burdock.species, burdock.born) == ("Burdock", "dog", date(2019, 3, 31))
    assert burdock.owner == clover.owner == Owner.objects.get(name="Ms Öhr", telephone="01 234", link_id="O1")
    assert yarrow.owner is None
    assert {each.practice for each in Animal.objects.all()} == {clinic.practice}
    assert Entry.objects.get(thing_id=clover.pk).why == "import of clients.csv, line 3"
    assert Entry.objects.count() == 4
    assert verify().trouble is None


def test_the_same_file_twice_changes_nothing(clinic: Clinic, signed_in: SignIn) -> None:
    """The second look offers no button, and sending the first page once more changes no row and no entry.

    Oracle: by construction.
    """
    browser = signed_in(clinic.lead)
    first = sent_on(shown(browser, FILE))
    imported(browser, FILE)
    rows = sorted(Animal.objects.values_list()), sorted(Owner.objects.values_list())
    entries = Entry.objects.count()
    page = shown(browser, FILE)
    assert "There is nothing to import." in page.text
    assert sent_on(page) == {}
    assert browser.post("/practice/import/done", first).status_code == 409
    assert (sorted(Animal.objects.values_list()), sorted(Owner.objects.values_list())) == rows
    assert Entry.objects.count() == entries


def test_what_was_changed_here_stays_and_is_told(clinic: Clinic, signed_in: SignIn) -> None:
    """A field that only the file changed is taken. One changed here stays, also where it was emptied, until asked for.

    Oracle: by construction, the three values of each field.
    """
    browser = signed_in(clinic.lead)
    imported(browser, FILE)
    Owner.objects.filter(link_id="O1").update(telephone="09 999")
    Animal.objects.filter(link_id="A1").update(born=None)
    later = FILE.replace("Burdock", "Burdock the Elder").replace("01 234", "01 555")
    page = shown(browser, later).text
    assert "telephone: changed here to 09 999, the file says 01 555" in page
    assert "born: changed here to -, the file says 2019-03-31" in page
    imported(browser, later)
    burdock = Animal.objects.select_related("owner").get(link_id="A1")
    assert burdock.owner
    assert (burdock.name, burdock.born, burdock.owner.telephone) == ("Burdock the Elder", None, "09 999")
    imported(browser, later, overwrite="on")
    burdock = Animal.objects.select_related("owner").get(link_id="A1")
    assert burdock.owner
    assert (burdock.born, burdock.owner.telephone) == (date(2019, 3, 31), "01 555")
    assert "There is nothing to import." in shown(browser, later).text
    assert verify().trouble is None


def test_an_empty_cell_removes_nothing(clinic: Clinic, signed_in: SignIn) -> None:
    """Neither does a column that is missing.

    Oracle: by construction.
    """
    browser = signed_in(clinic.lead)
    imported(browser, FILE)
    before = sorted(Animal.objects.values_list())
    imported(browser, f"{HEADER}\nA1;;;;O1;;\n")
    imported(browser, "animal_id\nA1\n")
    assert sorted(Animal.objects.values_list()) == before


def test_an_animal_without_a_number_gets_it_where_name_species_and_owner_are_the_same(
    clinic: Clinic, signed_in: SignIn
) -> None:
    """Thistle of Mr Invented is known again and no double is made; a namesake of another owner is another animal.

    Oracle: by construction.
    """
    browser = signed_in(clinic.lead)
    lines = f"{HEADER}\nA7;thistle;cat;;O7;mr invented;01 1\nA8;Thistle;cat;;O8;Mrs Invented;\nA9;Thistle;dog;;O7;;\n"
    page = shown(browser, lines).text
    assert "animal_id: <ins>A7</ins>" in page
    imported(browser, lines)
    clinic.animal.refresh_from_db()
    assert clinic.animal.link_id == "A7"
    assert clinic.animal.owner
    assert (clinic.animal.owner.link_id, clinic.animal.owner.telephone) == ("O7", "01 1")
    assert clinic.animal.name == "Thistle"  # typed by a person here: capitals stay
    assert Animal.objects.filter(practice=clinic.practice).count() == 3
    assert "changed here to Thistle, the file says thistle" in shown(browser, lines).text


def test_two_namesakes_of_one_owner_are_not_guessed_between(clinic: Clinic, signed_in: SignIn) -> None:
    """The line is left out with what to do.

    Oracle: by construction.
    """
    Animal.objects.create(practice=clinic.practice, owner=clinic.animal.owner, name="Thistle", species="cat")
    page = shown(signed_in(clinic.lead), f"{HEADER}\nA7;Thistle;cat;;O7;Mr Invented;\n").text
    assert "several animals here have this name and owner" in page


def test_another_owner_of_a_known_animal_is_a_change(clinic: Clinic, signed_in: SignIn) -> None:
    """From the number of the old owner to that of the new one.

    Oracle: by construction.
    """
    browser = signed_in(clinic.lead)
    imported(browser, FILE)
    moved = f"{HEADER}\nA1;Burdock;dog;;O2;Mr Reed;\n"
    assert "owner_id: <del>O1</del> &rarr; <ins>O2</ins>" in shown(browser, moved).text
    imported(browser, moved)
    owner = Animal.objects.select_related("owner").get(link_id="A1").owner
    assert owner
    assert owner.name == "Mr Reed"


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("A1;Burdock;horse;;;;", "species horse is not known: write cat or dog"),
        ("A1;Burdock;dog;3/4/2019;;;", "3/4/2019 is not a day that can be read: write it as 2019-03-31"),
        ("A1;Burdock;dog;2024-01-05;;;", "2024-01-05 has not come yet"),
        (";Burdock;dog;;;;", "animal_id is empty"),
        ("A1;Burdock;dog;;;Ms Reed;", "owner_id is empty"),
        (f"A1;{'x' * 81};dog;;;;", "animal: 81 characters are too many: shorten it to 80"),
        (f"A1;{'x' * 1001};dog;;;;", "animal has more than 1000 letters"),
        (";;;;;;", ""),
    ],
)
def test_a_line_that_cannot_be_read_is_left_out_with_its_remedy(line: str, says: str) -> None:
    """The others are taken all the same; an empty line is none.

    Oracle: by construction.
    """
    table = read_table(f"{HEADER}\n{line}\nA2;Clover;cat;;;;\n".encode())
    found = agreed(table.lines, today=TODAY)
    assert [each.link_id for each in found.animals] == ["A2"]
    assert [each.number for each in found.refused] == ([2] if says else [])
    if says:
        assert says in f"{found.refused[0].says}: {found.refused[0].remedy}"


def test_lines_that_contradict_each_other_are_left_out() -> None:
    """The same animal twice, and an owner with two telephones, name the line that came first.

    Oracle: by construction.
    """
    text = f"{HEADER}\nA1;B;dog;;O1;Ms Reed;1\nA1;B;dog;;O1;Ms Reed;1\nA2;C;cat;;O1;Ms Reed;2\n"
    found = agreed(read_table(text.encode()).lines, today=TODAY)
    assert [each.number for each in found.refused] == [3, 4]
    assert found.refused[0].says == "animal_id A1 stands in line 2 already"
    assert found.refused[1].says == "owner_id O1 has another telephone in line 2"


def test_what_is_new_needs_its_name_and_species(clinic: Clinic, signed_in: SignIn) -> None:
    """An unknown number alone makes nothing.

    Oracle: by construction.
    """
    page = shown(signed_in(clinic.lead), f"{HEADER}\nA1;;dog;;;;\nA2;Clover;cat;;O9;;\n").text
    assert "A1 is not known here, and animal is empty" in page
    assert "O9 is not known here, and owner is empty" in page
    assert "There is nothing to import." in page


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_encoding_and_separator_are_found_out(encoding: str, separator: str) -> None:
    """Each of four encodings with each of three separators gives the same lines; a quoted cell may hold all of them.

    Oracle: by construction; reference library, the codecs of Python.
    """
    rows = [["Animal ID", "animal", "SPECIES", "fur"], ["A1", f'Öhr{separator} "the\r\nElder"', "cat", "long"]]
    text = "\r\n".join(separator.join('"' + cell.replace('"', '""') + '"' for cell in row) for row in rows)
    table = read_table(text.encode(encoding))
    (line,) = table.lines
    assert line.cells == {"animal_id": "A1", "animal": f'Öhr{separator} "the\r\nElder"', "species": "cat"}
    assert table.unread == ("fur",)
    assert table.encoding == {"utf-16": "UTF-16", "cp1252": "Windows-1252"}.get(encoding, "UTF-8")


def test_a_line_keeps_its_number_after_a_cell_of_two_lines() -> None:
    """Lines are counted as an editor shows them.

    Oracle: by construction.
    """
    table = read_table(b'animal_id,animal,species\nA1,"two\nlines",cat\n\nA2,Clover,cat,too much\n')
    assert [line.number for line in table.lines] == [2]
    assert [(line.number, line.says) for line in table.refused] == [(5, "4 cells under 3 headers")]


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "no-header"),
        (b"name,species\nBurdock,dog\n", "no-header"),
        (b"animal_id,owner\nA1,Ms Reed\n", "no-owner-id"),
        (b"owner_id,animal\nO1,Burdock\n", "no-animal-id"),
        (b"animal_id,animal_id\nA1,A2\n", "header-twice"),
        (b"\x89PNG\x00\x01", "no-text"),
        (b'animal_id,animal\nA1,"Burdock\n', "broken-table"),
        (b"animal_id\n" + b"A1\n" * 5_001, "too-many-lines"),
        (b"a" * (MOST_BYTES + 1), "too-large"),
    ],
)
def test_a_file_that_cannot_be_imported_says_why(content: bytes, code: str) -> None:
    """Nothing of it is read.

    Oracle: by construction.
    """
    with pytest.raises(ImportFileError) as found:
        read_table(content)
    assert found.value.code == code
    assert found.value.remedy


def test_the_page_tells_what_is_wrong_with_a_file(clinic: Clinic, signed_in: SignIn) -> None:
    """On the page of the form; without a file too.

    Oracle: by construction.
    """
    browser = signed_in(clinic.lead)
    answer = shown(browser, b"\x00")
    assert answer.status_code == 422
    assert "The file is not a text table" in answer.text
    assert shown(browser, "a" * (MOST_BYTES + 1)).status_code == 422
    assert (
        browser.post("/practice/import/done", {"content": "?", "file_name": "a", "fingerprint": "a"}).status_code == 422
    )


def test_the_largest_file_comes_through_the_look(clinic: Clinic, signed_in: SignIn) -> None:
    """What the page sends back is within what the framework takes.

    Oracle: by construction, lines up to the most bytes, nearly all of them in a column that is left out.
    """
    lines = [f"A{k};Burdock;dog;{'x' * 9_000}\n" for k in range((MOST_BYTES - 100) // 9_100)]
    text = "animal_id;animal;species;fur\n" + "".join(lines)
    text += "\n" * (MOST_BYTES - len(text))
    assert len(text) == MOST_BYTES
    imported(signed_in(clinic.lead), text)
    assert Animal.objects.filter(practice=clinic.practice).count() == len(lines) + 1


def test_a_line_that_is_left_out_makes_no_owner_either(clinic: Clinic, signed_in: SignIn) -> None:
    """Her animal lacks its species; an owner of another line as well, and an owner alone, are made.

    Oracle: by construction.
    """
    browser = signed_in(clinic.lead)
    lines = "B1;Reed;;;P1;Ms Alone;", "B2;Rush;;;P2;Mr Both;", "B3;Sedge;cat;;P2;Mr Both;", ";;;;P3;Ms Without;"
    content = "\n".join((HEADER, *lines)) + "\n"
    page = shown(browser, content).text
    assert "Ms Alone" not in page
    assert "B1 is not known here, and species is empty" in page
    imported(browser, content)
    assert set(Owner.objects.filter(practice=clinic.practice).values_list("name", flat=True)) == {
        "Mr Invented",
        "Mr Both",
        "Ms Without",
    }
    assert list(Animal.objects.filter(link_id__startswith="B").values_list("name", flat=True)) == ["Sedge"]


def test_a_file_that_is_too_large_is_refused_on_its_page_with_the_limit(clinic: Clinic, signed_in: SignIn) -> None:
    """Also where it is beyond what other pages take in.

    Oracle: by construction.
    """
    answer = shown(signed_in(clinic.lead), b"x" * 3_000_000)
    assert answer.status_code == 422
    assert "larger than 500 kB" in answer.text
    assert "What the file looks like" in answer.text
