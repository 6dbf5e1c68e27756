"""Pairs from a folder of two-channel recordings, and methods of reading ranked on a folder of recordings."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from quietlimb.agreement.arterial_line import ArterialLine, judge_line
from quietlimb.agreement.pair_rows import QUANTITIES, PairRow, PairRows, Pressures, truth_of
from quietlimb.agreement.ranking import Case
from quietlimb.agreement.synchrony import Determination, TwoChannels, determine
from quietlimb.agreement.window_rule import Rule
from quietlimb.cli.faults import Batch, remark_on
from quietlimb.cli.plug_in import read_by_plug_in
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.reading import Method, read
from quietlimb.engine.recording import Recording
from quietlimb.exchange.arterial_channel import read_arterial, read_two_channels
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.pairs_csv import CUFF_PERCENT, HIGHEST, LOWEST
from quietlimb.exchange.recording_file import read_recording
from quietlimb.exchange.table import Decimals, read_table
from quietlimb.exchange.text_file import read_text
from quietlimb.figures.invented import is_invented
from quietlimb.words import comparison as words

if TYPE_CHECKING:
    from quietlimb.agreement.pairs import Truth
    from quietlimb.engine.circumstances import Circumstances, Species

_NAME_IT = (
    "name it above the table ('# animal: ...'), in WFDB at the end of the header, in EDF+ as the code of the patient, "
    "the same in each file of this animal; animals are counted by it"
)
Reads = Callable[[Recording], tuple[Pressures, float | None]]


def by_ours(method: Method) -> Reads:
    """One of our methods as a reader of pairs. A discarded reading gives nothing."""

    def reads(recording: Recording) -> tuple[Pressures, float | None]:
        found = read(recording, method=method)
        values = {name: getattr(found, name) for name in QUANTITIES}
        told = {name: None if value is None else value.value for name, value in values.items()}
        return Pressures(**told), None if found.pulse_rate is None else found.pulse_rate.value

    return reads


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """Pairs made of recordings, with what was found in each.

    determinations : file and what it gave
    """

    rows: PairRows
    determinations: tuple[tuple[str, Determination], ...]


def pairs_of_recordings(
    files: Sequence[str],
    reads: Reads,
    rule: Rule,
    batch: Batch,
    *,
    tested_name: str,
    reference_name: str,
    truth: Truth | None = None,
    blinded: bool | None = None,
    channel: str | None = None,
    artery: str | None = None,
    species: Species | None = None,
    flush: str | None = None,
) -> Made:
    """A row for each recording that can be read; what cannot is told to `batch`.

    A file that names no animal is refused: whether two files are of one animal decides every interval and every count.

    Raises
    ------
    FileError : none could be read, or the flush cannot.
    """
    flushed = None if flush is None else read_arterial(flush, artery=artery)
    found: list[tuple[str, TwoChannels, Determination]] = []
    for path in files:
        with batch.file(path):
            two = read_two_channels(path, channel=channel, artery=artery, species=species, flush=flushed)
            if two.recording.circumstances.animal is None:
                raise FileError("animal-not-told", "names no animal", _NAME_IT, path=path)
            found.append((path, two, determine(two, reads, rule)))
    if not found:
        raise FileError("no-recordings", "none of them could be read", "see the lines above", path=files[0])
    counts: Counter[str] = Counter()
    rows = []
    for path, two, determination in found:
        around = two.recording.circumstances
        animal = around.animal or ""  # "" is nobody's: a file without a name was refused above
        counts[animal] += 1
        rows.append(
            PairRow(
                animal=animal,
                occasion=str(counts[animal]),
                species=around.species,
                site=around.site,
                condition=around.sedation,
                first="together" if rule.window == "deflation" else None,
                tested=_possible(determination.tested),
                reference=_possible(determination.reference),
                failed=determination.failed,
                line=_line(determination),
                instrument=around.instrument,
                cuff_percent=_cuff_percent(around),
                flush=determination.flush,
            )
        )
        for sentence in _remarks(determination):
            remark_on(path)(sentence)
    starts = [two.recording.circumstances.started_at for _, two, _ in found]
    told = [start for start in starts if start is not None]
    return Made(
        rows=PairRows(
            rows=tuple(rows),
            truth=truth or ("changing" if max(counts.values()) > 1 else truth_of(rows, None)),
            tested_name=tested_name,
            reference_name=reference_name,
            reference_is="intra-arterial",
            blinded=blinded,
            invented=any(is_invented(two.recording.circumstances) for _, two, _ in found),
            taken_from=min(told)[:10] if told else None,
            rule=rule,
        ),
        determinations=tuple((path, determination) for path, _, determination in found),
    )


def _possible(pressures: Pressures) -> Pressures:
    """Without values that no table of pairs may hold."""
    values = {name: pressures.of(name) for name in QUANTITIES}
    return Pressures(
        **{name: value for name, value in values.items() if value and LOWEST.value <= value <= HIGHEST.value}
    )


def _cuff_percent(around: Circumstances) -> float | None:
    """Width of the cuff in percent of the limb, where both are told and a table of pairs may hold it."""
    width, limb = around.cuff_width_cm, around.limb_circumference_cm
    percent = None if width is None or not limb else round(100.0 * width / limb, 1)
    return percent if percent is not None and CUFF_PERCENT[0] <= percent <= CUFF_PERCENT[1] else None


def _line(determination: Determination) -> ArterialLine | None:
    """The line, judged with the reference that the row tells, as whoever reads the table again would judge it."""
    line, reference = determination.line, _possible(determination.reference)
    if line is None:
        return None
    return judge_line(
        zero_mmhg=line.zero_mmhg,
        below_heart_cm=line.below_heart_cm,
        response=line.response,
        systolic=reference.systolic,
        diastolic=reference.diastolic,
        pulse_rate=line.pulse_rate,
    )


def _remarks(determination: Determination) -> list[str]:
    return [words.reason_sentence(reason) for reason in determination.reasons]


def cases_of(
    files: Sequence[str],
    ours: Sequence[Method],
    plug_ins: Sequence[tuple[str, Callable[[Recording], Any]]],
    batch: Batch,
    *,
    truth: str | None,
    channel: str | None = None,
    artery: str | None = None,
    species: Species | None = None,
) -> tuple[list[Case], bool, list[tuple[str, str, QuietlimbError]]]:
    """Recordings with known pressures, whether any is invented, and (file, method, error) of plug-ins that failed.

    truth : a table of file, systolic_mmHg, mean_mmHg, diastolic_mmHg; without it the truth is NAME.truth.json beside a
            simulated recording, or the artery's beats over the deflation where the file has an artery
    """
    table = None if truth is None else truth_table(truth)
    cases, failures, invented = [], [], False
    for path in files:
        with batch.file(path):
            recording = read_recording(path, channel=channel, species=species)
            known = _known(path, recording, table, channel, artery, species)
            told: dict[str, Pressures] = {}
            for method in ours:
                told[method] = by_ours(method)(recording)[0]
            for name, function in plug_ins:
                try:
                    told[name] = read_by_plug_in(function, recording)
                except QuietlimbError as error:
                    failures.append((path, name, error))
            invented = invented or is_invented(recording.circumstances)
            stem = Path(path).name.split(".")[0]
            animal = recording.circumstances.animal
            # simulated recordings of one call share a name, and each is another animal
            alone = animal is None or animal in ("simulated cat", "simulated dog")
            cases.append(Case(name=Path(path).name, animal=stem if alone else animal, known=known, read=told))  # type: ignore[arg-type]
    return cases, invented, failures


def told_once(failures: Sequence[tuple[str, str, QuietlimbError]]) -> list[tuple[str, QuietlimbError]]:
    """Each failure of a plug-in with the first file that it came with, and with how many more.

    failures : file, method and error
    """
    files: dict[tuple[str, str, str, str], list[str]] = {}
    for path, name, error in failures:
        files.setdefault((error.code, name, error.says, error.remedy), []).append(path)
    found = []
    for (code, name, says, remedy), paths in files.items():
        more = len(paths) - 1
        also = "" if not more else f" (and of {more} more recording{'s' if more > 1 else ''})"
        found.append((paths[0], QuietlimbError(code, f"{name}: {says}{also}", remedy)))
    return found


def truth_table(path: str) -> dict[str, Pressures]:
    """Known pressures by name of the file.

    Raises
    ------
    FileError : no such table.
    """
    table = read_table(path)
    file = table.column("file", {"file": ""})
    columns = {name: table.column(name, {f"{name}_mmHg": "mmHg"}) for name in QUANTITIES}
    if file is None or not any(columns.values()):
        raise table.error(
            "column-missing",
            "no column for the file, or for a pressure",
            "name them file, systolic_mmHg, mean_mmHg, diastolic_mmHg",
            table.header_line,
        )
    decimals = Decimals(table)
    found = {}
    for line, cells in table.cells():
        found[cells[file.index].strip()] = Pressures(
            **{
                name: decimals.number(cells[column.index], name, line)
                for name, column in columns.items()
                if column is not None and cells[column.index].strip()
            }
        )
    return found


def _known(
    path: str,
    recording: Recording,
    table: dict[str, Pressures] | None,
    channel: str | None,
    artery: str | None,
    species: Species | None,
) -> Pressures:
    if table is not None:
        if Path(path).name not in table:
            raise FileError(
                "truth-missing", "the table of truths does not name it", "add a row, or leave it out", path=path
            )
        return table[Path(path).name]
    beside = Path(path).with_name(Path(path).name.removesuffix(".gz").removesuffix(".csv") + ".truth.json")
    if beside.is_file():
        try:
            told = json.loads(read_text(beside))
            values = {name: None if told.get(name) is None else float(told[name]) for name in QUANTITIES}
        except (ValueError, TypeError, AttributeError):
            raise FileError("truth-broken", "this tells no true pressures", "simulate again", path=beside) from None
        return Pressures(**values)
    try:
        two = read_two_channels(path, channel=channel, artery=artery, species=species)
    except FileError as error:
        if error.code not in ("column-missing", "channel-missing"):
            raise
        raise FileError(
            "truth-missing",
            f"nothing tells the true pressure: no {beside.name}, no artery",
            "give --truth-table, or recordings that have it beside them",
            path=path,
        ) from None
    found = determine(two, lambda _: (Pressures(), None), Rule())
    if not found.reference.any:
        raise FileError("truth-missing", "the artery tells no pressure in the deflation", "leave it out", path=path)
    return found.reference
