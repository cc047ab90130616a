"""The settings of a chain: what each branch has, what is for all, and what is said when something is wrong."""

from collections.abc import Callable
from pathlib import Path

import pytest

from triagebot.errors import SettingsError
from triagebot.settings import Branch, clashes, load_branches

TOKEN = f"123456789:{'A' * 35}"
Adds = Callable[..., Path]


@pytest.fixture
def shops(tmp_path: Path) -> Path:
    folder = tmp_path / "shops"
    folder.mkdir()
    return folder


@pytest.fixture
def add(shops: Path) -> Adds:
    """Adds a branch with a settings file of these lines."""

    def branch(name: str, *lines: str) -> Path:
        (shops / name).mkdir()
        if lines:
            (shops / name / "settings.toml").write_text("\n".join(lines), encoding="utf-8")
        return shops / name

    return branch


@pytest.fixture
def environment(shops: Path, tmp_path: Path) -> dict[str, str]:
    return {
        "TRIAGEBOT_SETTINGS": "/dev/null",
        "TRIAGEBOT_SHOPS": str(shops),
        "TRIAGEBOT_DATA_FOLDER": str(tmp_path / "data"),
        "TRIAGEBOT_KEY_FILE": str(tmp_path / "triagebot.key"),
    }


def token_file(path: Path, token: str = TOKEN) -> Path:
    path.touch(mode=0o600)
    path.write_text(token, encoding="ascii")
    return path


def problems(environment: dict[str, str], **told: object) -> list[str]:
    with pytest.raises(SettingsError) as caught:
        load_branches(environment, told)
    return str(caught.value).splitlines()


def test_without_the_setting_there_is_one_shop_without_a_name(environment: dict[str, str], tmp_path: Path) -> None:
    del environment["TRIAGEBOT_SHOPS"]
    (only,) = load_branches(environment)
    assert (only.name, only.settings.data_folder) == ("", tmp_path / "data")


def test_each_branch_has_a_folder_a_key_and_an_address_of_its_own(
    environment: dict[str, str], add: Adds, tmp_path: Path
) -> None:
    for name in ("north", "high-street", ".git"):
        add(name)
    (tmp_path / "shops" / "README.md").touch()
    found = {
        each.name: each.settings for each in load_branches(environment | {"TRIAGEBOT_WEB_ADDRESS": "https://x.org"})
    }
    assert list(found) == ["high-street", "north"]
    for name, settings in found.items():
        assert settings.shop == tmp_path / "shops" / name
        assert settings.data_folder == tmp_path / "data" / "branches" / name
        assert settings.key_file == tmp_path / f"triagebot.{name}.key"
        assert settings.web_address == f"https://x.org/b/{name}"


def test_a_branchs_own_settings_go_before_those_of_all(environment: dict[str, str], add: Adds, tmp_path: Path) -> None:
    add("north", 'language = "de"', 'telegram_token_file = "../../north"', "telegram_staff_room = -100")
    add("harbour")
    token_file(tmp_path / "north")
    environment |= {"TRIAGEBOT_LANGUAGE": "fr", "TRIAGEBOT_TELEGRAM_SERVER": "http://127.0.0.1:1"}
    harbour, north = (each.settings for each in load_branches(environment))
    assert (harbour.language, north.language) == ("fr", "de")
    assert (harbour.token_for_telegram(), north.token_for_telegram()) == (None, TOKEN)
    assert north.telegram_server == harbour.telegram_server == "http://127.0.0.1:1"
    assert [each.settings.language for each in load_branches(environment, {"language": "it"})] == ["it", "it"]


