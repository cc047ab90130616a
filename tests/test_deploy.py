"""The files in deploy/ that other programs read: units, container, proxies. Each is tried by that program where it is
installed; what is said of them is looked at everywhere."""

import json
import re
import shutil
import subprocess
from configparser import RawConfigParser
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import yaml
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from triagebot.credentials import open_to_others
from triagebot.delivery.image_cleaning import MOST_BYTES
from triagebot.errors import SettingsError, StoreError
from triagebot.settings import Settings
from triagebot.settings.values import secret_in
from triagebot.store.key_file import read_keys

DEPLOY = Path(__file__).parents[1] / "deploy"
PROGRAM = "/opt/triagebot/.venv/bin/triagebot"
SERVICES = ("triagebot.service", "triagebot-backup.service")


def tried(program: str, *arguments: str | Path) -> str:
    """What a program says of a file of ours, which it takes."""
    found = shutil.which(program) or shutil.which(f"/usr/sbin/{program}")
    if found is None:
        pytest.skip(f"{program} is not installed, so nothing was tried with it")
    done = subprocess.run([found, *map(str, arguments)], capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 0, done.stderr
    return done.stdout + done.stderr


class _Unit(dict[str, list[str]]):
    """What a unit sets, each name with all its values."""

    def __init__(self, name: str) -> None:
        super().__init__()
        text = (DEPLOY / "systemd" / name).read_text("utf-8")
        for key, value in re.findall(r"^([A-Za-z]+)=(.*)$", text, re.MULTILINE):
            self.setdefault(key, []).append(value)


def test_the_units_can_be_read_by_systemd(tmp_path: Path) -> None:
    for unit in (DEPLOY / "systemd").iterdir():
        text = unit.read_text("utf-8")
        (tmp_path / unit.name).write_text(text.replace(PROGRAM, "/bin/true"), "utf-8")  # it is not installed there
    said = tried("systemd-analyze", "verify", "--man=no", *sorted(tmp_path.iterdir()))
    assert "triagebot" not in said, said


@pytest.mark.parametrize("name", SERVICES)
def test_services_have_a_user_of_their_own_and_may_do_little(name: str) -> None:
    unit = _Unit(name)
    assert unit["User"] == ["triagebot"]
    assert unit["ExecStart"][0].startswith(f"{PROGRAM} ")
    assert unit["LoadCredential"] == ["key:/etc/triagebot/key"]
    for key, value in (("NoNewPrivileges", "yes"), ("ProtectSystem", "strict"), ("CapabilityBoundingSet", "")):
        assert unit[key] == [value]
    named = {line.partition("=")[0] for line in unit["Environment"]}
    assert named <= {f"TRIAGEBOT_{setting.upper()}" for setting in Settings.model_fields}


def test_the_bot_is_restarted_and_has_files_enough() -> None:
    unit = _Unit("triagebot.service")
    assert unit["Restart"] == ["always"]
    assert int(unit["LimitNOFILE"][0]) >= 65536
    assert "HUP" in unit["ExecReload"][0]
    timer = RawConfigParser(strict=False)
    timer.read(DEPLOY / "systemd" / "triagebot-backup.timer")
    assert timer.get("Timer", "Persistent") == "true"


def test_a_secret_that_the_service_manager_hands_over_may_be_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As it comes where access lists are used: the rights of the service show as those of the group."""
    secret = tmp_path / "key"
    secret.write_text("2" * 43 + "=\n", "ascii")
    secret.chmod(0o440)
    with pytest.raises(SettingsError):
        secret_in(secret)
    with pytest.raises(StoreError):
        read_keys(secret, tmp_path / "data")
    monkeypatch.setenv("CREDENTIALS_DIRECTORY", str(tmp_path))
    assert secret_in(secret)
    assert len(read_keys(secret, tmp_path / "data")) == 1
    for mode in (0o444, 0o460):
        assert open_to_others(secret, mode)
    assert open_to_others(tmp_path / "elsewhere" / "key", 0o440)


def test_a_key_made_as_the_page_says_is_one(tmp_path: Path) -> None:
    line = next(line for line in (DEPLOY / "live.md").read_text("utf-8").splitlines() if "/dev/urandom" in line)
    made = line.split("umask 077; ")[1].partition(" > ")[0]
    key = tmp_path / "key"
    key.write_bytes(subprocess.run(["sh", "-c", made], capture_output=True, check=True).stdout)
    key.chmod(0o600)
    assert len(read_keys(key, tmp_path / "data")) == 1


# --- the container ------------------------------------------------------------------------------------------------


def test_the_container_has_a_user_of_its_own_and_a_health_check() -> None:
    text = (DEPLOY / "Dockerfile").read_text("utf-8").replace("\\\n", " ")
    steps = [line.split(maxsplit=1) for line in text.splitlines() if re.match(r"[A-Z]+ ", line)]
    last = {name: rest for name, rest in steps}  # noqa: C416 - the later one counts
    assert int(last["USER"].split(":")[0]) > 0
    assert json.loads(last["CMD"]) == ["serve"]
    check = json.loads(last["HEALTHCHECK"].partition("CMD ")[2])
    assert check[:2] == ["python", "-c"]
    compile(check[2], "health check", "exec")
    assert f"127.0.0.1:{Settings.model_fields['web_port'].default}/health" in check[2]
    assert "--require-hashes -r /source/deploy/requirements.txt" in text
    for name, rest in steps:
        if name == "COPY" and "--from" not in rest:
            for path in rest.split()[:-1]:
                assert (DEPLOY.parent / path).exists(), path


def test_the_composition_writes_nowhere_but_in_its_volumes() -> None:
    made = yaml.safe_load((DEPLOY / "compose.yaml").read_text("utf-8"))
    service = made["services"]["triagebot"]
    assert service["read_only"] is True
    assert service["cap_drop"] == ["ALL"]
    assert service["security_opt"] == ["no-new-privileges:true"]
    assert all(port.startswith("127.0.0.1:") for port in service["ports"])
    assert {volume.partition(":")[0] for volume in service["volumes"]} == set(made["volumes"])
    assert set(service["secrets"]) <= set(made["secrets"])
    named = {name for name in service["environment"] if name.startswith("TRIAGEBOT_")}
    assert named <= {f"TRIAGEBOT_{setting.upper()}" for setting in Settings.model_fields}


def test_the_composition_with_postgresql_has_two_processes_that_share_a_database_and_nothing_else() -> None:
    made = yaml.safe_load((DEPLOY / "compose.postgresql.yaml").read_text("utf-8"))
    alone = yaml.safe_load((DEPLOY / "compose.yaml").read_text("utf-8"))["services"]["triagebot"]
    first, second, database = (made["services"][name] for name in ("first", "second", "database"))
    for name in ("init", "read_only", "tmpfs", "cap_drop", "security_opt", "restart", "ulimits"):
        assert first[name] == second[name] == alone[name], name
    assert not set(first["volumes"]) & set(second["volumes"])
    assert not set(first["ports"]) & set(second["ports"])
    assert "ports" not in database
    assert {v.partition(":")[0] for each in made["services"].values() for v in each["volumes"]} == set(made["volumes"])
    assert {secret for each in made["services"].values() for secret in each["secrets"]} == set(made["secrets"])
    named = {name for name in first["environment"] if name.startswith("TRIAGEBOT_")}
    assert named <= {f"TRIAGEBOT_{setting.upper()}" for setting in Settings.model_fields}
    user, base = database["environment"]["POSTGRES_USER"], database["environment"]["POSTGRES_DB"]
    assert first["environment"]["TRIAGEBOT_DATABASE"] == f"postgresql://{user}@database/{base}"


def test_the_driver_in_the_container_is_the_one_that_is_tried() -> None:
    def pinned(file: str) -> dict[str, str]:
        rows = re.findall(r"^(psycopg[\w-]*)==(\S+)", (DEPLOY.parent / file).read_text("utf-8"), re.MULTILINE)
        return dict(rows)

    assert pinned("deploy/requirements-postgresql.txt") == pinned("tests/requirements.txt") != {}


# --- the proxies --------------------------------------------------------------------------------------------------


def certificate(folder: Path) -> tuple[Path, Path]:
    """One of our own for a name that nobody has, and its key."""
    key = ec.generate_private_key(ec.SECP256R1())
    name, now = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "bot.example.org")]), datetime.now(UTC)
    made = x509.CertificateBuilder().subject_name(name).issuer_name(name).public_key(key.public_key())
    made = made.serial_number(1).not_valid_before(now).not_valid_after(now + timedelta(days=1))
    files = folder / "fullchain.pem", folder / "privkey.pem"
    files[0].write_bytes(made.sign(key, hashes.SHA256()).public_bytes(serialization.Encoding.PEM))
    private = serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    files[1].write_bytes(key.private_bytes(serialization.Encoding.PEM, *private))
    return files


def test_nginx_takes_its_file(tmp_path: Path) -> None:
    certificate(tmp_path)
    site = (DEPLOY / "proxy" / "nginx.conf").read_text("utf-8").replace("/etc/ssl/bot.example.org", str(tmp_path))
    whole = tmp_path / "whole.conf"
    whole.write_text(
        f"pid {tmp_path}/pid; error_log stderr; events {{}} http {{ access_log off; {site} }}", encoding="utf-8"
    )
    assert "test is successful" in tried("nginx", "-t", "-c", whole, "-p", tmp_path)


def test_caddy_takes_its_file() -> None:
    said = tried("caddy", "validate", "--adapter", "caddyfile", "--config", DEPLOY / "proxy" / "Caddyfile")
    assert "Valid configuration" in said


def test_the_proxies_let_the_largest_photo_through_and_pass_on_no_forged_header() -> None:
    nginx = (DEPLOY / "proxy" / "nginx.conf").read_text("utf-8")
    caddy = (DEPLOY / "proxy" / "Caddyfile").read_text("utf-8")
    for most in (re.search(r"client_max_body_size (\d+)m;", nginx), re.search(r"max_size (\d+)MiB", caddy)):
        assert most is not None
        assert int(most[1]) * 1024 * 1024 > MOST_BYTES + 16 * 1024
    assert "proxy_set_header X-Forwarded-For $remote_addr;" in nginx
    assert "proxy_set_header X-Forwarded-Proto $scheme;" in nginx
    assert "trusted_proxies" not in caddy  # without it, what a visitor sends under these names is dropped
