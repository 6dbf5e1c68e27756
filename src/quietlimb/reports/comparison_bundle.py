"""A comparison as a folder that a reviewer re-runs with one command, to the same bytes.

pairs.csv holds the determinations, analysis.json how they were analysed, comparison.json what came of it; plan.json is
the plan word for word, where there was one; methods.txt and the figures are made of these. Where the pairs were made of
recordings, flushes.csv names for each row the file that holds the samples of its line's fast flush. SHA256SUMS names
them all.
"""

from __future__ import annotations

import hashlib
import json
import math
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from quietlimb.agreement.arterial_line import FlushResponse, first_response
from quietlimb.agreement.comparing import as_run, compare_rows
from quietlimb.agreement.pair_rows import PairRows
from quietlimb.agreement.plan import Analysis, deviations
from quietlimb.agreement.summary import Comparison
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.arterial_channel import arterial_text, read_arterial
from quietlimb.exchange.comparison_json import Differing, comparison_object, comparison_text, differing
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.pairs_csv import pairs_text, read_pairs
from quietlimb.exchange.plan_json import analysis_from, analysis_object, read_plan
from quietlimb.exchange.text_file import bytes_on_disk, read_text
from quietlimb.figures.comparison import comparison_figures
from quietlimb.figures.export import svg

SUMS: Final = "SHA256SUMS"
README: Final = "README.txt"
FLUSHES: Final = "flushes.csv"
SAME_WITHIN: Final = 1e-4  # of natural frequency and damping, which another machine may fit otherwise [invented]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rerun:
    """What a bundle gave when it was run again.

    changed   : files that are not what SHA256SUMS says
    differing : members of the results that came out otherwise
    identical : whether the results are the same to the byte
    flushes   : how many rows have the samples of a flush
    lines     : of these, where natural frequency or damping came out otherwise
    engine_then, engine_now : versions
    """

    changed: tuple[str, ...]
    differing: tuple[Differing, ...]
    identical: bool
    flushes: int
    lines: tuple[Differing, ...]
    engine_then: str
    engine_now: str


def write_bundle(
    folder: Path,
    rows: PairRows,
    compared: Sequence[Comparison],
    analysis: Analysis,
    told: Mapping[str, Any],
    *,
    plan: str | os.PathLike[str] | None = None,
) -> None:
    """Write the folder; the same comparison gives the same bytes.

    told : the comparison as JSON has it
    """
    files = {
        "pairs.csv": pairs_text(rows).encode(),
        "analysis.json": (json.dumps(analysis_object(analysis), indent=1) + "\n").encode(),
        "comparison.json": comparison_text(told).encode(),
        "methods.txt": (told["methods"] + "\n").encode(),
        README: _readme(rows, plan is not None, any(row.flush is not None for row in rows.rows)).encode(),
        **_flushes(rows),
        **{f"{name}.svg": svg(spec).encode() for name, spec in comparison_figures(rows, compared)},
    }
    if plan is not None:
        files["plan.json"] = bytes_on_disk(plan)
    sums = [f"{hashlib.sha256(content).hexdigest()}  {name}" for name, content in sorted(files.items())]
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in [*files.items(), (SUMS, ("\n".join(sums) + "\n").encode())]:
        (folder / name).write_bytes(content)


def rerun_bundle(folder: Path) -> Rerun:
    """The comparison of a bundle, made again from its pairs and its analysis.

    Raises
    ------
    FileError  : a file is missing or damaged.
    PairsError : as `compare_rows`.
    """
    changed = tuple(name for name, expected in _sums(folder) if _sum_of(folder / name) != expected)
    then = read_text(folder / "comparison.json")
    try:
        analysis = analysis_from(json.loads(read_text(folder / "analysis.json")))
        before = json.loads(then)
    except (json.JSONDecodeError, KeyError, TypeError, AttributeError, ParameterError) as error:
        raise FileError(
            "bundle-broken",
            f"analysis.json or comparison.json is damaged ({error})",
            "copy the bundle again",
            path=folder,
        ) from None
    file = read_pairs(folder / "pairs.csv")
    if file.left_out:
        raise file.left_out[0]
    rows, analysis = as_run(file.rows, analysis)
    plan = read_plan(folder / "plan.json") if (folder / "plan.json").exists() else None
    departs = () if plan is None else deviations(plan.plan, rows, analysis)
    compared = [(each.comparison, each.lacks) for each in compare_rows(rows, analysis)]
    flushes, lines = _lines_again(folder, file.rows)
    now = comparison_text(comparison_object(rows, compared, analysis, plan=plan, departs=departs))
    return Rerun(
        changed=changed,
        differing=differing(before, json.loads(now)),
        identical=now == then,
        flushes=flushes,
        lines=lines,
        engine_then=str(before.get("engine")) if isinstance(before, dict) else "",
        engine_now=ENGINE_VERSION,
    )


