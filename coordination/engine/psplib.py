"""Reading the single-mode project files (``.sm``) of PSPLIB, the published library of scheduling problems.

R. Kolisch, A. Sprecher, "PSPLIB - A project scheduling problem library", EJOR 96 (1997) 205-216.
"""

from __future__ import annotations

from coordination.engine.network import Activity, Crew, Network, Relationship
from coordination.engine.workdays import Refused

_HEAD = ("PRECEDENCE RELATIONS", "REQUESTS/DURATIONS", "RESOURCEAVAILABILITIES")


def is_psplib(raw: bytes) -> bool:
    """Whether a file looks like one of PSPLIB: it opens with a line of stars."""
    return raw.lstrip().startswith(b"****")


def read_psplib(raw: bytes) -> Network:
    """The project of a ``.sm`` file: ids are the job numbers as text, periods half-days of ``"every"``,
    resources become crews (``"R 1"`` and so on).

    Raises `Refused`, naming the section or job that cannot be read.
    """
    lines = raw.decode("utf-8", errors="replace").splitlines()
    successors = _read_rows(lines, _HEAD[0], 3)
    requests = _read_rows(lines, _HEAD[1], 3)
    names, capacities = _read_resources(lines)
    activities = []
    for job, mode, duration, *needs in requests:
        if mode != 1:
            raise Refused(f"job {job} has more than one mode: only single-mode projects can be levelled")
        if len(needs) != len(names):
            raise Refused(f"job {job} names {len(needs)} needs for {len(names)} resources")
        crew = {name: units for name, units in zip(names, needs, strict=True) if units}
        activities.append(Activity(str(job), duration, crew=crew))
    links = []
    for job, _, count, *following in successors:
        if count != len(following):
            raise Refused(f"job {job} announces {count} successors and names {len(following)}")
        links += [Relationship(str(job), str(after)) for after in following]
    crews = tuple(Crew(name, capacity) for name, capacity in zip(names, capacities, strict=True))
    return Network(tuple(activities), tuple(links), crews=crews)


def _section(lines: list[str], name: str) -> list[str]:
    """The lines of a section, up to the next line of stars."""
    for i, line in enumerate(lines):
        if line.startswith(name):
            rest = lines[i + 1 :]
            end = next((k for k, text in enumerate(rest) if text.startswith("****")), len(rest))
            return rest[:end]
    raise Refused(f"the file has no section {name!r}: it is no single-mode project of PSPLIB")


def _read_rows(lines: list[str], name: str, least: int) -> list[list[int]]:
    rows = []
    for line in _section(lines, name)[1:]:
        if line.strip() and not line.startswith("-"):
            try:
                row = [int(word) for word in line.split()]
            except ValueError:
                raise Refused(
                    f"the section {name!r} has the line {line.strip()!r}: not all numbers"
                ) from None
            if len(row) < least:
                raise Refused(f"the section {name!r} has the line {line.strip()!r}, which is too short")
            rows.append(row)
    return rows


def _read_resources(lines: list[str]) -> tuple[list[str], list[int]]:
    section = [line for line in _section(lines, _HEAD[2]) if line.strip()]
    if len(section) < 2:
        raise Refused(f"the section {_HEAD[2]!r} must have a line of names and a line of numbers")
    words = section[0].split()
    names = [f"{kind} {number}" for kind, number in zip(words[::2], words[1::2], strict=False)]
    if any(not name.startswith("R ") for name in names):
        raise Refused("only renewable resources (R) can be levelled")
    try:
        capacities = [int(word) for word in section[1].split()]
    except ValueError:
        raise Refused(f"the capacities {section[1].strip()!r} are not all numbers") from None
    if len(capacities) != len(names):
        raise Refused(f"{len(names)} resources have {len(capacities)} capacities")
    return names, capacities
