"""Which channel of a file is the cuff pressure."""

from __future__ import annotations

from pathlib import Path

import pytest

from exchange.invented_files import refusal
from quietlimb.exchange.channels import Channel, ChannelFile


def file_of(*channels: tuple[str, str]) -> ChannelFile:
    """A file with channels of (label, unit)."""
    return ChannelFile(
        path="a.edf",
        channels=tuple(Channel(label=label, unit=unit) for label, unit in channels),
        remarks=(),
        remark_place="an annotation",
        unit_place="physical dimension",
    )


ECG = ("ECG II", "mV")
ARTERY = ("ABP", "mmHg")


@pytest.mark.parametrize(
    ("channels", "expected"),
    [
        ([ECG, ("Cuff pressure", "mmHg"), ARTERY], 1),
        ([ARTERY, ("CUFF  PRESSURE", "MMHG")], 1),
        ([("Cuff", "kPa"), ARTERY], 0),
        ([("Cuff pulses", "mmHg"), ("Cuff pressure", "mm Hg")], 1),
        ([("Cuff temperature", "degC"), ("Cuff", "mmHg")], 1),
        ([ECG, ("Pressure", "kPa")], 1),
        ([ECG, ("", "mmHg")], 1),
        ([("press. limb", "mm_Hg")], 0),
    ],
)
def test_the_cuff_channel_is_found_by_unit_and_label(channels: list[tuple[str, str]], expected: int) -> None:
    """ "Cuff" decides; without it, a single channel of pressure that names no other pressure.

    Oracle: invented; the rule is that of the module's docstring.
    """
    assert file_of(*channels).cuff_channel() == expected


@pytest.mark.parametrize(
    "channels",
    [
        [ARTERY],
        [ECG, ("Arterial pressure", "mmHg")],
        [("Blood pressure", "mmHg")],
        [("P1", "mmHg")],
        [("Pressure", "mmHg"), ARTERY],
        [("Cuff left", "mmHg"), ("Cuff right", "mmHg")],
        [("Cuff pressure 1", "mmHg"), ("Cuff pressure 2", "mmHg"), ("Cuff", "mmHg")],
    ],
)
def test_an_ambiguous_file_is_refused_with_its_channels(channels: list[tuple[str, str]]) -> None:
    """What may be an artery's pressure, or one of two cuffs, is not guessed at; the channels are listed.

    Oracle: invented; a wrong channel would give numbers that look right.
    """
    listed = [f"{k} '{label}' in '{unit}'" for k, (label, unit) in enumerate(channels, start=1)]
    refusal(lambda _: file_of(*channels).cuff_channel(), Path("a.edf"), "channel-ambiguous", None, "--channel", *listed)


def test_a_file_without_pressure_is_refused() -> None:
    """No channel in mmHg or kPa: listed with their units, and where to write one.

    Oracle: by construction.
    """
    file = file_of(ECG, ("Cuff", ""))
    refusal(
        lambda _: file.cuff_channel(),
        Path("a.edf"),
        "channel-missing",
        None,
        "'ECG II' in 'mV'",
        "no unit",
        "dimension",
    )
    refusal(lambda _: file_of().cuff_channel(), Path("a.edf"), "channel-missing", None, "none")


def test_the_list_of_very_many_channels_is_cut() -> None:
    """A sentence stays a sentence.

    Oracle: by construction.
    """
    file = file_of(*[ECG] * 500)
    error = refusal(lambda _: file.cuff_channel(), Path("a.edf"), "channel-missing", None, "and 488 more")
    assert len(str(error)) < 600


def test_a_channel_can_be_asked_for() -> None:
    """By label in any case, or by number; a label that is a number goes before the number.

    Oracle: by construction.
    """
    file = file_of(ARTERY, ("P  left", "mmHg"), ("1", "kPa"))
    assert [file.cuff_channel(wanted) for wanted in ("abp", " p LEFT ", "2", "1", "3")] == [0, 1, 1, 2, 2]


@pytest.mark.parametrize("wanted", ["0", "4", "-1", "cuff", "", "9" * 5000])
def test_a_channel_that_is_not_there_is_told(wanted: str) -> None:
    """The channels to choose from are listed.

    Oracle: by construction.
    """
    file = file_of(ECG, ARTERY, ("P1", "kPa"))
    refusal(
        lambda _: file.cuff_channel(wanted), Path("a.edf"), "channel-missing", None, "no channel", "3 'P1' in 'kPa'"
    )


def test_two_channels_of_one_label_need_a_number() -> None:
    """A label that two channels bear does not choose.

    Oracle: by construction.
    """
    file = file_of(("P", "mmHg"), ("P", "mmHg"))
    refusal(lambda _: file.cuff_channel("p"), Path("a.edf"), "channel-ambiguous", None, "2 channels", "number")
    assert file.cuff_channel("2") == 1


def test_a_channel_in_another_unit_is_refused() -> None:
    """The unit is never assumed, not even of a channel that was asked for.

    Oracle: by construction.
    """
    file = file_of(ECG, ("Cuff", "Pa"))
    refusal(lambda _: file.cuff_channel("Cuff"), Path("a.edf"), "unit-unknown", None, "channel 2 'Cuff'", "mmHg", "kPa")


def test_a_channel_without_a_label_goes_by_its_number() -> None:
    """No empty quotation marks in place of a name, in the list or in the sentence.

    Oracle: by construction.
    """
    file = file_of(ECG, ("", "mmHg"), (" ", "mmHg"))
    error = refusal(lambda _: file.cuff_channel(), Path("a.edf"), "channel-ambiguous", None, "2 in 'mmHg', 3 in 'mmHg'")
    assert "''" not in str(error)
    assert (file.named(0), file.named(1)) == ("channel 1 'ECG II'", "channel 2")
