"""The table of findings by scenario counts what the readings carry."""

from __future__ import annotations

from dataclasses import replace

from findings import block, readings

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
