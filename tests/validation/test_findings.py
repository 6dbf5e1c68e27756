"""The table of findings by scenario counts what the readings carry."""

from __future__ import annotations

from dataclasses import replace

from findings import block, readings, seconds_moved

from quietlimb.engine.findings import Finding


def test_shares_are_of_all_recordings_and_the_worst_severity_counts_once() -> None:
    """Two of four carry a weak pulse, one of them twice: 50 %, one note and one doubt; held counts kept readings only.

    Oracle: by construction, the findings put in here. Tolerance: none.
    """
    numbers = {"peak_mmhg": 0.1, "noise_mmhg": 0.05}
    note, doubt = (Finding(code="weak-pulse", severity=s, numbers=numbers) for s in ("note", "doubt"))
    made = readings("undisturbed", range(21119001, 21119005))
    given = [(note,), (doubt, note), (), ()]
    pairs = [(m, replace(r, verdict="keep", findings=f)) for (m, r), f in zip(made, given, strict=True)]
    pairs[3] = (pairs[3][0], replace(pairs[3][1], verdict="discard"))
    head, held, *rows = block("undisturbed", pairs)
    assert head == "undisturbed: keep 3, doubtful 0, discard 1"
    assert held.count(" of 3") == 4
    assert [row.split() for row in rows] == [["weak-pulse", "50.0", "25.0", "25.0", "0.0"]]


def test_seconds_moved_are_told_beside_the_true_ones() -> None:
    """A movement of 1.5 s told as 0.4 s, and one of 0.5 s not told, are 1.0 and 0.2 s on average.

    Oracle: by construction, the spans and findings put in here. Tolerance: none.
    """
    told = Finding(code="limb-moved", severity="note", numbers={"seconds": 0.4, "share": 0.1})
    (first, read_first), (second, read_second) = readings("undisturbed", (21119005, 21119006))
    assert seconds_moved([(first, read_first), (second, read_second)]) == ""
    first = replace(first, truth=replace(first.truth, moved_s=((10.0, 11.0), (12.0, 12.5))))
    second = replace(second, truth=replace(second.truth, moved_s=((10.0, 10.5),)))
    pairs = [
        (first, replace(read_first, verdict="keep", findings=(told,))),
        (second, replace(read_second, verdict="keep", findings=())),
    ]
    assert seconds_moved(pairs) == "  seconds moved: keep 1.0, told 0.2"
