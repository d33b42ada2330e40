"""Every address asks who is there: a visitor without a name or a secret gets nothing."""

from collections.abc import Iterator
from typing import Any

import pytest
from django.urls import URLPattern, URLResolver, get_resolver, path
from django.urls.converters import IntConverter, UUIDConverter

# Addresses that answer everybody, each with its reason. An address that is not here must send a visitor to
# sign in, or not exist for them.
OPEN = {
    "people:sign_in": "one has to be able to sign in",
    "people:forgotten": "whoever forgot the password cannot sign in; the answer tells nothing",
    "people:sign_out": "signing out twice does no harm",
    "hold_points:worker": "a browser looks for it on its own; it holds nothing of anybody",
}
# A value for each kind of part; a secret made of these letters belongs to nobody.
SAMPLES: dict[type, Any] = {IntConverter: 1, UUIDConverter: "00000000-0000-4000-8000-000000000000"}


def list_addresses(patterns: list[Any], before: str = "", space: str = "") -> Iterator[tuple[str, str]]:
    """Name and path of every address of the project; the administration pages are Django's own to test."""
    for entry in patterns:
        route = before + str(entry.pattern)
        if isinstance(entry, URLResolver):
            if entry.app_name == "admin":
                continue
            inner = f"{space}{entry.namespace}:" if entry.namespace else space
            yield from list_addresses(entry.url_patterns, route, inner)
        elif isinstance(entry, URLPattern):
            for name, converter in entry.pattern.converters.items():
                value = SAMPLES.get(type(converter), "nobody")
                for kind in _ways_to_write(name, converter):
                    route = route.replace(kind, str(value))
            yield f"{space}{entry.name}", "/" + route


def _ways_to_write(name: str, converter: object) -> list[str]:
    kind = type(converter).__name__.removesuffix("Converter").lower()
    return [f"<{kind}:{name}>", f"<{name}>"]


def is_refused(client: Any, where: str, method: str) -> bool:
    """Whether a visitor is sent to sign in, or told that there is no such page or no such right."""
    answer = getattr(client, method)(where)
    if answer.status_code in (301, 302):
        return "/sign-in/" in answer.headers["Location"]
    return answer.status_code in (401, 403, 404, 405)


def test_the_addresses_are_found():
    names = [name for name, _ in list_addresses(get_resolver().url_patterns)]
    assert "people:one_click" in names
    assert set(names) >= OPEN.keys()


@pytest.mark.django_db
def test_a_visitor_without_a_name_gets_nothing(client):
    open_to_all = [
        f"{method.upper()} {where} ({name})"
        for name, where in list_addresses(get_resolver().url_patterns)
        if name not in OPEN
        for method in ("get", "post")
        if not is_refused(client, where, method)
    ]
    assert not open_to_all, "\n".join(open_to_all)


def test_parts_of_an_address_get_a_value():
    def view(request: object) -> None: ...

    patterns = [path("lots/<int:lot>/rooms/<slug:room>/<key>/", view, name="room")]  # type: ignore[arg-type]
    assert list(list_addresses(patterns)) == [("room", "/lots/1/rooms/nobody/nobody/")]
