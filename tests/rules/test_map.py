"""DEVELOPERS.md is true: its tree is the real one, and its commands are the ones that CI runs."""

import re
from pathlib import Path

from tests.rules.project import ROOT, is_ignored, walk

MAP = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
INDENT = 2


def read_tree(text: str) -> dict[str, set[str]]:
    """Read the block fenced as ``tree``: for each folder with entries below it, the names of the entries.

    One entry a line, two spaces a level, a caption after two spaces or more; a folder's name ends with "/".
    """
    block = re.search(r"^```tree\n(.*?)^```", text, re.DOTALL | re.MULTILINE)
    assert block, "DEVELOPERS.md has no block fenced as ```tree"
    folders: dict[str, set[str]] = {"": set()}
    above: list[str] = []
    for line in block.group(1).splitlines():
        entry = line.strip().split("  ")[0]
        if not entry:
            continue
        depth = (len(line) - len(line.lstrip(" "))) // INDENT
        assert depth <= len(above), f"{entry} is indented too far"
        del above[depth:]
        folders.setdefault("".join(above), set()).add(entry)
        above.append(entry)
    return folders


def real_entries(folder: Path) -> set[str]:
    """Names in a folder as the tree writes them, without empty folders, package markers and ignored files."""
    entries = set()
    for path in folder.iterdir():
        if is_ignored(path) or path.name == "__init__.py":
            continue
        if path.is_dir() and any(True for _ in walk(path)):
            entries.add(f"{path.name}/")
        elif path.is_file():
            entries.add(path.name)
    return entries


def test_every_folder_that_the_tree_opens_is_the_real_one():
    tree = read_tree(MAP)
    assert len(tree) > 2
    for folder, entries in tree.items():
        assert (ROOT / folder).is_dir(), f"DEVELOPERS.md names {folder}, which is no folder"
        real = real_entries(ROOT / folder)
        where = folder or "the project"
        assert entries <= real, f"DEVELOPERS.md names in {where} what is not there: {sorted(entries - real)}"
        assert real <= entries, f"DEVELOPERS.md leaves out of {where}: {sorted(real - entries)}"


def test_paths_in_backquotes_exist():
    named = set(re.findall(r"`([\w./-]+/[\w.-]*\.(?:py|toml|html|md|css|js)|\.ci/\w+)`", MAP))
    assert named
    missing = sorted(name for name in named if not (ROOT / name).exists())
    assert not missing, missing


def test_ci_runs_the_test_command_of_the_readme():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    command = re.search(r"^python3 -m venv \.venv && .*-m pytest$", readme, re.MULTILINE)
    assert command, "README.md has no line that makes the environment and runs pytest"
    assert command.group(0) in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_every_check_of_ci_stands_in_the_map():
    run = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    for word in ("ruff check", "ruff format --check", "mypy", "lint-imports", "djlint", "check --deploy"):
        assert word in run, f".ci/run does not run {word}"
        assert word in MAP, f"DEVELOPERS.md does not name {word}"


def test_the_tree_reader_sees_levels_and_captions():
    assert read_tree("```tree\na/   first\n  b.py  x\n  c/\n    d.py\ne.md\n```\n") == {
        "": {"a/", "e.md"},
        "a/": {"b.py", "c/"},
        "a/c/": {"d.py"},
    }
