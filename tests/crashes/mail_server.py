"""A mail server on the loopback: keeps the Message-ID of every mail it took, and takes its time to say so."""

from __future__ import annotations

import random
import re
import socketserver
import threading
import time
from collections import Counter
from typing import ClassVar

SLOWEST = 0.2
"""Seconds between having a mail and saying so, at most: the gap in which a killed sender cannot know."""


class _Talk(socketserver.StreamRequestHandler):
    """One conversation in SMTP (RFC 5321), as much of it as a sender needs."""

    server: MailServer
    timeout = 30

    def say(self, words: str) -> None:
        self.wfile.write(f"{words}\r\n".encode())

    def handle(self) -> None:
        try:
            self.talk()
        except (ConnectionError, TimeoutError):
            return  # the sender was killed

    def talk(self) -> None:
        """Answer until the other side says goodbye or is gone."""
        self.say("220 mail.test ready")
        while line := self.rfile.readline():
            verb = line[:4].strip().upper()
            if verb == b"DATA":
                self.say("354 go ahead")
                if (mail := self.read_mail()) is None:
                    return
                self.server.take(mail)
                time.sleep(random.random() * SLOWEST)
                self.say("250 taken")
            elif verb == b"QUIT":
                self.say("221 goodbye")
                return
            else:
                self.say("250 ok")

    def read_mail(self) -> str | None:
        """The mail up to its dot; None when the sender was gone before that: such a mail was never taken."""
        lines: list[bytes] = []
        while line := self.rfile.readline():
            if line == b".\r\n":
                return b"".join(lines).decode(errors="replace")
            lines.append(line)
        return None


class MailServer(socketserver.ThreadingTCPServer):
    """Takes every mail; `taken` counts them by Message-ID."""

    daemon_threads = True
    FOUND: ClassVar[re.Pattern[str]] = re.compile(r"^Message-ID:\s*<([^@>]+)@", re.MULTILINE | re.IGNORECASE)

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), _Talk)
        self.taken: Counter[str] = Counter()
        self._arrived = threading.Event()
        self._lock = threading.Lock()
        threading.Thread(target=self.serve_forever, args=(0.1,), daemon=True).start()

    @property
    def port(self) -> int:
        return int(self.server_address[1])

    def take(self, mail: str) -> None:
        """Count a mail that has arrived whole."""
        found = self.FOUND.search(mail)
        with self._lock:
            self.taken[found.group(1) if found else "without a Message-ID"] += 1
        self._arrived.set()

    def wait_for_a_mail(self, seconds: float) -> bool:
        """Wait until the next mail has arrived; False when none did in that time."""
        self._arrived.clear()
        return self._arrived.wait(seconds)
