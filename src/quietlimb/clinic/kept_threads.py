"""A few threads that stay and answer one request after the other, each with its own connection to the database.

The framework alone would start a thread for every request, and in it open the database anew.
"""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor

from asgiref.sync import ThreadSensitiveContext

from quietlimb.clinic.size_limit import Application, Message, Receive, Scope, Send

NEWS = b"text/event-stream"
THREADS = 8  # so many pages may take long, a picture or a recording, before another waits [invented]


class KeptThreads:
    """An application each of whose requests has one of the threads to itself; the one that was free last goes first.

    A stream of news gives its thread back as soon as it has begun: what follows asks no database, and lasts as long as
    somebody looks on.
    """

    def __init__(self, application: Application, threads: int = THREADS) -> None:
        self.application = application
        self._free: asyncio.LifoQueue[ThreadPoolExecutor] = asyncio.LifoQueue()
        for _ in range(threads):
            self._free.put_nowait(ThreadPoolExecutor(max_workers=1, thread_name_prefix="quietlimb"))

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on once a thread is free."""
        executor = await self._free.get()
        held = True

        def give_back() -> None:
            nonlocal held
            if held:
                held = False
                self._free.put_nowait(executor)

        async def watched(message: Message) -> None:
            await send(message)
            if message["type"] == "http.response.start" and _is_news(message):
                give_back()

        try:
            async with ThreadSensitiveContext(executor=executor):
                await self.application(scope, receive, watched)
        finally:
            give_back()


def _is_news(start: Message) -> bool:
    return any(name.lower() == b"content-type" and value == NEWS for name, value in start["headers"])
