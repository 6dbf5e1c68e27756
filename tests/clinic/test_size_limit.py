"""How much a browser may send."""

from __future__ import annotations

from collections.abc import Coroutine, Mapping
from typing import Any

import pytest

from quietlimb.clinic.recordings.limits import MOST_BYTES
from quietlimb.clinic.size_limit import AROUND_FILES, USUAL_BYTES, SizeLimit

PIECE = 100_000


def finished(work: Coroutine[Any, Any, None]) -> None:
    """Run it to its end: nothing here waits, and a browser's test may have left a loop running in this thread."""
    try:
        work.send(None)
    except StopIteration:
        return
    raise AssertionError


async def _swallow(_scope: Any, receive: Any, send: Any) -> None:
    """An application that takes a whole body in and says how much it was."""
    came = 0
    while True:
        message = await receive()
        came += len(message["body"])
        if not message.get("more_body"):
            break
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": str(came).encode()})


def status(path: str, size: int, *, told: bool) -> tuple[int, int]:
    """The status of the answer to a body of so many bytes, and how many were asked for."""
    sent: list[Mapping[str, Any]] = []
    asked = 0

    async def receive() -> Mapping[str, Any]:
        nonlocal asked
        piece = min(PIECE, size - asked)
        asked += piece
        return {"type": "http.request", "body": b"x" * piece, "more_body": asked < size}

    async def send(message: Mapping[str, Any]) -> None:
        sent.append(message)

    headers = [(b"content-length", str(size).encode())] if told else []
    scope = {"type": "http", "path": path, "headers": headers}
    finished(SizeLimit(_swallow)(scope, receive, send))
    assert [message["type"] for message in sent] == ["http.response.start", "http.response.body"]
    return sent[0]["status"], asked


@pytest.mark.parametrize(
    ("path", "most"),
    [
        ("/start", USUAL_BYTES),
        ("/series/1/recordings", MOST_BYTES + AROUND_FILES),
        ("/practice/import", MOST_BYTES + AROUND_FILES),
    ],
)
def test_a_body_is_taken_up_to_its_limit_and_no_further(path: str, most: int) -> None:
    """One byte more is refused: unseen where the length is told, and as soon as it has come where it is not.

    Oracle: by construction, the bytes are counted where they are made.
    """
    assert status(path, most, told=True) == (200, most)
    assert status(path, most + 1, told=True) == (413, 0)
    refused, asked = status(path, 4 * most, told=False)
    assert refused == 413
    assert most < asked <= most + PIECE


def test_a_length_that_is_no_number_is_refused() -> None:
    """Nothing is asked for. Oracle: by construction."""
    sent: list[Mapping[str, Any]] = []

    async def send(message: Mapping[str, Any]) -> None:
        sent.append(message)

    async def receive() -> Mapping[str, Any]:
        raise AssertionError

    scope = {"type": "http", "path": "/", "headers": [(b"content-length", b"-5")]}
    finished(SizeLimit(_swallow)(scope, receive, send))
    assert sent[0]["status"] == 413


def test_who_sent_it_from_a_page_is_told_the_limit_and_the_way_back() -> None:
    """As a page with a link to where it came from, which is no more than text to it; else as plain text.

    Oracle: by construction.
    """

    def refusal(accept: bytes) -> tuple[bytes, str]:
        sent: list[Mapping[str, Any]] = []

        async def send(message: Mapping[str, Any]) -> None:
            sent.append(message)

        async def receive() -> Mapping[str, Any]:
            raise AssertionError

        headers = [(b"content-length", b"999999999"), (b"accept", accept)]
        scope = {"type": "http", "path": '/practice/import"><b>', "headers": headers}
        finished(SizeLimit(_swallow)(scope, receive, send))
        return dict(sent[0]["headers"])[b"content-type"], sent[1]["body"].decode()

    kind, text = refusal(b"text/html,*/*")
    assert kind == b"text/html; charset=utf-8"
    assert "at most 2 MB" in text
    assert '<a href="/practice/import%22%3E%3Cb%3E">' in text
    kind, text = refusal(b"*/*")
    assert kind == b"text/plain; charset=utf-8"
    assert "at most 2 MB" in text
