"""The instances of PSPLIB beside this file, with the bounds that others have proved."""

import csv
from dataclasses import dataclass
from pathlib import Path

from coordination.engine.network import Network
from coordination.engine.psplib import read_psplib

FOLDER = Path(__file__).parent / "psplib"


@dataclass(frozen=True)
class Instance:
    name: str
    path: Path
    critical_path: int
    best_lower: int
    best_upper: int

    @property
    def network(self) -> Network:
        return read_psplib(self.path.read_bytes())


def instances(name):
    """The instances of a set: j30, j60 or j120."""
    with (FOLDER / "bounds.csv").open(newline="") as file:
        return [
            Instance(
                row["instance"],
                FOLDER / name / f"{row['instance']}.sm",
                *(int(row[key]) for key in ("critical_path", "best_lower", "best_upper")),
            )
            for row in csv.DictReader(file)
            if row["set"] == name
        ]
