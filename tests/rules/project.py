"""The project's own files, as the rules see them."""

import ast
import fnmatch
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
PACKAGES = ("coordination", "hold_points")


def _ignored() -> list[str]:
    lines = (ROOT / ".gitignore").read_text().splitlines()
    return [line.strip().strip("/") for line in lines if line.strip() and not line.startswith("#")] + [".git"]


IGNORED = _ignored()


def is_ignored(path: Path) -> bool:
    """Whether git would not see this file, by its own name."""
    return any(fnmatch.fnmatch(path.name, pattern) for pattern in IGNORED)


def walk(folder: Path = ROOT) -> Iterator[Path]:
    """Every file of the project below `folder`, without what git ignores."""
    for path in sorted(folder.iterdir()):
        if is_ignored(path):
            continue
        if path.is_dir():
            yield from walk(path)
        else:
            yield path


def python_files(*packages: str) -> list[Path]:
    """The Python files of the packages."""
    return [path for name in packages for path in walk(ROOT / name) if path.suffix == ".py"]


def name_of(path: Path) -> str:
    """Where a file stands, as the project writes it."""
    return path.relative_to(ROOT).as_posix()


def module_of(path: Path) -> str:
    """The dotted name of a Python file."""
    return name_of(path).removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def imported_names(path: Path) -> Iterator[tuple[int, str]]:
    """Line and dotted name of everything a file imports, wherever in the file."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield from ((node.lineno, f"{node.module}.{alias.name}") for alias in node.names)
