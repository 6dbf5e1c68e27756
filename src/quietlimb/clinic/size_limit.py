"""How much a browser may send, counted as it comes: the framework takes a body in before it looks who sends it."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping
from typing import Any

from quietlimb.clinic.recordings.limits import MOST_BYTES

Message = Mapping[str, Any]
Scope = dict[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Application = Callable[[Scope, Receive, Send], Awaitable[None]]

USUAL_BYTES = 2_000_000  # forms, readings, lists of animals [invented]
AROUND_FILES = 16_384  # what a form adds around the files it carries [invented]
MORE = {"/recordings": MOST_BYTES + AROUND_FILES}  # end of the address -> bytes


class TooMuchError(Exception):
    """More has come than is taken."""


class SizeLimit:
    """An application that answers 413 as soon as a body is longer than its address takes."""

    def __init__(self, application: Application) -> None:
        self.application = application

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, counting."""
        if scope["type"] != "http":
            await self.application(scope, receive, send)
            return
        path = str(scope.get("path", ""))
        most = next((size for end, size in MORE.items() if path.endswith(end)), USUAL_BYTES)
        told = next((value for name, value in scope.get("headers", ()) if name.lower() == b"content-length"), b"0")
        if not told.isdigit() or int(told) > most:
            await _refuse(send)
            return
        came, answered = 0, False

        async def counted() -> Message:
            nonlocal came
            message = await receive()
            came += len(message.get("body", b""))
            if came > most:
                raise TooMuchError
            return message

        async def watched(message: Message) -> None:
            nonlocal answered
            answered = True
            await send(message)

        try:
            await self.application(scope, counted, watched)
        except TooMuchError:
            if not answered:
                await _refuse(send)


async def _refuse(send: Send) -> None:
    text = b"This is more than is taken here."
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"connection", b"close")]
    await send({"type": "http.response.start", "status": 413, "headers": headers})
    await send({"type": "http.response.body", "body": text})
