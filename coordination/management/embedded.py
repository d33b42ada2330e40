"""The parts of an embedded run: a web server, a Celery worker and a Celery beat, each in a thread.

One process on one machine, for trying the tool and for a small office. The queue is in memory, which is
harmless because every message and reminder is a row first: what a stopped process had queued is found
again by the next tick.
"""

import errno
import logging
import signal
import socketserver
import sys
import threading
import time
from collections.abc import Callable
from types import FrameType
from wsgiref.simple_server import WSGIRequestHandler, WSGIServer

from celery.beat import Scheduler
from celery.beat import Service as BeatService
from celery.worker import state as worker_state
from django.contrib.staticfiles.handlers import StaticFilesHandler
from django.core.management.base import CommandError
from django.core.wsgi import get_wsgi_application

from coordination.celery_app import app

# Loopback only: the embedded run speaks plain HTTP and offers sign-in by one click.
ADDRESS = "127.0.0.1"
FIRST_PORT = 8000
PORTS_TO_TRY = 100
START_SECONDS = 120
STOP_SECONDS = 60
"""For each part; who does not want to wait so long presses Ctrl-C again."""
SAME_WISH_SECONDS = 1

_log = logging.getLogger(__name__)


class _Handler(WSGIRequestHandler):
    """Answers one request; keeps no list of addresses, because some of them are secrets of crews."""

    timeout = 60

    def log_message(self, format: str, *arguments: object) -> None:
        """Write nothing; what goes wrong is logged by Django itself."""


class WebServer(socketserver.ThreadingMixIn, WSGIServer):
    """A thread for each request. Static files come straight from the packages' folders."""

    daemon_threads = True
    # A page asks for its style sheets and scripts at once.
    request_queue_size = 128

    def __init__(self, port: int) -> None:
        # Windows lets two servers share a port under this option; there a taken port must stay taken.
        self.allow_reuse_address = sys.platform != "win32"
        super().__init__((ADDRESS, port), _Handler)
        self.set_app(StaticFilesHandler(get_wsgi_application()))

    def server_bind(self) -> None:
        """Bind without asking the name service who we are: that may take seconds without a network."""
        socketserver.TCPServer.server_bind(self)
        self.server_name, self.server_port = ADDRESS, int(self.server_address[1])
        self.setup_environ()

    def handle_error(self, request: object, client_address: object) -> None:
        """Log what went wrong, except that a browser closed its end early, which is its right."""
        if not isinstance(sys.exc_info()[1], ConnectionError | TimeoutError):
            _log.exception("A request could not be answered.")

    @property
    def address(self) -> str:
        """Where a browser finds it."""
        return f"http://{ADDRESS}:{self.server_port}"


def open_web_server(port: int | None) -> WebServer:
    """Bind the server to `port`, or to the first free one from 8000 on.

    Raises CommandError when the port asked for is taken or none is free.
    """
    if port is not None and not 1 <= port <= 65535:
        raise CommandError(f"{port} is no port. Choose one from 1024 to 65535, or leave --port out.")
    candidates = [port] if port else range(FIRST_PORT, FIRST_PORT + PORTS_TO_TRY)
    for candidate in candidates:
        try:
            return WebServer(candidate)
        except OSError as problem:
            if problem.errno not in (errno.EADDRINUSE, errno.EACCES):
                raise
    if port:
        raise CommandError(
            f"Port {port} is taken or not allowed. Leave --port out to use the first free one."
        )
    raise CommandError(
        f"No port from {FIRST_PORT} to {FIRST_PORT + PORTS_TO_TRY - 1} is free. Name another one with --port."
    )


class StopWish:
    """What a signal does: the first one asks to stop politely, a later one does not wait.

    The rows are safe, whatever is cut off. But some launchers pass on a signal that the terminal has sent to
    us already; what comes within a second of the first is still the first one.
    """

    def __init__(self, stopping: threading.Event, now: Callable[[], float] = time.monotonic) -> None:
        self._stopping, self._now = stopping, now
        self._first: float | None = None

    def __call__(self, number: int, _frame: FrameType | None) -> None:
        """Handle the signal."""
        moment = self._now()
        if self._first is None:
            self._first = moment
        self._stopping.set()
        if moment - self._first > SAME_WISH_SECONDS:
            signal.signal(number, signal.SIG_DFL)
            signal.raise_signal(number)


class EmbeddedRun:
    """Starts the three parts, watches them, and stops them together."""

    def __init__(self, web: WebServer) -> None:
        self.web = web
        self.stopping = threading.Event()
        self._worker_ready = threading.Event()
        self._worker = app.WorkController(
            pool="solo",
            without_gossip=True,
            without_mingle=True,
            without_heartbeat=True,
            ready_callback=lambda _consumer: self._worker_ready.set(),
        )
        # In memory and with short naps: the schedule has one entry, and a stop must not wait for a tick.
        self._beat = BeatService(app, max_interval=1, scheduler_cls=Scheduler)
        self._threads = {
            "web server": threading.Thread(target=web.serve_forever, args=(0.1,), name="web", daemon=True),
            "worker": threading.Thread(target=self._worker.start, name="celery-worker", daemon=True),
            "beat": threading.Thread(target=self._beat.start, name="celery-beat", daemon=True),
        }

    def start_pages(self) -> None:
        """Start answering; the worker and the beat wait for `start_work`."""
        self._threads["web server"].start()

    def start_work(self) -> None:
        """Start worker and beat; returns when tasks are taken. Raises CommandError when they are not."""
        worker_state.should_stop = None
        for name in ("worker", "beat"):
            self._threads[name].start()
        if not self._worker_ready.wait(START_SECONDS):
            self.stop()
            raise CommandError(
                f"The Celery worker did not start within {START_SECONDS} s; its reason stands above."
            )

    def watch(self) -> str | None:
        """Wait until `stopping` is set; return the name of a part that ended by itself, or None."""
        while not self.stopping.wait(0.5):
            for name, thread in self._threads.items():
                if not thread.is_alive():
                    return name
        return None

    def stop(self) -> list[str]:
        """Stop the parts and return the names of those that still run after STOP_SECONDS each."""
        # Only what was started can be stopped: a beat that never ran waits for ever.
        if self._threads["beat"].ident is not None:
            self._beat.stop()
        worker_state.should_stop = 0
        if self._threads["web server"].is_alive():
            self.web.shutdown()
        self.web.server_close()
        for thread in self._threads.values():
            if thread.ident is not None:
                thread.join(STOP_SECONDS)
        running = [name for name, thread in self._threads.items() if thread.is_alive()]
        if not running:
            # The flag belongs to the whole process: a worker started after this one would stop at once.
            worker_state.should_stop = None
        return running
