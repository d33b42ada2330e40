"""Read hostile files in a process of their own, and tell what was taken and how much memory that needed.

``python -m tests.hold_points.read_hostile FOLDER`` reads every file of the folder; without a folder it makes
them first, in another process. It prints one line of JSON: accepted, refused, peak_mb of the whole process
(interpreter and Django included). The last one read is the largest photograph that is taken.
"""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

LARGEST = ("largest that is taken", "largest HEIC that is taken")


def write_files(folder: Path) -> None:
    """Write the hostile files, a photograph of nearly 50 megapixels, and a HEIC of nearly 25."""
    from tests.hold_points.hostile_files import make_hostile_files
    from tests.hold_points.pictures import make_heic, make_picture

    for number, (name, raw) in enumerate(make_hostile_files().items()):
        (folder / f"{number:03d} {name}").write_bytes(raw)
    (folder / f"998 {LARGEST[0]}").write_bytes(make_picture(size=(8164, 6123), quality=70))
    (folder / f"999 {LARGEST[1]}").write_bytes(make_heic(size=(5712, 4284)))


def read_peak() -> float:
    """The largest memory of this process so far, in MB.

    Not `ru_maxrss`: that one outlives exec(), so a child of a large process starts with its parent's figure.
    """
    status = Path("/proc/self/status").read_text()
    return int(status.split("VmHWM:")[1].split()[0]) / 1024


def read_files(folder: Path) -> int:
    """Read each and make its copies, as the program does; 1 when a hostile one was taken or 512 MB passed."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "coordination.settings.test")
    import django

    django.setup()
    from coordination.people.refusals import BadInput
    from hold_points.photographs import make_copies, read_photograph

    accepted: list[str] = []
    refused = 0
    for file in sorted(folder.iterdir()):
        raw = file.read_bytes()
        try:
            read_photograph(io.BytesIO(raw))
            make_copies(raw)
            accepted.append(file.name[4:])
        except BadInput:
            refused += 1
    harmless = set(LARGEST) <= set(accepted)
    accepted = [name for name in accepted if name not in LARGEST]
    peak = read_peak()
    found = {"accepted": accepted, "refused": refused, "largest_taken": harmless, "peak_mb": round(peak)}
    sys.stdout.write(json.dumps(found) + "\n")
    return int(bool(accepted) or not harmless or peak >= 512)


def main() -> int:
    """The command."""
    if len(sys.argv) > 1:
        return read_files(Path(sys.argv[1]))
    with tempfile.TemporaryDirectory() as name:
        write_files(Path(name))
        command = [sys.executable, "-m", "tests.hold_points.read_hostile", name]
        return subprocess.run(command, check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
