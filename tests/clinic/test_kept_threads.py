"""Threads that stay."""

from __future__ import annotations

import asyncio
import threading
import time
from typing import Any

from asgiref.sync import sync_to_async

from quietlimb.clinic.kept_threads import KeptThreads


def asked(requests: int, threads: int, *, takes_s: float, fails: bool = False) -> list[int]:
    """The thread that answered each of so many requests at once; each takes so long."""
    answered: list[int] = []

    def view() -> None:
        answered.append(threading.get_ident())
        time.sleep(takes_s)
        if fails:
            raise ValueError

    async def application(_scope: Any, _receive: Any, _send: Any) -> None:
        await sync_to_async(view)()
        await sync_to_async(view)()

    async def all_of_them() -> None:
        kept = KeptThreads(application, threads)
        requested = (kept({"type": "http"}, None, None) for _ in range(requests))  # type: ignore[arg-type]
        await asyncio.gather(*requested, return_exceptions=fails)

    worker = threading.Thread(target=asyncio.run, args=(all_of_them(),))  # a browser's test may have a loop in this one
    worker.start()
    worker.join(30)
    assert not worker.is_alive()
    return answered


def test_requests_share_threads_that_stay() -> None:
    """Nine requests of two views each at once are answered by three threads. Oracle: by construction."""
    answered = asked(9, 3, takes_s=0.01)
    assert len(answered) == 18
    assert len(set(answered)) == 3


def test_a_request_that_fails_gives_its_thread_back() -> None:
    """More requests that fail than there are threads: each is still answered. Oracle: by construction."""
    assert len(asked(5, 2, takes_s=0.0, fails=True)) == 5


def test_a_stream_of_news_gives_its_thread_back_once_it_has_begun() -> None:
    """With one thread, a second request is answered while the first still streams. Oracle: by construction."""
    order: list[str] = []

    async def application(scope: Any, _receive: Any, send: Any) -> None:
        await sync_to_async(order.append)(f"asked {scope['name']}")
        kind = b"text/event-stream" if scope["name"] == "news" else b"text/html"
        await send({"type": "http.response.start", "status": 200, "headers": [(b"content-type", kind)]})
        if scope["name"] == "news":
            while "answered page" not in order:
                await asyncio.sleep(0.01)
        order.append(f"answered {scope['name']}")

    async def sent(_message: Any) -> None:
        """Nobody reads it."""

    async def both() -> None:
        kept = KeptThreads(application, 1)
        news = asyncio.create_task(kept({"name": "news"}, None, sent))  # type: ignore[arg-type]
        await asyncio.sleep(0.05)
        await asyncio.wait_for(kept({"name": "page"}, None, sent), 10)  # type: ignore[arg-type]
        await asyncio.wait_for(news, 10)

    worker = threading.Thread(target=asyncio.run, args=(both(),))
    worker.start()
    worker.join(30)
    assert order == ["asked news", "asked page", "answered page", "answered news"]