def test_secrets_may_be_credentials_of_the_service_manager(
    environment: dict[str, str], add: Adds, tmp_path: Path
) -> None:
    add("north")
    add("harbour", 'matrix_user = "@harbour:x.org"')
    credentials = tmp_path / "credentials"
    credentials.mkdir()
    token_file(credentials / "north.telegram-token")
    token_file(credentials / "harbour.matrix-password", "open sesame")
    environment |= {"CREDENTIALS_DIRECTORY": str(credentials), "TRIAGEBOT_MATRIX_SERVER": "https://x.org"}
    harbour, north = (each.settings for each in load_branches(environment))
    assert (harbour.token_for_telegram(), north.token_for_telegram()) == (None, TOKEN)
    account = harbour.account_for_matrix()
    assert account is not None
    assert (account.user, account.password) == ("@harbour:x.org", "open sesame")
    assert north.account_for_matrix() is None, "the server of all is no account of a branch"


def test_what_is_wrong_with_every_branch_is_said_at_once(environment: dict[str, str], add: Adds, shops: Path) -> None:
    add("North")
    add("harbour", "", '  langage = "de"', 'data_folder = "x"')
    add("old-town", "telegram_staff_room = true", f'telegram_token = "{TOKEN}"', 'telegram_webhook_secret = "x"')
    add("west", "language = de")
    environment |= {"TRIAGEBOT_TELEGRAM_TOKEN": TOKEN, "TRIAGEBOT_SHOP": str(shops)}
    said = problems(environment)
    assert said[:2] == [
        "TRIAGEBOT_TELEGRAM_TOKEN: telegram_token is each branch's own; set it in settings.toml in the branch's folder",
        "TRIAGEBOT_SHOP: shop and shops are both set; set shop where there is one shop, shops where there are branches",
    ]
    assert said[2].startswith(f"{shops}/North: a branch is called by a lowercase word")
    assert said[3:5] == [
        f"{shops}/harbour/settings.toml:3:1: data_folder is the same for all branches; set it where shops is set",
        f"{shops}/harbour/settings.toml:2:3: unknown setting langage; did you mean language?",
    ]
    assert said[5:7] == [
        f"{shops}/old-town/settings.toml:2:1: telegram_token is a secret; "
        "put it into a file of its own and name that with telegram_token_file",
        f"{shops}/old-town/settings.toml:3:1: telegram_webhook_secret is a secret; "
        "leave it out, and it is made from the token",
    ]
    assert said[7].startswith(f"{shops}/west/settings.toml:1:12: Invalid value")
    assert TOKEN not in "\n".join(said)


def test_a_folder_without_branches_is_no_chain(environment: dict[str, str], shops: Path) -> None:
    assert problems(environment) == [f"{shops}: holds no branch; put a shop's folder for each branch into it"]


def test_somebody_who_names_a_shop_means_that_one(environment: dict[str, str], add: Adds, tmp_path: Path) -> None:
    add("north")
    (only,) = load_branches(environment, {"shop": tmp_path})
    assert (only.name, only.settings.shop) == ("", tmp_path)
    (only,) = load_branches(
        {"TRIAGEBOT_SETTINGS": "/dev/null", "TRIAGEBOT_SHOP": str(tmp_path)}, {"shops": tmp_path / "shops"}
    )
    assert only.name == "north"


@pytest.mark.parametrize(
    ("line", "what"),
    [
        ("telegram_token_file = '../../token'", "Telegram bot"),
        ("telegram_staff_room = -100", "Telegram group"),
        ("telegram_webhook = 'https://x.org/hook'", "address for Telegram"),
        ("matrix_user = '@bot:x.org'", "Matrix account"),
        ("matrix_staff_room = '!room:x.org'", "Matrix room"),
    ],
)
def test_what_only_one_branch_can_have_is_refused_to_two(
    environment: dict[str, str], add: Adds, tmp_path: Path, line: str, what: str
) -> None:
    token_file(tmp_path / "token")
    add("north", line)
    add("harbour", line)
    add("west")
    (said,) = clashes(load_branches(environment))
    assert said.startswith(f"harbour and north: have the same {what}")
    assert TOKEN not in said
    assert clashes([Branch("west", load_branches(environment)[-1].settings)]) == []
