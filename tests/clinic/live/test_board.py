"""What a capture tells its screens. Oracle: by construction, each piece of news has a number."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

from quietlimb.clinic.live.board import MOST_TOLD, Board
from quietlimb.clinic.live.views import news

Answer = TypeVar("Answer")


def waited_for(asked: Coroutine[Any, Any, Answer]) -> Answer:
    """What it answers, in a thread of its own: a browser's test may have a loop in this one."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, asked).result(30)


def numbers(told: list[str]) -> list[int]:
    return [json.loads(each)["n"] for each in told]


def test_a_late_screen_gets_the_present_inflation_from_its_beginning() -> None:
    board = Board()
    for n in range(3):
        board.tell("samples", n=n)
    board.begin()
    for n in range(3, 6):
        board.tell("samples", n=n)
    told, place = board.after(0)
    assert numbers(told) == [3, 4, 5]
    assert board.after(place) == ([], place)


def test_two_screens_get_the_same_news_each_once() -> None:
    board = Board()
    places: list[int] = [0, 0]
    got: tuple[list[int], list[int]] = ([], [])
    for n in range(50):
        board.tell("samples", n=n)
        for k in (0, 1):
            if n % (2 + k) == 0:  # one asks more often than the other
                told, places[k] = board.after(places[k])
                got[k].extend(numbers(told))
    for k in (0, 1):
        told, places[k] = board.after(places[k])
        assert got[k] + numbers(told) == list(range(50))


def test_an_inflation_without_end_does_not_grow_for_ever() -> None:
    board = Board()
    for n in range(MOST_TOLD + 100):
        board.tell("samples", n=n)
    assert len(board) == MOST_TOLD
    assert numbers(board.after(0)[0])[-1] == MOST_TOLD + 99


def test_the_stream_ends_with_the_capture_and_after_its_last_news() -> None:
    board = Board()
    board.tell("samples", n=1)
    board.tell("ended", n=2)
    board.end()

    async def all_of_it() -> list[bytes]:
        return [line async for line in news(board, ask_every_s=0.0)]

    sent = b"".join(waited_for(all_of_it())).decode()
    assert [json.loads(line.removeprefix("data: ")) for line in sent.split("\n\n") if line] == [
        {"kind": "samples", "n": 1},
        {"kind": "ended", "n": 2},
    ]


def test_a_stream_without_news_still_says_that_it_is_there() -> None:
    async def first() -> bytes:
        return await anext(news(Board(), ask_every_s=0.01, beat_s=0.02))

    assert waited_for(first()) == b": still here\n\n"
