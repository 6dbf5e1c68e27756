"""The chart note."""

from __future__ import annotations

from dataclasses import replace

from figures.examples import CAT, categories, charted, interpretation, uncharted
from quietlimb.engine.interpretation.interpret import interpret
from quietlimb.figures.invented import INVENTED_WORDS
from quietlimb.reports.note import chart_note
from quietlimb.words.categories import heading


def test_the_note_holds_what_a_record_needs() -> None:
    """Who, circumstances, readings, pressures, average, category, organs, advice, version, in 8 to 14 lines.

    Oracle: by construction: the numbers are those of the example.
    """
    given = charted(6)
    note = chart_note(given, interpret(given, organs={"brain": "absent"}))
    assert 8 <= len(note.splitlines()) <= 14
    assert note.endswith("\n")
    for part in (
        "Pebble, cat",
        "3 March 2031, 09:10.",
        "left forelimb",
        "6 (4 keep, 1 doubtful, 1 discard)",
        "systolic 148 (142 to 155)",
        "151/114/93 from readings 2, 4 to 6",
        "prehypertensive",
        "eyes not examined, brain no damage",
        "from memory",
        given.fingerprint[:16],
        "the veterinarian decides",
    ):
        assert part in note


def test_the_standing_is_told_once_and_no_sentence_ends_twice() -> None:
    """Several steps by one rule set tell its standing once; remarks with a full stop get no second one.

    Oracle: by construction.
    """
    given = charted(6, circumstances=replace(CAT, remarks="Slept."))
    told = interpret(given, organs={"brain": "absent"})
    assert len(told.next) > 1
    note = chart_note(given, told)
    assert note.count("from memory: not checked against the print") == 1
    assert "by ACVIM 2018, from memory (" in note
    assert "remarks Slept.\n" in note
    assert ".." not in note


def test_an_open_category_is_not_told_as_settled() -> None:
    """The value's category has 21 %, another 42 %: the note heads the category as `words` does for an open one.

    Oracle: by construction.
    """
    told = replace(interpretation(), today=categories(0.42, 0.21, 0.20, 0.17))
    note = chart_note(charted(6), told)
    assert heading(told) in note
    assert heading(interpretation()) not in note


def test_without_a_pressure_the_note_gives_none_and_says_why() -> None:
    """Three unusable readings: no pressure and a remedy.

    Oracle: by construction.
    """
    note = chart_note(uncharted(), interpret(uncharted()))
    assert "Charted: no pressure." in note
    assert "systolic" not in note


def test_an_invented_session_says_so_first_and_last() -> None:
    """A note is easily cut, so the words stand at both ends; a patient's note has none.

    Oracle: by construction.
    """
    lines = chart_note(charted(6, circumstances=replace(CAT, instrument="simulator")), None).splitlines()
    assert lines[0] == lines[-1] == INVENTED_WORDS
    assert INVENTED_WORDS not in chart_note(charted(6), None)


def test_line_feeds_in_remarks_do_not_break_the_note() -> None:
    """Remarks on several lines stay within their line of the note.

    Oracle: by construction.
    """
    told = chart_note(charted(6, circumstances=replace(CAT, remarks="hissed\nthen\tslept")), None)
    assert "remarks hissed then slept" in told
