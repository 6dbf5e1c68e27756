"""Comparisons: looked at, kept as they came, shown as the statistics have them, and never changed."""

from __future__ import annotations

import hashlib
import html
import io
import json
import re
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, connection, transaction
from django.http import HttpResponse
from django.test import Client

from agreement.invented_rows import invented_rows
from clinic.examples import Clinic
from clinic.journal.test_tampering import from_outside, protect_again
from quietlimb.agreement.comparing import as_run, compare_rows
from quietlimb.agreement.plan import Analysis, Plan
from quietlimb.clinic.backup import _kept
from quietlimb.clinic.comparisons.models import Comparison
from quietlimb.clinic.comparisons.reckoning import MOST_BYTES, MOST_ROWS
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.verifying import verify
from quietlimb.exchange.comparison_json import comparison_object
from quietlimb.exchange.pairs_csv import pairs_text
from quietlimb.exchange.plan_json import plan_text
from quietlimb.reports.comparison_bundle import rerun_bundle
from quietlimb.words import comparison_tables as tables
from quietlimb.words.comparison import figure_rows, interval_words
from quietlimb.words.comparison_cautions import cautions_before

SignIn = Callable[[Person], Client]
ROWS = invented_rows(3, animals=8, readings=4, failed=1)
FILE = pairs_text(ROWS)


def looked(browser: Client, content: str | bytes, *, plan: str = "", **more: object) -> HttpResponse:
    """The page that tells what was understood."""
    raw = content.encode() if isinstance(content, str) else content
    sent: dict[str, object] = {"name": "tail cuff", "file": SimpleUploadedFile("pairs.csv", raw), **more}
    if plan:
        sent["plan"] = SimpleUploadedFile("plan.json", plan.encode())
    answer: HttpResponse = browser.post("/comparisons/add", sent)
    return answer


def sent_on(page: HttpResponse) -> dict[str, list[str]]:
    """What the page's button sends."""
    found: dict[str, list[str]] = {}
    for name, value in re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)">', page.text):
        if name != "csrfmiddlewaretoken":
            found.setdefault(name, []).append(html.unescape(value))
    return found


def kept(browser: Client, content: str | bytes, **more: object) -> Comparison:
    """Looked at and kept."""
    answer = browser.post("/comparisons/keep", sent_on(looked(browser, content, **more)))  # type: ignore[arg-type]
    assert answer.status_code == 302, answer.content
    return Comparison.objects.get(pk=answer.headers["Location"].rsplit("/", 1)[1])


def of(browser: Client, row: Comparison, part: str = "") -> HttpResponse:
    """A page or download of a comparison."""
    answer: HttpResponse = browser.get(f"/comparisons/{row.pk}{part}")
    return answer


def test_the_parts_of_the_clinic_lead_on_from_a_comparison(clinic: Clinic, signed_in: SignIn) -> None:
    """The page of a comparison with its results has the same navigation as Today, none of it empty.

    Oracle: by construction.
    """
    browser = signed_in(clinic.lead)

    def parts(page: str) -> list[tuple[str, str]]:
        nav = page[page.index('<nav class="parts"') : page.index("</nav>")]
        return re.findall(r'<a href="([^"]*)"[^>]*>([^<]*)</a>', nav)

    page = of(browser, kept(browser, FILE)).text
    assert "criterion" in page
    assert parts(page) == parts(browser.get("/").text)
    assert ("/instruments", "Instruments") in parts(page)


def test_a_look_tells_what_was_understood_and_keeps_nothing(clinic: Clinic, signed_in: SignIn) -> None:
    """Names and counts are those of the file; a line at fault is told with its number and the remedy.

    Oracle: by construction, the rows that were written; one line of them is spoiled.
    """
    lines = FILE.splitlines()
    lines[-1] = lines[-1].rsplit(",", 2)[0] + ",900,120"
    page = looked(signed_in(clinic.lead), "\n".join(lines))
    assert page.status_code == 200
    told = re.sub(r"<[^>]+>", " ", page.text)
    assert f"line {len(lines)}" in told
    assert "900 mmHg, outside 5 to 350" in told
    assert "look at the notes again" in told
    assert "8: cat 8" in told
    assert "Systolic pressure (30)" in told  # 32 rows, one failed, one left out
    assert "INVENTED" in told
    assert not Comparison.objects.exists()
    assert not Entry.objects.exists()


