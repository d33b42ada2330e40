"""Ways round the import contracts that no import statement shows: relations of tables, and names as text."""

import ast

from django.apps import apps

from tests.rules.project import PACKAGES, ROOT, module_of, name_of, python_files

# Whose tables a room's tables may point to, besides its own.
MAY_POINT_TO = {
    "coordination.people": set[str](),
    "coordination.outbox": {"coordination.people"},
    "coordination.sequence": {"coordination.outbox", "coordination.people"},
    "coordination.reminders": {"coordination.sequence", "coordination.outbox", "coordination.people"},
    "coordination.calendar_feeds": {
        "coordination.reminders",
        "coordination.sequence",
        "coordination.outbox",
        "coordination.people",
    },
    "hold_points": {"coordination.sequence", "coordination.outbox", "coordination.people"},
}

# Files that turn a name into a module, each with its reason.
MAY_LOAD_BY_NAME = {
    "coordination/sequence/inspection.py": "the port that the settings name",
    "coordination/people/office_port.py": "the port that the settings name",
}
LOADERS = {"importlib", "importlib.import_module", "django.utils.module_loading"}


def room_of(module: str) -> str:
    """The room a module belongs to: 'coordination.people', or 'hold_points'."""
    parts = module.split(".")
    return parts[0] if parts[0] != "coordination" else ".".join(parts[:2])


def test_tables_point_only_where_their_room_may_look():
    wrong = []
    seen = 0
    for model in apps.get_models(include_auto_created=True):
        room = room_of(model.__module__)
        if not room.startswith(PACKAGES):
            continue
        for field in model._meta.get_fields():
            target = field.related_model
            if not field.is_relation or field.auto_created or target is None or isinstance(target, str):
                continue
            seen += 1
            other = room_of(target.__module__)
            if other.startswith(PACKAGES) and other != room and other not in MAY_POINT_TO[room]:
                wrong.append(f"{model.__module__}.{model.__name__}.{field.name} points to {other}")
    assert seen > 20
    assert not wrong, "\n".join(wrong)


def _called(node: ast.Call) -> str:
    function = node.func
    if isinstance(function, ast.Name):
        return function.id
    return function.attr if isinstance(function, ast.Attribute) else ""


def test_nothing_is_imported_by_its_name_as_text():
    wrong = []
    for path in python_files(*PACKAGES):
        if name_of(path) in MAY_LOAD_BY_NAME:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            found, line = "", getattr(node, "lineno", 0)
            if isinstance(node, ast.Import):
                found = next((alias.name for alias in node.names if alias.name in LOADERS), "")
            elif isinstance(node, ast.ImportFrom):
                names = {f"{node.module}.{alias.name}" for alias in node.names} | {node.module or ""}
                found = next(iter(names & (LOADERS - {"importlib"})), "")
            elif isinstance(node, ast.Call) and _called(node) in ("__import__", "exec", "eval"):
                # re.compile(...).exec does not exist in Python; a method called eval might, on arrays.
                found = _called(node) if isinstance(node.func, ast.Name) else ""
            if found:
                wrong.append(f"{name_of(path)}:{line} uses {found}")
    assert not wrong, "\n".join(wrong)


def test_models_are_not_fetched_by_text_from_a_room_above():
    wrong = []
    labels = {config.label: config.name for config in apps.get_app_configs()}
    for path in python_files(*PACKAGES):
        if "migrations" in path.parts:
            continue
        room = room_of(module_of(path))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not (isinstance(node, ast.Call) and _called(node) == "get_model" and node.args):
                continue
            first = node.args[0]
            if isinstance(first, ast.Constant) and isinstance(first.value, str):
                other = labels.get(first.value.split(".")[0], first.value)
                if other != room and other not in MAY_POINT_TO.get(room, set()):
                    wrong.append(f"{name_of(path)}:{node.lineno} fetches {first.value}")
    assert not wrong, "\n".join(wrong)


def test_the_exceptions_are_still_needed():
    present = [name for name in MAY_LOAD_BY_NAME if (ROOT / name).exists()]
    unused = [
        name
        for name in present
        if not any(word in (ROOT / name).read_text() for word in ("import_string", "importlib"))
    ]
    assert not unused, unused
