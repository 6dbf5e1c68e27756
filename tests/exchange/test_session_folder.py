"""A folder of recordings as one session."""

from __future__ import annotations

from pathlib import Path

import pytest

from exchange.invented_files import CAT, recording_text, refusal, written
from quietlimb.exchange import session_folder
from quietlimb.exchange.session_folder import natural_order, read_session_folder


def folder_of(path: Path, started: dict[str, str | None]) -> Path:
    """A folder with one good recording for each name; None tells no time."""
    for name, started_at in started.items():
        above = CAT if started_at is None else f"{CAT}\n# started_at: {started_at}"
        written(path / name, recording_text(above=above), packed=name.endswith(".gz"))
    return path


def order(path: Path) -> list[tuple[str, float]]:
    """Names and minutes as read."""
    return [(found.path.name, found.minute) for found in read_session_folder(path).recordings]


def test_recordings_are_ordered_by_their_start_in_utc(tmp_path: Path) -> None:
    """Across the end of summer time the clock goes back, but minutes go on.

    Oracle: by construction: 02:50 at +02:00 is 00:50 UTC, 02:10 at +01:00 is 01:10 UTC.
    """
    folder = folder_of(
        tmp_path,
        {
            "1.csv": "2026-10-25T02:10:00+01:00",
            "2.csv.gz": "2026-10-25T02:50:00+02:00",
            "3.csv": "2026-10-25T01:11:30Z",
        },
    )
    assert order(folder) == [("2.csv.gz", 0.0), ("1.csv", 20.0), ("3.csv", 21.5)]
    assert not read_session_folder(folder).minutes_assumed


def test_times_without_offset_are_compared_as_they_stand(tmp_path: Path) -> None:
    """A clinic that writes local times gets local differences; equal times stay in the order of names.

    Oracle: by construction.
    """
    folder = folder_of(
        tmp_path, {"b10.csv": "2026-11-25 10:30", "b9.csv": "2026-11-25 10:30", "a.csv": "2026-11-25 10:31:15"}
    )
    assert order(folder) == [("b9.csv", 0.0), ("b10.csv", 0.0), ("a.csv", 1.25)]


def test_times_with_and_without_offset_do_not_mix(tmp_path: Path) -> None:
    """No order can be told, so none is guessed; the file without offset is named.

    Oracle: by construction.
    """
    folder = folder_of(tmp_path, {"1.csv": "2026-11-25T10:30:00+01:00", "2.csv": "2026-11-25T10:31:00"})
    error = refusal(lambda _: read_session_folder(folder), folder / "2.csv", "started-at-mixed", None, "offset")
    assert "2026-11-25T10:30:00+01:00" in error.remedy


def test_without_all_times_the_names_decide(tmp_path: Path) -> None:
    """One recording without a time: order by name with numbers as numbers, one minute apart, and said so.

    Oracle: invented for the minute; by construction for the order.
    """
    folder = folder_of(tmp_path, {"r10.csv": None, "r2.csv": "2026-11-25T10:30:00Z", "R1.csv": None})
    assert order(folder) == [("R1.csv", 0.0), ("r2.csv", 1.0), ("r10.csv", 2.0)]
    assert read_session_folder(folder).minutes_assumed


def test_a_file_that_cannot_be_read_does_not_stop_the_others(tmp_path: Path) -> None:
    """Good recordings come back with the errors of the others; other files are not looked at.

    Oracle: by construction.
    """
    folder = folder_of(tmp_path, {"1.csv": "2026-11-25T10:30:00Z", "3.csv": "2026-11-25T10:32:00Z"})
    written(folder / "2.csv", b"")
    written(folder / "4.csv.gz", b"\x1f\x8b rubbish")
    written(folder / "truth.json", b"{}")
    written(folder / ".hidden.csv", b"")
    (folder / "more.csv").mkdir()
    found = read_session_folder(folder)
    assert [each.path.name for each in found.recordings] == ["1.csv", "3.csv"]
    assert [(Path(error.path).name, error.code) for error in found.failures] == [
        ("2.csv", "empty"),
        ("4.csv.gz", "gzip-broken"),
    ]
    assert not found.minutes_assumed


def test_a_folder_of_nothing_but_failures_is_told(tmp_path: Path) -> None:
    """No recording could be read: the failures say why.

    Oracle: by construction.
    """
    written(tmp_path / "1.csv", b"")
    found = read_session_folder(tmp_path)
    assert found.recordings == ()
    assert [error.code for error in found.failures] == ["empty"]
    assert found.differing == ()


def test_a_folder_without_recordings_is_refused(tmp_path: Path) -> None:
    """Nothing to read, no folder, or a file: each is named.

    Oracle: by construction.
    """
    refusal(
        read_session_folder, tmp_path, "no-recordings", None, ".csv", "name the folder", "sub-folders are not searched"
    )
    refusal(read_session_folder, tmp_path / "none", "not-found", None, "no such folder", "check the name")
    file = written(tmp_path / "a.csv", recording_text())
    refusal(read_session_folder, file, "not-a-folder", None, "not a folder", "name a folder")


def test_a_folder_of_very_many_files_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A whole archive is not one session.

    Oracle: by construction, with the limit lowered for the test.
    """
    monkeypatch.setattr(session_folder, "MAX_RECORDINGS", 2)
    folder = folder_of(tmp_path, {"1.csv": None, "2.csv": None, "3.csv": None})
    refusal(read_session_folder, folder, "too-many-files", None, "3 recordings", "folder of its own")


def test_species_and_defaults_reach_every_recording(tmp_path: Path) -> None:
    """Options hold for the whole folder.

    Oracle: by construction.
    """
    written(tmp_path / "1.csv", recording_text(above=""))
    written(tmp_path / "2.csv", recording_text(above="# site: tail"))
    found = read_session_folder(tmp_path, species="dog", defaults={"site": "forelimb"})
    assert [each.recording.circumstances.species for each in found.recordings] == ["dog", "dog"]
    assert found.differing == ("site",)


def test_recordings_of_one_series_do_not_differ(tmp_path: Path) -> None:
    """Times may differ within a series; nothing is reported.

    Oracle: by construction.
    """
    folder = folder_of(tmp_path, {"1.csv": "2026-11-25T10:30:00Z", "2.csv": "2026-11-25T10:31:00Z"})
    assert read_session_folder(folder).differing == ()


def test_names_sort_with_their_numbers_as_numbers() -> None:
    """2 before 10, capital letters like small ones, digits before letters.

    Oracle: by construction.
    """
    names = ["r10b", "r10a", "R2", "r", "10", "9", "²"]
    assert sorted(names, key=natural_order) == ["9", "10", "r", "R2", "r10a", "r10b", "²"]
