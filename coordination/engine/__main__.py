"""The engine as a command: a JSON document in, a JSON document out.

    python -m coordination.engine dates FILE [--float-to ID]
    python -m coordination.engine level FILE [--schedules N] [--seconds S] [--seed K]
    python -m coordination.engine forecast FILE [--samples N] [--seed K] [--shape S] [--confidence C] [--fit]
    python -m coordination.engine quality FILE

FILE ``-`` is the standard input; `level` also reads the ``.sm`` files of PSPLIB. Bad input is said on
standard error, with exit status 2 and nothing on standard output.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path

from coordination.engine.concealment import refuse_detail_faults
from coordination.engine.crew_flow import tie_crews
from coordination.engine.critical_path import compute_dates
from coordination.engine.exchange import Problem, read_problem
from coordination.engine.forecast import forecast_network
from coordination.engine.promises import promise_with_forecast
from coordination.engine.psplib import is_psplib, read_psplib
from coordination.engine.quality import assess_quality
from coordination.engine.quantiles import SHAPES, Shape
from coordination.engine.workdays import Refused
from coordination.engine.writing import Json, write_forecast, write_levelled, write_plan, write_quality


def _answer_dates(file: str, float_to: Sequence[str]) -> Json:
    """Dates of the document in a file.

    A sequence that would bury a detail unseen is refused; once work is recorded it is what it is, and the
    windows say so.
    """
    problem = read_problem(_read_file(file))
    plan = compute_dates(problem.network, data_date=problem.data_date, float_to=tuple(float_to))
    if not problem.network.has_actuals:
        refuse_detail_faults(problem.network)
    return write_plan(plan)


def _answer_level(file: str, schedules: int | None, seconds: float | None, seed: int) -> Json:
    """Dates that the crews can keep, for a JSON document or a PSPLIB file."""
    from coordination.engine.levelling import level_network  # here, because numba takes long to import

    raw = _read_file(file)
    problem = Problem(read_psplib(raw), 0) if is_psplib(raw) else read_problem(raw)
    plan = compute_dates(problem.network, data_date=problem.data_date)
    levelled = level_network(
        problem.network, data_date=problem.data_date, schedules=schedules, seconds=seconds, seed=seed
    )
    return write_levelled(plan, levelled)


def _answer_forecast(
    file: str, samples: int, seed: int, shape: Shape, confidence: float | None, fit: bool
) -> Json:
    """Percentiles of every finish of the document in a file, and promises behind its points if asked for.

    With `fit` the houses are levelled first and wait for each other's crews in every draw.
    """
    problem = read_problem(_read_file(file))
    network, at = problem.network, problem.data_date
    if fit:
        from coordination.engine.levelling import level_network  # here, because numba takes long to import

        levelled = level_network(network, data_date=at, seed=seed)
        network = tie_crews(levelled.assigned, levelled.start, levelled.finish)
    promises = None
    if confidence is None:
        found = forecast_network(network, data_date=at, samples=samples, seed=seed, shape=shape)
    else:
        promises, found = promise_with_forecast(
            network, data_date=at, confidence=confidence, samples=samples, seed=seed, shape=shape
        )
    written = write_forecast(found, at, promises)
    # Without a fit every house is forecast as if its crews were free; who reads the answer has to know.
    return {**written, "crew_limits": fit} if network.crews else written


def _answer_quality(file: str) -> Json:
    """The schedule quality report of the document in a file."""
    problem = read_problem(_read_file(file))
    return write_quality(assess_quality(compute_dates(problem.network, data_date=problem.data_date)))


def _read_file(file: str) -> bytes:
    if file == "-":
        return sys.stdin.buffer.read()
    try:
        return Path(file).read_bytes()
    except OSError as error:
        raise Refused(f"{file}: {error.strerror}") from None


def _arguments() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m coordination.engine", description="Compute dates of building work in half-days."
    )
    commands = parser.add_subparsers(dest="command", required=True)
    dates = commands.add_parser("dates", help="earliest and latest dates, floats, reasons and windows")
    dates.add_argument("file", metavar="FILE", help="a JSON document; - for the standard input")
    dates.add_argument(
        "--float-to", metavar="ID", action="append", default=[], help="also the float to this activity"
    )
    level = commands.add_parser("level", help="dates that the crews can keep, over all houses")
    level.add_argument("file", metavar="FILE", help="a JSON document or a .sm file; - for the standard input")
    level.add_argument("--schedules", type=int, metavar="N", help="make at most so many schedules")
    level.add_argument("--seconds", type=float, metavar="S", help="search for at most so long")
    level.add_argument("--seed", type=int, metavar="K", default=0, help="the same seed, the same answer")
    forecast = commands.add_parser("forecast", help="what each finish may be: percentiles and criticality")
    forecast.add_argument("file", metavar="FILE", help="a JSON document; - for the standard input")
    forecast.add_argument("--samples", type=int, metavar="N", default=1000, help="how many draws")
    forecast.add_argument("--seed", type=int, metavar="K", default=0, help="the same seed, the same answer")
    forecast.add_argument("--shape", choices=SHAPES, default="pert", help="of the ranges")
    forecast.add_argument(
        "--confidence", type=float, metavar="C", help="also the dates to promise behind each point"
    )
    forecast.add_argument(
        "--fit", action="store_true", help="level first; houses then wait for each other's crews"
    )
    quality = commands.add_parser("quality", help="what in the logic would let a slip go unseen")
    quality.add_argument("file", metavar="FILE", help="a JSON document; - for the standard input")
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; returns its exit status."""
    given = _arguments().parse_args(arguments)
    try:
        if given.command == "dates":
            answer = _answer_dates(given.file, given.float_to)
        elif given.command == "forecast":
            answer = _answer_forecast(
                given.file, given.samples, given.seed, given.shape, given.confidence, given.fit
            )
        elif given.command == "quality":
            answer = _answer_quality(given.file)
        else:
            answer = _answer_level(given.file, given.schedules, given.seconds, given.seed)
    except Refused as error:
        print(f"error: {error}", file=sys.stderr)
        return 2
    print(json.dumps(answer, indent=1))
    return 0


if __name__ == "__main__":
    sys.exit(main())
