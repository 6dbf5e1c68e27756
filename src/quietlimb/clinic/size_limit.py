"""How much a browser may send, counted as it comes: the framework takes a body in before it looks who sends it."""

from __future__ import annotations

import html
from collections.abc import Awaitable, Callable, Mapping
from typing import Any
from urllib.parse import quote

from quietlimb.clinic.recordings.limits import MOST_BYTES

Message = Mapping[str, Any]
Scope = dict[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Application = Callable[[Scope, Receive, Send], Awaitable[None]]

USUAL_BYTES = 2_000_000  # forms, readings, lists of animals [invented]
AROUND_FILES = 16_384  # what a form adds around the files it carries [invented]
# end of the address -> bytes; a table that is too large is let in so far that its own page can say so
MORE = dict.fromkeys(("/recordings", "/practice/import", "/check", "/correct"), MOST_BYTES + AROUND_FILES)


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
            await _refuse(send, scope, most)
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
                await _refuse(send, scope, most)


async def _refuse(send: Send, scope: Scope, most: int) -> None:
    """Say how much may come, and to who sent it from a page, the way back to it."""
    sentence = f"This is more than is taken here: at most {most / 1e6:.0f} MB."
    kind, text = "text/plain", sentence
    if any(name.lower() == b"accept" and b"text/html" in value for name, value in scope.get("headers", ())):
        path = html.escape(quote(str(scope.get("path", "/"))))
        kind = "text/html"
        text = (
            f'<!doctype html><html lang="en"><meta charset="utf-8"><title>{sentence}</title>'
            '<meta name="viewport" content="width=device-width, initial-scale=1">'
            f'<h1>{sentence}</h1><p><a href="{path}">Back to the page</a></p></html>'
        )
    headers = [(b"content-type", f"{kind}; charset=utf-8".encode()), (b"connection", b"close")]
    await send({"type": "http.response.start", "status": 413, "headers": headers})
    await send({"type": "http.response.body", "body": text.encode()})
