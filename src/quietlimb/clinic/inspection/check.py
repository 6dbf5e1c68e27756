"""Checks an inspection folder with nothing but Python 3: run it in the folder, or name the folder.

It walks the part of the journal that is in the folder, works out each hash and each seal anew, looks whether the
journal tells of every signed value, amendment, check and decision, whether every file is the one that SHA256SUMS.txt
names, and whether the tables for people say what the sealed rows say. It stands in each folder as it is here, and needs
no other file.
"""

import csv
import hashlib
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any


def canonical(value: object) -> str:
    """The text that is hashed: JSON in ASCII with sorted keys and no blanks."""
    return json.dumps(value, sort_keys=True, ensure_ascii=True, allow_nan=False, separators=(",", ":"))


def without(row: dict[str, Any], name: str) -> str:
    """The sha256 of a row without its own hash or seal."""
    rest = {key: value for key, value in row.items() if key != name}
    return hashlib.sha256(canonical(rest).encode("ascii")).hexdigest()


def lines(path: Path) -> Iterator[dict[str, Any]]:
    """The rows of a file of JSON lines."""
    with path.open(encoding="utf-8") as file:
        for line in file:
            yield json.loads(line)


SUMS = "SHA256SUMS.txt"
# Of the tables that people read, the columns that stand in the sealed rows too.
TOLD_TWICE = {
    "signed_values": {
        "charted mmHg": "charted",
        "signed mmHg": "chosen",
        "reason": "reason",
        "rule set": "rules",
        "engine": "engine",
        "fingerprint": "fingerprint",
        "seal": "seal",
        "session": "session_id",
    },
    "amendments": {"signed value": "signed_value_id", "mmHg": "chosen", "text": "text", "why": "why", "seal": "seal"},
    "checks": {
        "check": "kind",
        "figure": "figure",
        "unit": "unit",
        "limit": "limit",
        "issuer": "issuer",
        "number": "number",
        "valid until": "valid_until",
        "room C": "room_c",
        "remarks": "remarks",
        "corrects": "corrects_id",
        "why": "why",
        "seal": "seal",
    },
    "decisions": {
        "failed check": "failed_id",
        "session": "session_id",
        "decision": "what",
        "why": "why",
        "seal": "seal",
    },
}
VERDICT = {"True": "good", "False": "failed"}  # of a check, as its table says it


def files(folder: Path) -> Iterator[str]:
    """Every file that is not the one that was put in, is missing, or was put in later."""
    listed = {}
    for line in (folder / SUMS).read_text(encoding="utf-8").splitlines():
        digest, _, name = line.partition("  ")
        listed[name] = digest
    for name, digest in listed.items():
        if not (folder / name).is_file():
            yield f"{name} is missing"
        elif hashlib.sha256((folder / name).read_bytes()).hexdigest() != digest:
            yield f"{name} has been changed"
    for path in sorted(folder.iterdir()):
        if path.name not in listed and path.name != SUMS:
            yield f"{path.name} was not in the folder when it was made"


def tables(folder: Path) -> Iterator[str]:
    """Every cell of a table that differs from the sealed row that it shows."""
    for name, same in TOLD_TWICE.items():
        sealed = {row["seal"]: row for row in lines(folder / f"{name}.jsonl")}
        with (folder / f"{name}.csv").open(encoding="utf-8-sig", newline="") as file:
            shown = list(csv.DictReader(file))
        if len(shown) != len(sealed):
            yield f"{name}.csv has {len(shown)} rows, {name}.jsonl has {len(sealed)}"
        for row in shown:
            stored = sealed.get(row["seal"])
            if stored is None:
                yield f"{name}.csv: no row of {name}.jsonl has the seal {row['seal']}"
                continue
            for column, key in same.items():
                if row[column] != cell(stored[key]):
                    yield f"{name}.csv: {column} is {row[column]}, and {cell(stored[key])} in the sealed row"
            if name == "checks" and row["verdict"] != VERDICT[str(stored["good"])]:
                yield f"{name}.csv: verdict is {row['verdict']}, and otherwise in the sealed row"


def cell(value: object) -> str:
    """A value as the tables write it."""
    text = "" if value is None else str(value)
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") and isinstance(value, str) else text


def troubles(folder: Path) -> Iterator[str]:
    """Everything in the folder that is not as it was written."""
    for part in (files, tables, rows):
        try:
            yield from part(folder)
        except (OSError, ValueError, KeyError, TypeError) as error:
            yield f"the {part.__name__} cannot be read to their end ({error!r})"


def rows(folder: Path) -> Iterator[str]:
    """Every entry of the journal, signed value, amendment, check and decision that is not as it was written."""
    told: dict[str, str] = {}
    last: dict[str, Any] | None = None
    for entry in lines(folder / "journal.jsonl"):
        place = f"journal entry {entry['sequence']}"
        if entry["hash"] != without(entry, "hash"):
            yield f"{place} has been changed"
        if last is not None and entry["sequence"] != last["sequence"] + 1:
            yield f"{place} does not come next after {last['sequence']}"
        if last is not None and entry["previous"] != last["hash"]:
            yield f"{place} does not follow the one before it"
        told.setdefault(entry["thing_id"], entry["after"])
        last = entry
    for name in ("signed_values", "amendments", "checks", "decisions"):
        for row in lines(folder / f"{name}.jsonl"):
            if row["seal"] != without(row, "seal"):
                yield f"{name}: {row['id']} has been changed"
            elif told.get(row["id"]) != canonical(row):
                yield f"{name}: {row['id']} is not what the journal tells of it"


def main() -> int:
    """Say what was found; 1 where anything is wrong."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent
    found = list(troubles(folder))
    for trouble in found:
        print(trouble)
    entries = [] if found else list(lines(folder / "journal.jsonl"))
    if entries:
        print(f"{len(entries)} journal entries, from {entries[0]['sequence']} to {entries[-1]['sequence']}")
        print(f"hash of the last: {entries[-1]['hash']}")
    print("Not everything is as it was written." if found else "Everything is as it was written.")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