def test_what_is_kept_is_the_file_and_what_the_command_computes(clinic: Clinic, signed_in: SignIn) -> None:
    """Bytes, their sha256 and the results are those of the library called by itself; one entry tells of it.

    Oracle: by construction, the statistics as `quietlimb compare` calls them, which have oracles of their own.
    """
    browser = signed_in(clinic.researcher)
    row = kept(browser, FILE, reference_is="intra-arterial", schemes=["veterinary-consensus"])
    rows, analysis = as_run(ROWS, Analysis(reference_is="intra-arterial"))
    wanted = comparison_object(rows, [(each.comparison, each.lacks) for each in compare_rows(rows, analysis)], analysis)
    assert bytes(row.content) == FILE.encode()
    assert row.sha256 == hashlib.sha256(FILE.encode()).hexdigest()
    assert row.results == json.loads(json.dumps(wanted))
    assert row.made_by == clinic.researcher
    entry = Entry.objects.get()
    assert (entry.what, entry.thing_id, entry.who) == ("comparison kept", row.pk, clinic.researcher)
    assert row.sha256 in entry.after
    assert verify().trouble is None
    assert Comparison in _kept(apps)


def test_the_page_shows_limits_verdicts_what_is_missing_and_the_paragraph(clinic: Clinic, signed_in: SignIn) -> None:
    """A nurse sees bias and limits with their intervals, and in words where an interval reaches over a limit.

    Oracle: by construction, the same figures from the statistics called by themselves.
    """
    row = kept(signed_in(clinic.lead), FILE)
    page = html.unescape(of(signed_in(clinic.nurse), row).text)
    found = compare_rows(*as_run(ROWS, Analysis()))[0].comparison
    assert found.limits is not None
    for value in (found.limits.bias, found.limits.lower, found.limits.upper):
        assert interval_words(value, signed=True) in page
    crossing = [each for each in found.judgements[0].judged if each.verdict == "passes-crossing"]
    assert crossing, "the example has a criterion that passes while its interval crosses"
    assert page.count("<td>met, but its interval reaches over the limit</td>") == len(crossing)
    assert found.trending is not None
    for name, value in figure_rows(found):
        assert f'<th scope="row">{name}</th><td>{value}</td>' in page
    before = cautions_before(ROWS, [found])
    assert before, "the example has few animals"
    for line in [*before, *tables.missing_sentences(found)]:
        assert line in page
    assert found.missing
    for criterion, span, value, verdict in tables.verdict_rows(found.judgements[0], found):
        cells = "".join(f"<td>{cell}</td>" for cell in (span, value, verdict))
        assert f'<th scope="row">{criterion}</th>{cells}' in page
    header, counts = tables.category_rows(found)
    assert "".join(f'<th scope="col">{name}</th>' for name in header) in page
    for name, *cells in counts:
        assert f'<th scope="row">{name}</th>' + "".join(f"<td>{cell}</td>" for cell in cells) in page
    assert "lowest third" in page
    assert "What is missing for veterinary consensus" in page
    assert row.results["methods"] in page
    assert "There was no analysis plan." in page
    assert "style=" not in page  # the browser would refuse it
    assert "/retire" not in page  # not hers
    listed = html.unescape(signed_in(clinic.nurse).get("/comparisons").text)
    assert (
        f"Systolic pressure, {found.judgements[0].scheme.name}: met, but its interval reaches over the limit" in listed
    )


