"""The bot's login: one account, one device, kept over restarts.

- Everything is in one folder (`matrix` in the data folder) that only this user may enter; the login is encrypted.
- The device id is chosen and kept before the first login, so that a login which is cut off leaves no second device.
- With an access token, the bot never uses the password. With a password, it asks for a token once; again only when the
  server took that token back and the bot is started again, or on a soft logout.
"""

import json
import os
import secrets
import stat
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from triagebot.channels.matrix.http import Denied, HttpClient, MatrixRefused, path_of
from triagebot.store import errors
from triagebot.store.encryption import Cipher, DecryptionError
from triagebot.store.whole_file import write_whole

FOLDER = "matrix"
SESSION = "session"
#: What the device is called in the account's list.
DEVICE_NAME = "triagebot"

_FOLDER_MODE, _FILE_MODE = 0o700, 0o600
_OTHERS = stat.S_IRWXG | stat.S_IRWXO

_OPEN_TO_OTHERS = (
    "can be read by others, and holds the keys of the Matrix account; take that right away: chmod {mode} {path}"
)
_NOT_OURS = (
    "cannot be opened with the present key; put the right key file back, or move this folder away: "
    "the bot then logs in as a new device"
)


@dataclass(frozen=True, slots=True)
class Login:
    """`token` is empty before the first login. `master` and `signing` are the account's private cross-signing keys
    (base64); `cross_signed` once the server took them."""

    user: str
    device: str
    token: str = ""
    master: str = ""
    signing: str = ""
    cross_signed: bool = False


class AccountFolder:
    """The folder of login and keys. Raises StoreError when it cannot be used, or others can read it."""

    def __init__(self, data: Path, cipher: Cipher) -> None:
        self.path = data / FOLDER
        self.cipher = cipher
        try:
            self.path.mkdir(mode=_FOLDER_MODE, parents=True, exist_ok=True)
            self.check(self.path, "700")
            for each in self.path.iterdir():
                self.check(each, "600")
        except OSError as error:
            raise errors.system_fault(self.path, error) from error

    @staticmethod
    def check(path: Path, mode: str) -> None:
        if stat.S_IMODE(path.stat().st_mode) & _OTHERS:
            raise errors.fault(path, _OPEN_TO_OTHERS.format(mode=mode, path=path))

    def private(self, name: str) -> Path:
        """A file that only this user can read, made empty if it is missing: SQLite would let everybody read it."""
        path = self.path / name
        try:
            os.close(os.open(path, os.O_CREAT | os.O_RDWR, _FILE_MODE))
        except OSError as error:
            raise errors.system_fault(path, error) from error
        return path

    def read(self) -> Login | None:
        path = self.path / SESSION
        try:
            kept = json.loads(self.cipher.decrypt(path.read_text(encoding="ascii")))
            kept["cross_signed"] = kept.pop("vouched", False) or kept.get("cross_signed", False)  # its older name
            return Login(**kept)
        except FileNotFoundError:
            return None
        except OSError as error:
            raise errors.system_fault(path, error) from error
        except (DecryptionError, ValueError, TypeError):
            raise errors.fault(path, _NOT_OURS) from None

    def write(self, login: Login) -> None:
        """Whole or not at all, and on the disk when this returns."""
        path = self.path / SESSION
        try:
            write_whole(path, self.cipher.encrypt(json.dumps(asdict(login))).encode("ascii"))
        except OSError as error:
            raise errors.system_fault(path, error) from error


def reencrypt_session(data: Path, cipher: Cipher) -> int:
    """Encrypts the login with the first key; gives 1, or 0 where there is none. One that no key decrypts stays, and is
    told of at the next start. Raises OSError."""
    path = data / FOLDER / SESSION
    with suppress(FileNotFoundError, DecryptionError, UnicodeDecodeError):
        write_whole(path, cipher.reencrypt(path.read_text(encoding="ascii")).encode("ascii"))
        return 1
    return 0


async def ensure_login(
    http: HttpClient, folder: AccountFolder, user: str, password: str = "", token: str = ""
) -> Login:
    """The login to use, on the disk; `http` sends its token from now on.

    `user` is a whole user id, or its first part. Raises MatrixRefused, MatrixAway, StoreError.
    """
    kept = folder.read()
    if kept is not None and not same(kept.user, user) and not (kept.token or kept.master):
        kept = None  # nobody ever got in with that one
    if kept is not None and not same(kept.user, user):
        raise MatrixRefused(
            f"matrix: {folder.path} holds the login of {kept.user}, the settings name {user}; "
            "move that folder away if the bot has another account now"
        )
    if token:
        return await _with_token(http, folder, kept, user, token)
    if kept is not None and kept.token:
        http.token = kept.token
        try:
            await http.request("GET", path_of("account", "whoami"))
            return kept
        except Denied as error:
            if not error.logged_out:
                raise _refused(error) from None
    if not password:
        raise MatrixRefused(f"matrix: {user} is not logged in (any more); give its password, or an access token")
    return await log_in(http, folder, kept or Login(user, fresh_device()), password)


async def log_in(http: HttpClient, folder: AccountFolder, login: Login, password: str) -> Login:
    """The same device with a new token. Raises MatrixRefused, MatrixAway, StoreError."""
    folder.write(replace(login, token=""))
    http.token = ""
    wanted = {
        "type": "m.login.password",
        "identifier": {"type": "m.id.user", "user": login.user},
        "password": password,
        "device_id": login.device,
        "initial_device_display_name": DEVICE_NAME,
    }
    try:
        given = await http.request("POST", path_of("login"), wanted)
    except Denied as error:
        if error.code == "M_FORBIDDEN":
            raise MatrixRefused(f"matrix: the homeserver does not accept this password for {login.user}") from None
        raise _refused(error) from None
    made = replace(login, user=str(given["user_id"]), device=str(given["device_id"]), token=str(given["access_token"]))
    folder.write(made)
    http.token = made.token
    return made


async def _with_token(http: HttpClient, folder: AccountFolder, kept: Login | None, user: str, token: str) -> Login:
    http.token = token
    try:
        given = await http.request("GET", path_of("account", "whoami"))
    except Denied as error:
        if error.logged_out:
            raise MatrixRefused("matrix: the homeserver does not accept the access token; give a present one") from None
        raise _refused(error) from None
    whose, device = str(given.get("user_id", "")), str(given.get("device_id") or "")
    if not same(whose, user):
        raise MatrixRefused(f"matrix: the access token is that of {whose}, the settings name {user}")
    if not device:
        raise MatrixRefused("matrix: the access token belongs to no device; make one by logging in as the bot")
    login = replace(kept or Login(whose, device), user=whose, device=device, token=token)
    if login != kept:
        folder.write(login)
    return login


def same(whole: str, named: str) -> bool:
    """Whether the settings name this account, in whole or by its first part."""
    return whole == named or whole.removeprefix("@").partition(":")[0] == named.removeprefix("@")


def fresh_device() -> str:
    return f"TRIAGEBOT{secrets.token_hex(4).upper()}"


def _refused(error: Denied) -> MatrixRefused:
    told = {
        "M_USER_DEACTIVATED": "the account is deactivated",
        "M_USER_LOCKED": "the account is locked",
        "M_UNRECOGNIZED": "there is no homeserver at this address, or one that is too old",
        "M_NOT_FOUND": "there is no homeserver at this address, or one that is too old",
    }.get(error.code, f"the homeserver refuses the login ({error})")
    return MatrixRefused(f"matrix: {told}")
