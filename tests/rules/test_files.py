"""Files keep one job and stay short; templates keep inside the content security policy."""

import re

from tests.rules.project import PACKAGES, ROOT, name_of, walk

LONGEST = 400
COUNTED = {".py", ".html", ".js", ".css"}
# Drawers: a file of this name says nothing about its job.
DRAWERS = {"utils", "helpers", "services", "managers", "core", "common"}

INLINE = {
    "a style attribute": re.compile(r"<[^>]*\sstyle\s*=", re.IGNORECASE),
    "a style element": re.compile(r"<style\b", re.IGNORECASE),
    "a script in the page": re.compile(r"<script\b(?![^>]*\bsrc=)", re.IGNORECASE),
    "an event attribute": re.compile(r"<[^>]*\son[a-z]+\s*=", re.IGNORECASE),
    "a javascript: address": re.compile(r"javascript:", re.IGNORECASE),
    "something from another host": re.compile(
        r"<(?:script|link|img|iframe)\b[^>]*(?:src|href)=\"(?:https?:)?//"
    ),
}


def test_no_file_is_longer_than_400_lines():
    long = {}
    for path in walk():
        # Django writes the migrations, and nobody edits them.
        if path.suffix in COUNTED and path.parent.name != "migrations":
            lines = len(path.read_text(encoding="utf-8").splitlines())
            if lines > LONGEST:
                long[name_of(path)] = lines
    assert not long, long


def test_no_file_is_a_drawer():
    named = [
        name_of(path)
        for package in PACKAGES
        for path in walk(ROOT / package)
        if path.stem in DRAWERS or path.parent.name in DRAWERS
    ]
    assert not named, named


def test_the_package_of_engine_and_fabric_imports_nothing():
    assert (ROOT / "coordination" / "__init__.py").read_text() == ""


def test_templates_hold_nothing_that_the_content_security_policy_forbids():
    wrong = []
    # Mail has no such policy, and mail programs know no style sheets: styles stand in its elements.
    templates = [
        path for path in walk(ROOT / "templates") if path.suffix == ".html" and "mail" not in path.parts
    ]
    assert templates
    for path in templates:
        text = re.sub(r"{#.*?#}|{% comment %}.*?{% endcomment %}", "", path.read_text(), flags=re.DOTALL)
        wrong += [f"{name_of(path)} has {what}" for what, pattern in INLINE.items() if pattern.search(text)]
    assert not wrong, "\n".join(wrong)


def test_the_patterns_find_what_they_are_for():
    planted = {
        "a style attribute": '<p class="a" style="color: red">',
        "a style element": "<style>p {}</style>",
        "a script in the page": "<script>go()</script>",
        "an event attribute": '<button onclick="go()">',
        "a javascript: address": '<a href="javascript:go()">',
        "something from another host": '<script src="//example.org/a.js">',
    }
    assert planted.keys() == INLINE.keys()
    for what, text in planted.items():
        assert INLINE[what].search(text), what
    assert not INLINE["a script in the page"].search('<script type="module" src="a.js"></script>')