def test_figures_report_bundle_and_file_come_down(clinic: Clinic, signed_in: SignIn, tmp_path: Path) -> None:
    """The bundle runs again to the same bytes; figures are pictures, in both themes; the file is as it came.

    Oracle: by construction; the bundle's own check.
    """
    browser = signed_in(clinic.lead)
    row = kept(browser, FILE)
    names = re.findall(r'src="[^"]*\?name=([\w-]+)"', of(browser, row).text)
    assert names == [f"systolic-{each}" for each in ("differences", "scatter", "four-quadrants", "recruitment")]
    light, dark = (of(browser, row, f"/figure?name={names[0]}&theme={each}") for each in ("light", "dark"))
    assert light.headers["Content-Type"] == "image/svg+xml"
    assert light.content.startswith(b"<svg")
    assert light.content != dark.content
    assert of(browser, row, "/figure?name=none").status_code == 404
    assert of(browser, row, "/pdf").content.startswith(b"%PDF-")
    assert of(browser, row, "/file").content == FILE.encode()
    assert json.loads(of(browser, row, "/results").content) == row.results
    with zipfile.ZipFile(io.BytesIO(of(browser, row, "/bundle").content)) as archive:
        archive.extractall(tmp_path)
    again = rerun_bundle(tmp_path / "comparison")
    assert again.identical
    assert again.changed == ()


def test_a_plan_is_kept_and_what_departs_from_it_is_told(clinic: Clinic, signed_in: SignIn) -> None:
    """Fewer animals than planned, told on the page; the plan's bytes are kept.

    Oracle: by construction.
    """
    plan = Plan(
        title="Tail cuff", question="how far off", tested=ROWS.tested_name, reference=ROWS.reference_name,
        primary="systolic", animals=20, readings=None, made_on="2031-02-04",
        analysis=replace(Analysis(), quantities=("systolic",)),
    )  # fmt: skip
    browser = signed_in(clinic.lead)
    row = kept(browser, FILE, plan=plan_text(plan))
    assert bytes(row.plan).decode() == plan_text(plan)
    assert "animals: planned 20, done 8" in of(browser, row).text
    changed = plan_text(plan).replace('"animals": 20', '"animals": 8')
    answer = looked(browser, FILE, plan=changed)
    assert answer.status_code == 422
    assert "the plan was changed after it was made" in html.unescape(answer.text)


def test_sending_it_twice_keeps_it_once_and_another_with_its_key_is_refused(clinic: Clinic, signed_in: SignIn) -> None:
    """The key of the page makes the second sending the first; other bytes or another practice are refused.

    Oracle: by construction.
    """
    browser = signed_in(clinic.lead)
    sent = sent_on(looked(browser, FILE))
    first, second = (browser.post("/comparisons/keep", sent) for _ in range(2))
    assert first.headers["Location"] == second.headers["Location"]
    other = sent_on(looked(browser, pairs_text(invented_rows(4))))
    assert browser.post("/comparisons/keep", {**other, "key": sent["key"]}).status_code == 409
    assert signed_in(clinic.stranger).post("/comparisons/keep", sent).status_code == 409
    assert Comparison.objects.count() == Entry.objects.count() == 1


