"""The settings of this channel: what they must look like, and that no secret is ever shown."""

from pathlib import Path

import pytest

from tests.channels.telegram.stage import fresh_token
from triagebot.errors import SettingsError
from triagebot.settings import Settings, load_settings, secret_in

NO_FILE = {"TRIAGEBOT_SETTINGS": "/dev/null"}


def problem(**variables: str) -> str:
    with pytest.raises(SettingsError) as caught:
        load_settings(NO_FILE | {f"TRIAGEBOT_{name.upper()}": value for name, value in variables.items()})
    return str(caught.value)


def settings(**variables: str) -> Settings:
    return load_settings(NO_FILE | {f"TRIAGEBOT_{name.upper()}": value for name, value in variables.items()})


def test_nothing_but_the_token_is_needed() -> None:
    token = fresh_token()
    assert settings().token_for_telegram() is None
    assert settings(telegram_token=token).token_for_telegram() == token


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("telegram_token", "a-secret-that-is-no-token"),
        ("telegram_token", f"{fresh_token()} "),
        ("telegram_webhook_secret", "too-short"),
        ("telegram_webhook_secret", "with spaces in its middle, twenty"),
    ],
)
def test_a_wrong_secret_is_named_and_not_shown(name: str, value: str) -> None:
    said = problem(**{name: value})
    assert said.startswith(f"TRIAGEBOT_{name.upper()}: {name} is not right")
    assert value.strip() not in said


def test_a_secret_is_not_shown_with_the_settings() -> None:
    token = fresh_token()
    shown = repr(settings(telegram_token=token, telegram_webhook_secret="0123456789abcdef"))
    assert token not in shown
    assert "0123456789abcdef" not in shown


def test_a_secret_has_no_place_in_the_settings_file(tmp_path: Path) -> None:
    token, file = fresh_token(), tmp_path / "triagebot.toml"
    file.write_text(f'language = "en"\ntelegram_token = "{token}"\n', encoding="utf-8")
    with pytest.raises(SettingsError) as caught:
        load_settings({"TRIAGEBOT_SETTINGS": str(file)})
    assert str(caught.value) == f"{file}:2:1: telegram_token is a secret; set TRIAGEBOT_TELEGRAM_TOKEN in its place"


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("telegram_webhook", "bot.example.org/telegram"),
        ("telegram_webhook", "https://bot.example.org"),
        ("web_port", "70000"),
        ("web_port", "http"),
        ("telegram_server", "https://bots.example.org/with/a/path"),
    ],
)
def test_addresses_and_ports_are_looked_at(name: str, value: str) -> None:
    assert problem(**{name: value}).startswith(f"TRIAGEBOT_{name.upper()}: {name} is {value!r}")


@pytest.mark.parametrize(("content", "said"), [(b"", "holds no token"), (b"\xff\xfe", "something else than letters")])
def test_a_token_file_with_something_else_in_it(tmp_path: Path, content: bytes, said: str) -> None:
    file = tmp_path / "token"
    file.write_bytes(content)
    file.chmod(0o600)
    with pytest.raises(SettingsError, match=said):
        settings(telegram_token_file=str(file)).token_for_telegram()


def test_a_token_file_that_is_missing(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="cannot be read"):
        secret_in(tmp_path / "gone")
