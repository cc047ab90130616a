"""The settings of this channel, and what is said to stand in its way."""

import json
from pathlib import Path

import pytest

from tests.channels.matrix.conftest import PASSWORD, People
from tests.channels.matrix.faults import FOR_EVER, Faults, gateway
from tests.channels.matrix.homeserver import Homeserver
from triagebot.channels.matrix import problems
from triagebot.errors import SettingsError
from triagebot.settings import MatrixAccount, Settings, load_settings
from triagebot.store import Store, open_store

NO_FILE = {"TRIAGEBOT_SETTINGS": "/dev/null"}
SERVER, USER = "https://matrix.example.org", "@bot:example.org"
HERE = {"matrix_server": SERVER, "matrix_user": USER}


def settings(**variables: str) -> Settings:
    return load_settings(NO_FILE | {f"TRIAGEBOT_{name.upper()}": value for name, value in variables.items()})


def problem(**variables: str) -> str:
    with pytest.raises(SettingsError) as caught:
        settings(**variables).account_for_matrix()
    return str(caught.value)


def secret_file(folder: Path, content: str, mode: int = 0o600) -> str:
    file = folder / "secret"
    file.write_text(content, encoding="utf-8")
    file.chmod(mode)
    return str(file)


def test_nothing_set_is_no_account() -> None:
    assert settings().account_for_matrix() is None
    assert settings(matrix_allow="example.org").account_for_matrix() is None


def test_a_password_or_a_token_itself_or_in_a_file(tmp_path: Path) -> None:
    assert settings(**HERE, matrix_password="größer").account_for_matrix() == MatrixAccount(SERVER, USER, "größer", "")
    assert settings(**HERE, matrix_token="a-token-1").account_for_matrix() == MatrixAccount(
        SERVER, USER, "", "a-token-1"
    )
    file = secret_file(tmp_path, "größer\n")
    assert settings(**HERE, matrix_password_file=file).account_for_matrix() == MatrixAccount(SERVER, USER, "größer", "")
    file = secret_file(tmp_path, "a-token-1\n")
    assert settings(**HERE, matrix_token_file=file).account_for_matrix() == MatrixAccount(SERVER, USER, "", "a-token-1")


def test_who_may_invite_and_who_is_behind_bridges(tmp_path: Path) -> None:
    bridges = {"@bridge:example.org": "<(?P<name>[^>]{1,64})> "}
    made = settings(
        **HERE, matrix_token="a-token-1", matrix_allow="example.org, @ada:far.test", matrix_bridges=json.dumps(bridges)
    )
    account = made.account_for_matrix()
    assert account is not None
    assert account.allow == ("example.org", "@ada:far.test")
    assert account.bridges["@bridge:example.org"].match("<Ada> hello")
    file = tmp_path / "triagebot.toml"
    file.write_text(
        'matrix_allow = ["*"]\n[matrix_bridges]\n"@bridge:example.org" = "(?P<name>\\\\w+): "\n', encoding="utf-8"
    )
    loaded = load_settings({"TRIAGEBOT_SETTINGS": str(file)})
    assert (loaded.matrix_allow, loaded.matrix_bridges) == (("*",), {"@bridge:example.org": r"(?P<name>\w+): "})


def test_all_that_is_missing_is_said_at_once() -> None:
    said = problem(matrix_server=SERVER)
    assert said.splitlines() == [
        "matrix_user is missing, but matrix_server is set",
        "matrix_password_file is missing (or matrix_password, or matrix_token_file, or matrix_token)",
    ]
    assert "matrix_server is missing" in problem(matrix_password="a secret")
    assert "are both set" in problem(**HERE, matrix_password="a secret", matrix_token="a-token-1")


def test_a_secret_is_never_shown(tmp_path: Path) -> None:
    assert "a secret" not in repr(settings(**HERE, matrix_password="a secret"))
    assert "a secret" not in repr(settings(**HERE, matrix_password="a secret").account_for_matrix())
    assert "no token!" not in problem(**HERE, matrix_token="no token!")
    assert "chmod 600" in problem(**HERE, matrix_password_file=secret_file(tmp_path, "a secret", 0o644))
    assert "is empty" in problem(**HERE, matrix_password_file=secret_file(tmp_path, "\n"))


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("matrix_server", "example.org", "an address like"),
        ("matrix_user", "bot", "a whole user id"),
        ("matrix_allow", "example.org !", "! is no server and nobody"),
        ("matrix_bridges", "{", "not JSON"),
        ("matrix_bridges", '{"bridge": "x"}', "bridge is no user id"),
        ("matrix_bridges", '{"@b:x": "("}', "cannot be read"),
        ("matrix_bridges", '{"@b:x": "<.*>"}', "has no part (?P<name>…)"),
    ],
)
def test_what_is_wrong_is_said(name: str, value: str, said: str) -> None:
    message = problem(**{name: value})
    assert message.startswith(f"TRIAGEBOT_{name.upper()}: {name} is {value!r}")
    assert said in message


