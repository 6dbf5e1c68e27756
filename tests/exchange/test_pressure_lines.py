"""The lines of a pressure sensor, one by one."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from quietlimb.exchange.pressure_lines import (
    LONGEST_LINE_OCTETS,
    BadLine,
    HeaderLine,
    LineBuffer,
    SampleLine,
    crc16,
    header_line,
    parse_line,
    sample_line,
)


def test_the_check_is_the_one_that_is_documented() -> None:
    """The CRC of the nine digits is 0x29B1, that of nothing is the first value.

    Oracle: from memory, the check value that catalogues of CRCs give for this polynomial, first value and order.
    """
    assert crc16(b"123456789") == 0x29B1
    assert crc16(b"") == 0xFFFF


@given(
    seq=st.integers(0, 2**33),
    clock=st.integers(0, 2**33),
    pressure=st.floats(-20.0, 350.0),
    check=st.booleans(),
)
def test_what_is_written_reads_back(seq: int, clock: int, pressure: float, check: bool) -> None:
    """A sample comes back with both counters modulo 2^32 and the pressure to nine decimals.

    Oracle: by construction. Tolerance: half of the last decimal written.
    """
    line = parse_line(sample_line(seq, clock, pressure, check=check).removesuffix(b"\n"))
    assert isinstance(line, SampleLine)
    assert (line.seq, line.device_us, line.checked) == (seq % 2**32, clock % 2**32, check)
    assert line.pressure == pytest.approx(pressure, abs=0.5001e-9)


@pytest.mark.parametrize("check", [False, True])
def test_a_header_reads_back(check: bool) -> None:
    """Key and value come back; what is no ASCII is a question mark, on one line.

    Oracle: by construction.
    """
    octets = header_line("serial", "A-7 Nr. 2\nµ", check=check)
    assert octets.count(b"\n") == 1
    assert parse_line(octets.removesuffix(b"\n")) == HeaderLine("serial", "A-7 Nr. 2??", check)
    assert len(header_line("note", "x" * 1000, check=check)) <= LONGEST_LINE_OCTETS


def test_every_single_wrong_octet_of_a_checked_sample_is_seen() -> None:
    """Whatever one octet of a checked line is turned into, it is never read as a sample that it was not.

    Oracle: by construction; a CRC of 16 bits sees every burst of up to 16 bits. An octet of the check may turn from a
    small into a capital letter, which is the same number, and the star into another sign, which leaves no form known.
    """
    whole = sample_line(71, 355_000, 123.4, check=True).removesuffix(b"\n")
    true = parse_line(whole)
    for place in range(len(whole)):
        for octet in range(256):
            changed = whole[:place] + bytes([octet]) + whole[place + 1 :]
            found = parse_line(changed)
            assert found == true or isinstance(found, BadLine), changed


@pytest.mark.parametrize(
    "octets",
    [
        b"",
        b"1,2",
        b"1,2,3,4",
        b"1,2,3,0",
        b"-1,2,3",
        b"1,4294967296,3",
        b"1,2,nan",
        b"1,2,1e5",
        b"#x",
        b"#A=1",
        b"\xff\x00",
    ],
)
def test_everything_else_says_nothing(octets: bytes) -> None:
    """A line of another form is no sample, and the reason is not its check.

    Oracle: by construction; a decimal comma, an exponent or a fourth field would be a guess.
    """
    assert parse_line(octets) == BadLine(wrong_check=False)


@given(st.binary(max_size=400))
def test_no_line_is_an_exception(octets: bytes) -> None:
    """Any octets are a line of some kind.

    Oracle: by construction.
    """
    assert isinstance(parse_line(octets), HeaderLine | SampleLine | BadLine)


@given(st.lists(st.binary(max_size=12).filter(lambda b: b"\n" not in b and not b.endswith(b"\r"))), st.data())
def test_lines_are_the_same_however_they_are_cut_up(lines: list[bytes], data: st.DataObject) -> None:
    """Octets that arrive in any pieces give the lines that were sent; what is not ended is not given.

    Oracle: by construction.
    """
    stream = b"".join(line + data.draw(st.sampled_from([b"\n", b"\r\n"])) for line in lines) + b"begun"
    buffer, found = LineBuffer(), []
    while stream:
        size = data.draw(st.integers(1, len(stream)))
        found += buffer.add(stream[:size])
        stream = stream[size:]
    assert found == lines
    assert buffer.too_long == 0


def test_a_line_without_end_takes_no_memory() -> None:
    """Ten million octets without a line end are one line too long, kept nowhere; the next line is read.

    Oracle: by construction.
    """
    buffer = LineBuffer()
    for _ in range(1000):
        assert buffer.add(b"x" * 10_000) == []
    assert len(buffer._begun) <= LONGEST_LINE_OCTETS
    assert buffer.add(b"xx\n1,2,3\n") == [b"1,2,3"]
    assert buffer.add(b"y" * 300 + b"\n4,5,6\n") == [b"4,5,6"]
    assert buffer.too_long == 2


def test_a_line_that_was_begun_can_be_forgotten() -> None:
    """After `clear` what comes next begins a line.

    Oracle: by construction.
    """
    buffer = LineBuffer()
    buffer.add(b"12,60")
    buffer.clear()
    assert buffer.add(b"1,2,3\n") == [b"1,2,3"]
