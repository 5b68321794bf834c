"""What a page writes to its terminal when it ends."""

import asyncio
import contextlib
import logging
import threading

import httpx
import pytest

from drift.page.serving import Server, listening
from tests.running_log import wait_for


@pytest.mark.parametrize("fails", [False, True])
def test_an_answer_that_the_end_cuts_off_is_no_fault(caplog, fails):
    """Such as a chart that is drawn when Ctrl-C is pressed; a fault is told as ever."""
    begun = threading.Event()

    async def app(scope, receive, send):
        if scope["type"] == "http":
            begun.set()
            if fails:
                raise ZeroDivisionError
            await asyncio.sleep(60)

    listener = listening(0)
    server = Server(app, lambda: None)
    serving = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
    serving.start()
    wait_for(lambda: server.started)

    def visit():
        address = f"http://127.0.0.1:{listener.getsockname()[1]}/"
        with contextlib.suppress(httpx.HTTPError):
            httpx.get(address, timeout=30)

    with caplog.at_level(logging.ERROR, "uvicorn.error"):
        visitor = threading.Thread(target=visit)
        visitor.start()
        assert begun.wait(10)
        server.should_exit = True
        serving.join(20)
        visitor.join(20)
    assert ("Exception in ASGI application" in caplog.text) is fails
