"""Numbers on the command line."""

from __future__ import annotations

import click
import pytest
from click.testing import CliRunner

from quietlimb.cli.numbers import Number, NumberCommand


@pytest.mark.parametrize("text", ["158.5", "158,5", " 158,50 ", "+158.5"])
def test_a_decimal_comma_is_a_decimal_point(text: str) -> None:
    """Either sign stands for the same number.

    Oracle: common practice, both decimal signs of ISO 80000-1; the number is exact in binary.
    """
    assert Number().convert(text, None, None) == 158.5


@pytest.mark.parametrize("text", ["abc", "", "5o", "1,234.5", "nan", "inf", "1e400", "--5"])
def test_what_is_no_number_is_told_in_plain_words(text: str) -> None:
    """No word of programming, and an example of what to write.

    Oracle: by construction.
    """
    with pytest.raises(click.BadParameter) as found:
        Number().convert(text, None, None)
    assert "is not a number; write it like 158" in found.value.message
    assert "float" not in found.value.message


@pytest.mark.parametrize(("text", "inside"), [("0", True), ("100", True), ("-0,1", False), ("100.1", False)])
def test_limits_count_as_inside(text: str, inside: bool) -> None:
    """Both limits are allowed; beyond them the limits are named.

    Oracle: by construction.
    """
    number = Number(least=0.0, most=100.0)
    if inside:
        assert number.convert(text, None, None) == float(text)
        return
    with pytest.raises(click.BadParameter, match="outside 0 to 100"):
        number.convert(text, None, None)


@pytest.mark.parametrize(("argument", "words"), [("-5", "-5 is below 0"), ("-5,5", "-5,5 is below 0"), ("-x", "-x")])
def test_a_negative_number_is_no_unknown_option(argument: str, words: str) -> None:
    """A negative number is told as such; a true unknown option still is one.

    Oracle: by construction; exit code 2 for wrong use is common practice.
    """

    @click.command(cls=NumberCommand)
    @click.argument("number", type=Number())
    def command(number: float) -> None:
        click.echo(number)

    result = CliRunner().invoke(command, [argument])
    assert result.exit_code == 2
    assert words in result.stderr
    assert ("No such option" in result.stderr) == (argument == "-x")
