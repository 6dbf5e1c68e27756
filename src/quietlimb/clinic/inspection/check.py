"""Checks an inspection folder with nothing but Python 3: run it in the folder, or name the folder.

It walks the part of the journal that is in the folder, works out each hash and each seal anew, and looks whether the
journal tells of every signed value and amendment. It stands in each folder as it is here, and needs no other file.
"""

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


def troubles(folder: Path) -> Iterator[str]:
    """Everything in the folder that is not as it was written."""
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
    for name in ("signed_values", "amendments"):
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
    entries = list(lines(folder / "journal.jsonl"))
    if entries:
        print(f"{len(entries)} journal entries, from {entries[0]['sequence']} to {entries[-1]['sequence']}")
        print(f"hash of the last: {entries[-1]['hash']}")
    print("Not everything is as it was written." if found else "Everything is as it was written.")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