def _flushes(rows: PairRows) -> dict[str, bytes]:
    """The samples of each flush, once however many rows it is of, and the table that names them row by row."""
    files: dict[str, bytes] = {}
    names: dict[bytes, str] = {}
    told = ["row,file"]
    for number, row in enumerate(rows.rows, start=1):
        if row.flush is None:
            continue
        content = arterial_text(row.flush, invented=rows.invented).encode()
        name = names.setdefault(content, f"flush-{len(names) + 1:03d}.csv")
        files[name] = content
        told.append(f"{number},{name}")
    return {**files, FLUSHES: ("\n".join(told) + "\n").encode()} if files else {}


def _lines_again(folder: Path, rows: PairRows) -> tuple[int, tuple[Differing, ...]]:
    """How many rows have the samples of a flush, and where these tell another line than the row does."""
    if not (folder / FLUSHES).exists():
        return 0, ()
    found: dict[str, FlushResponse | None] = {}
    header, *lines = read_text(folder / FLUSHES).splitlines()
    differ = []
    for line in lines:
        number, comma, name = line.partition(",")
        known = number.isascii() and number.isdigit() and 1 <= int(number) <= len(rows.rows)
        if header != "row,file" or not (comma and known) or Path(name).name != name:
            raise FileError("bundle-broken", f"{FLUSHES} says {line!r}", "copy the bundle again", path=folder)
        if name not in found:
            response = first_response(read_arterial(folder / name))
            found[name] = None if response is None else response[0]
        told = rows.rows[int(number) - 1].line
        then, now = _figures(None if told is None else told.response), _figures(found[name])
        for figure, before in then.items():
            if before is None or now[figure] is None or not math.isclose(before, now[figure], rel_tol=SAME_WITHIN):
                differ.append(Differing(where=f"pairs.csv/row {number}/{figure}", then=before, now=now[figure]))
    return len(lines), tuple(differ)


def _figures(response: FlushResponse | None) -> dict[str, Any]:
    told = (None, None) if response is None else (response.natural_hz, response.damping)
    return dict(zip(("line_natural_Hz", "line_damping"), told, strict=True))


def _sums(folder: Path) -> list[tuple[str, str]]:
    found = []
    for line in read_text(folder / SUMS).splitlines():
        expected, blank, name = line.partition("  ")
        if not blank or Path(name).name != name:
            raise FileError("bundle-broken", f"{SUMS} names {name!r}", "copy the bundle again", path=folder)
        found.append((name, expected))
    return found


def _sum_of(path: Path) -> str | None:
    return hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else None


def _readme(rows: PairRows, planned: bool, flushed: bool) -> str:
    invented = "INVENTED data, not patients.\n\n" if rows.invented else ""
    plan = "plan.json        the analysis as it was planned, with its fingerprint\n" if planned else ""
    flushes = (
        f"{FLUSHES}      which of the flush-*.csv tells the catheter's line of a row of pairs.csv; natural frequency\n"
        "                 and damping are worked out again from their samples\n"
        if flushed
        else ""
    )
    return (
        f"{rows.tested_name} against {rows.reference_name}\n\n{invented}"
        "Run it again, in the folder that holds this one:\n\n"
        "    quietlimb compare rerun FOLDER\n\n"
        f"Made with Quietlimb {ENGINE_VERSION}. With the same version the results are the same to the byte;\n"
        "with another the command says which figures differ.\n\n"
        "pairs.csv        every determination, those that failed included\n"
        "analysis.json    how they were analysed\n"
        f"{flushes}"
        f"{plan}"
        "comparison.json  what came of it\n"
        "methods.txt      the paragraph for a paper\n"
        "*.svg            the figures\n"
        f"{SUMS}       of all of these\n"
    )
