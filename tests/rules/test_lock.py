"""The lock files point to the public package index and its file host, nowhere else."""

import re

import pytest

from tests.rules.project import ROOT

PUBLIC = ("pypi.org", "pythonhosted.org")


def hosts_in(text: str) -> set[str]:
    return set(re.findall(r"https?://([^/\"'\s]+)", text))


def test_uv_lock_names_two_public_hosts():
    hosts = hosts_in((ROOT / "uv.lock").read_text())
    assert len(hosts) == 2, hosts
    assert all(host.endswith(PUBLIC) for host in hosts), hosts


@pytest.mark.parametrize("name", ["requirements.lock"])
def test_exported_lock_has_a_hash_for_every_package_and_names_no_host(name):
    lines = (ROOT / name).read_text().splitlines()
    packages = [line for line in lines if re.match(r"[a-z0-9]", line)]
    assert len(packages) > 10
    assert all(re.match(r"[a-z0-9.-]+==[\w.]+ ", line) and line.endswith("\\") for line in packages)
    assert sum("--hash=sha256:" in line for line in lines) >= len(packages)
    assert not hosts_in("\n".join(lines))


def test_every_dependency_of_the_project_is_locked():
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    wanted = {re.split(r"[\[<>=~! ]", line)[0].lower() for line in project["dependencies"]}
    locked = {
        line.split("==")[0] for line in (ROOT / "requirements.lock").read_text().splitlines() if "==" in line
    }
    assert wanted <= locked, wanted - locked