def test_a_slash_at_the_end_of_the_address_does_no_harm() -> None:
    account = settings(matrix_server=f"{SERVER}/", matrix_user=USER, matrix_password="secret").account_for_matrix()
    assert account == MatrixAccount(SERVER, USER, "secret", "")


# --- what stands in the way -----------------------------------------------------------------------------------------


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return open_store(tmp_path / "data", key_file=tmp_path / "key")


@pytest.mark.asyncio
async def test_what_is_missing_on_a_real_server(homeserver: Homeserver, line: Faults, store: Store) -> None:
    user = await homeserver.register("wheels-to-check", PASSWORD)
    wrong, well = await problems(MatrixAccount(homeserver.url, user, "not this", ""), store)
    assert (wrong, well) == ([f"matrix: the homeserver does not accept this password for {user}"], [])
    wrong, well = await problems(MatrixAccount(homeserver.url, user, PASSWORD, ""), store)
    assert wrong == []
    assert well[0].startswith(f"matrix: logged in as {user}, device ")
    again = await problems(MatrixAccount(homeserver.url, user, PASSWORD, ""), store)
    assert again == ([], well), "it logs in once"
    wrong, _ = await problems(MatrixAccount(homeserver.url, "@other:wheels.test", PASSWORD, ""), store)
    assert f"holds the login of {user}" in wrong[0]
    wrong, _ = await problems(MatrixAccount(homeserver.url, user, "", "no-such-token"), store)
    assert wrong == ["matrix: the homeserver does not accept the access token; give a present one"]
    line.script("GET", "/", gateway(), times=FOR_EVER)
    wrong, _ = await problems(MatrixAccount(line.url, user, PASSWORD, ""), store)
    assert wrong == [f"matrix: {line.url} cannot be reached (the server answers 502, not in JSON)"]
    wrong, _ = await problems(MatrixAccount("http://127.0.0.1:9", user, PASSWORD, ""), store)
    assert "cannot be reached" in wrong[0]
    store.close()


@pytest.mark.asyncio
async def test_an_account_of_another_server_is_named(homeserver: Homeserver, store: Store) -> None:
    user = await homeserver.register("wheels-of-here", PASSWORD)
    elsewhere = "@wheels-of-here:far.test"
    wrong, _ = await problems(MatrixAccount(homeserver.url, elsewhere, PASSWORD, ""), store)
    (said,) = wrong
    assert said.startswith(f"matrix: {homeserver.url} is the homeserver of wheels.test")
    assert said.endswith(f"the account may be {user}")
    wrong, _ = await problems(MatrixAccount(homeserver.url, elsewhere, "not this", ""), store)
    assert wrong == [f"matrix: the homeserver does not accept this password for {elsewhere}"], "it cannot be told"
    wrong, well = await problems(MatrixAccount(homeserver.url, user, PASSWORD, ""), store)
    assert (wrong, len(well)) == ([], 1), "what never got in is in nobody's way"
    store.close()


@pytest.mark.asyncio
async def test_what_is_wrong_with_the_staffs_room(homeserver: Homeserver, people: People, store: Store) -> None:
    user = await homeserver.register("wheels-and-staff", PASSWORD)
    account = MatrixAccount(homeserver.url, user, PASSWORD, "")
    sara = await people("sara")
    room = await sara.create_group_room(user)

    async def wrong(name: str) -> str:
        return "\n".join((await problems(account, store, name))[0])

    assert "no room has this alias (404 M_NOT_FOUND)" in await wrong("#nowhere:wheels.test")
    assert "cannot be looked up now" in await wrong("#workshop:far.test")
    assert "is far.test its server?" in await wrong("#workshop:far.test")
    assert "the bot is in no such room; check the id, and invite the bot" in await wrong("!nowhere:wheels.test")
    assert "the bot is in no such room" in await wrong(room), "it is only invited"
    store.close()