@pytest.mark.parametrize("left", [0.6, 0.99])
def test_what_was_cut_off_on_the_way_is_not_kept(left: float, clinic: Clinic, signed_in: SignIn) -> None:
    """A file of which the end is missing can still be read, and would be kept as what came.

    Oracle: by construction, the packed text cut after a whole group of four.
    """
    browser = signed_in(clinic.lead)
    sent = sent_on(looked(browser, FILE))
    (packed,) = sent["content"]
    cut = packed[: int(left * len(packed)) // 4 * 4]
    assert browser.post("/comparisons/keep", {**sent, "content": cut}).status_code == 422
    assert not Comparison.objects.exists()
    assert browser.post("/comparisons/keep", sent).status_code == 302


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ("", "zero bytes"),
        ("animal,tested_systolic_mmHg\nA,1\n", "no pressure has a column by either method"),
        ("\0\1\2", "text"),
        (b"x" * (MOST_BYTES + 1), "more than 400 kB"),
        (
            "# truth: changing\nanimal,tested_mean_mmHg,reference_mean_mmHg\n" + "A,120,118\n" * (MOST_ROWS + 1),
            "more than 2000",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_compared_is_told_at_the_field(
    content: str | bytes, says: str, clinic: Clinic, signed_in: SignIn
) -> None:
    """With what was found and what to do; nothing is kept.

    Oracle: by construction.
    """
    answer = looked(signed_in(clinic.lead), content)
    assert answer.status_code == 422
    assert says in html.unescape(answer.text).split('role="alert"', 1)[1]
    assert "/tmp" not in answer.text
    assert not Comparison.objects.exists()


def test_a_comparison_is_retired_and_neither_changed_nor_removed(clinic: Clinic, signed_in: SignIn) -> None:
    """Retired it leaves the list and stays to be looked at; the database refuses to change what it says.

    Oracle: by construction, SQL without the framework between.
    """
    browser = signed_in(clinic.lead)
    row = kept(browser, FILE)
    assert browser.post(f"/comparisons/{row.pk}/retire", {"why": ""}).status_code == 422
    for why in ("the cuff was the wrong one", "again"):
        assert browser.post(f"/comparisons/{row.pk}/retire", {"why": why}).status_code == 302
    row.refresh_from_db()
    assert (row.retired_why, row.retired_by) == ("the cuff was the wrong one", clinic.lead)
    assert [entry.what for entry in Entry.objects.order_by("sequence")] == ["comparison kept", "comparison retired"]
    assert str(row.pk) not in browser.get("/comparisons").text
    assert str(row.pk) in browser.get("/comparisons?show=retired").text
    assert "the cuff was the wrong one" in of(browser, row).text
    for statement in ("UPDATE {} SET name = 'x'", "UPDATE {} SET results = '{{}}'", "DELETE FROM {}"):
        with pytest.raises(DatabaseError, match="stands for good"), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement.format("comparisons_comparison"))
    assert verify().trouble is None


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("UPDATE comparisons_comparison SET sha256 = 'x'", "does not have the files that were put in"),
        ("UPDATE comparisons_comparison SET name = 'x'", "is not what the journal tells of it"),
        ("UPDATE comparisons_comparison SET results = '{}'", "is not what the journal tells of it"),
        ("DELETE FROM comparisons_comparison", "is in the journal and gone"),
    ],
)
def test_what_was_changed_behind_the_back_is_found(
    statement: str, says: str, clinic: Clinic, signed_in: SignIn
) -> None:
    """A comparison that is not as it was kept is named.

    Oracle: by construction, each change made with the triggers taken away for the moment.
    """
    kept(signed_in(clinic.lead), FILE)
    assert verify().trouble is None
    with from_outside() as cursor:
        cursor.execute(statement)
        protect_again(cursor)
        assert says in str(verify().trouble)


def test_what_another_engine_kept_is_shown_beside_what_this_one_finds(clinic: Clinic, signed_in: SignIn) -> None:
    """The member that came out otherwise is named; the kept results stay as they are.

    Oracle: by construction, a kept bias one mmHg off.
    """
    browser = signed_in(clinic.lead)
    row = kept(browser, FILE)
    results = json.loads(json.dumps(row.results))
    results["compared"][0]["bias"]["bias"]["estimate"] += 1.0
    old = Comparison.objects.create(
        practice=clinic.practice, name="older", made_by=clinic.lead, made_at=clinic.started_at, file_name="p.csv",
        sha256=row.sha256, content=row.content, engine="0.0.1", results=results,
    )  # fmt: skip
    assert "Members of the results that differ" not in of(browser, row).text
    page = of(browser, old).text
    assert "Not as it was kept with engine 0.0.1" in page
    assert "<code>compared/0/bias/bias/estimate</code>" in page
    assert page.count("<li><code>") == 1


def test_the_teaching_room_leads_out_to_it(clinic: Clinic, signed_in: SignIn) -> None:
    """Nothing is compared in the learners' store.

    Oracle: by construction.
    """
    answer = signed_in(clinic.nurse).get("/teaching/room/comparisons")
    assert answer.status_code == 302
    assert answer.headers["Location"] == "/comparisons"
