"""The key that closes what is personal lies in a folder of each test's own, in other processes as well."""

import pytest


@pytest.fixture(autouse=True)
def _own_key(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))
