"""``fieldkit setup``: what a server that stands needs, as files for systemd and for Caddy.

Nothing of the machine is changed: files are written, and the commands to put them in place printed.
"""

from __future__ import annotations

import re
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from fieldkit.cli.common import Stop
from fieldkit.cli.copies import read_keep

#: One or more labels of letters, digits and inner hyphens, as DNS and certificates have them.
_HOST_NAME = re.compile(
    r"(?=.{1,253}$)[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?(\.[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?)*"
)
_SERVICE = re.compile(r"[a-z][a-z0-9-]{0,30}")

#: What a server in front passes on at most: as much as ours takes in. [MB]
_LARGEST_MB = 64
#: Requests that one address may have under way at once; a crew may sit behind one.
_OF_ONE_ADDRESS = 100


@dataclass(frozen=True, slots=True)
class Standing:
    """One company's server on a host: its name in the world, its service, and where it answers."""

    name: str
    service: str
    port: int
    program: Path
    tls: str = "public"
    backups: Path | None = None
    keep: str = "7d4w12m"
    encrypt_to: tuple[str, ...] = ()

    @property
    def home(self) -> Path:
        """The service's own folder."""
        return Path("/var/lib", self.service)

    @property
    def log(self) -> Path:
        """The company's file."""
        return self.home / "fieldkit.db"

    @property
    def copies(self) -> Path:
        """The folder of its backups."""
        return self.backups or self.home / "backups"

    @property
    def url(self) -> str:
        """Where phones reach it."""
        return f"https://{self.name}"


def checked(one: Standing) -> Standing:
    """The server that is meant, if it can be.

    Raises
    ------
    Stop
        The name is no host's, or the service's name none of systemd's.
    """
    if not _HOST_NAME.fullmatch(one.name):
        raise Stop(f"{one.name!r} is no host's name. Give it alone, such as crew.example.net.")
    if not _SERVICE.fullmatch(one.service):
        raise Stop(
            f"{one.service!r} is no service's name. Give small letters, digits and hyphens, such as"
            " fieldkit-blue."
        )
    if not one.copies.is_absolute():
        raise Stop("Give --backups as a whole path, from / on.")
    if not all(key.isprintable() for key in (str(one.copies), *one.encrypt_to)):
        raise Stop("A path or key has a character in it that nobody can see. Type it anew.")
    return one


def this_program() -> Path:
    """The ``fieldkit`` that is running, as a service is to run it."""
    beside = shutil.which("fieldkit", path=str(Path(sys.executable).parent))
    return Path(beside or shutil.which("fieldkit") or sys.argv[0]).absolute()


def word(text: object) -> str:
    """A word of a systemd command: quoted, and with nothing that systemd would replace.

    Examples
    --------
    >>> word("/opt/my tools/100%")
    '"/opt/my tools/100%%"'
    >>> word("/opt/fieldkit")
    '/opt/fieldkit'
    """
    plain = str(text).replace("\\", "\\\\").replace("%", "%%").replace("$", "$$")
    if re.search(r"[\s\"';]", plain):
        plain = '"' + plain.replace('"', '\\"') + '"'
    return plain


#: What the services may do: read the machine, write their own folders, speak to the network.
_SHUT_IN = """\
UMask=0077
NoNewPrivileges=yes
CapabilityBoundingSet=
ProtectSystem=strict
ProtectHome=read-only
ProtectControlGroups=yes
ProtectKernelModules=yes
ProtectKernelTunables=yes
PrivateDevices=yes
PrivateTmp=yes
RestrictAddressFamilies=AF_INET AF_INET6 AF_UNIX
RestrictSUIDSGID=yes
LockPersonality=yes
SystemCallArchitectures=native
"""


def _service(one: Standing, kind: str, *commands: list[object], writes: str = "") -> str:
    """The part of a unit that says what is run, as whom, and what it may do."""
    runs = "\n".join(f"ExecStart={' '.join(map(word, [one.program, *of]))}" for of in commands)
    own = f"{one.service} {one.service}/backups" if one.backups is None else one.service
    return f"""\
[Service]
Type={kind}
User={one.service}
StateDirectory={own}
StateDirectoryMode=0700
Environment=HOME={one.home} TMPDIR=/var/tmp
{runs}
{writes}{_SHUT_IN}"""


def unit(one: Standing) -> str:
    """The systemd unit of the server."""
    serve = ["serve", "--port", one.port, "--db", one.log, "--public-url", one.url]
    return f"""\
[Unit]
Description=fieldkit for {one.name}
After=network-online.target
Wants=network-online.target

{_service(one, "exec", serve)}Restart=on-failure
RestartSec=5

[Install]
WantedBy=multi-user.target
"""


def nightly(one: Standing) -> str:
    """The unit of what is done each night: a backup, a look through the log, a drill.

    Of an encrypted copy the drill needs the key, which has no business on the server.
    """
    db = ["--db", one.log]
    to = [word for key in one.encrypt_to for word in ("--encrypt-to", key)]
    commands = [["backup", one.copies, "--keep", one.keep, *to, *db], ["verify", *db]]
    if not to:
        commands.append(["drill", one.copies, *db])
    # A disk that is not there is for the backup to say.
    writes = f"ReadWritePaths=-{word(one.backups)}\n" if one.backups is not None else ""
    return f"""\
[Unit]
Description=Nightly backup of fieldkit for {one.name}

{_service(one, "oneshot", *commands, writes=writes)}Nice=15
"""


def timer(one: Standing) -> str:
    """When that is done; a machine that was off makes up for it."""
    return f"""\
[Unit]
Description=Each night: backup of fieldkit for {one.name}

[Timer]
OnCalendar=*-*-* 02:30
RandomizedDelaySec=30min
Persistent=true

[Install]
WantedBy=timers.target
"""


def caddy_file(one: Standing) -> str:
    """The Caddy file: HTTPS with its certificate, and each request passed on with who asks.

    Caddy writes ``X-Forwarded-For`` and ``-Proto`` itself and keeps ``Host`` as it was asked for.
    A kept connection to our server is let go before that lets go of it.
    """
    certificate = "\n\ttls internal" if one.tls == "internal" else ""
    return f"""\
{{
	servers {{
		timeouts {{
			read_header 15s
			read_body 10m
			idle 30s
		}}
		max_header_size 16KB
	}}
}}

{one.name} {{{certificate}
	request_body {{
		max_size {_LARGEST_MB}MB
	}}
	reverse_proxy 127.0.0.1:{one.port} {{
		transport http {{
			keepalive 20s
		}}
	}}
}}
"""


def nginx_lines(one: Standing) -> str:
    """The same for nginx, which wants its certificate from elsewhere."""
    return f"""\
limit_conn_zone $binary_remote_addr zone={one.service}:10m;
server {{
    listen 80;
    server_name {one.name};
    return 301 {one.url}$request_uri;
}}
server {{
    listen 443 ssl http2;
    server_name {one.name};
    ssl_certificate /etc/ssl/{one.name}.pem;
    ssl_certificate_key /etc/ssl/{one.name}.key;
    client_header_timeout 15s;
    client_body_timeout 15s;
    keepalive_timeout 30s;
    client_max_body_size {_LARGEST_MB}m;
    limit_conn {one.service} {_OF_ONE_ADDRESS};
    location / {{
        proxy_pass http://127.0.0.1:{one.port};
        proxy_set_header Host $host;
        proxy_set_header X-Forwarded-For $remote_addr;
        proxy_set_header X-Forwarded-Proto $scheme;
        proxy_read_timeout 120s;
    }}
}}
"""


def files(one: Standing) -> dict[str, str]:
    """Every file that is written: name → text."""
    return {
        f"{one.service}.service": unit(one),
        f"{one.service}-nightly.service": nightly(one),
        f"{one.service}-nightly.timer": timer(one),
        "Caddyfile": caddy_file(one),
    }


@click.command("setup")
@click.argument("name")
@click.option("--out", default=".", show_default=True, help="The folder to write the files to.",
              type=click.Path(file_okay=False, path_type=Path))  # fmt: skip
@click.option("--service", default="fieldkit", show_default=True,
              help="Names the service, its user and its folder: one for each company.")  # fmt: skip
@click.option("--port", default=8080, show_default=True, type=click.IntRange(1, 65535),
              help="Where the server answers on this machine.")  # fmt: skip
@click.option("--tls", default="public", show_default=True,
              type=click.Choice(["public", "internal"]),
              help="internal: a certificate of Caddy's own, to be trusted.")  # fmt: skip
@click.option("--backups", type=click.Path(file_okay=False, path_type=Path),
              help="The folder of nightly backups; best on another disk.")  # fmt: skip
@click.option("--keep", default="7d4w12m", show_default=True, callback=read_keep,
              help="Which backups stay: the last of so many days, weeks, months.")  # fmt: skip
@click.option("--encrypt-to", multiple=True, metavar="KEY",
              help="Encrypt backups to a public key of age.")  # fmt: skip
@click.option("--replace", is_flag=True, help="Write over files of these names.")
def setup_command(*, name: str, out: Path, replace: bool, **given: Any) -> None:
    """Write the files of a server that stands at https://NAME.

    A systemd unit, one for the nightly backup with its timer, and a Caddy file that gives it
    HTTPS. The lines for nginx are printed, and the commands that put all in place; nothing of
    this machine is changed.
    """
    one = checked(Standing(name.lower(), program=this_program(), **given))
    made = files(one)
    there = [file for file in made if (out / file).exists()]
    if there and not replace:
        raise Stop(
            f"There already: {', '.join(there)} in {out}. Name another folder with --out, or give"
            " --replace."
        )
    out.mkdir(parents=True, exist_ok=True)
    for file, text in made.items():
        (out / file).write_text(text, encoding="utf-8")
        click.echo(f"Written: {out / file}")
    click.echo(_next(one, out))
    click.echo(f"With nginx in place of Caddy, these lines:\n\n{nginx_lines(one)}")
    if closed := _closed_to_others(one.program, Path(sys.executable)):
        click.echo(
            f"Caution: {closed} is closed to others, so the user {one.service} cannot run"
            f" {one.program}. Install fieldkit in /opt/fieldkit with the system's own Python, and"
            " call this from there.",
            err=True,
        )


def _closed_to_others(*programs: Path) -> Path | None:
    """The first folder on the way to a program that only its owner may pass."""
    for one in programs:
        for folder in (*reversed(one.parents), *reversed(one.resolve().parents)):
            if folder.is_dir() and not folder.stat().st_mode & 0o001:
                return folder
    return None


def _next(one: Standing, out: Path) -> str:
    """What to do with the files."""
    as_it = f"sudo -u {one.service} {one.program}"
    return f"""
Then, on the machine that serves:
  sudo useradd --system --home-dir {one.home} --shell /usr/sbin/nologin {one.service}
  sudo cp {out}/{one.service}*.service {out}/{one.service}*.timer /etc/systemd/system/
  sudo systemctl enable --now {one.service} {one.service}-nightly.timer
  sudo cp {out}/Caddyfile /etc/caddy/ && sudo systemctl reload caddy
The first lead, and an invitation:
  {as_it} people add-lead NAME --db {one.log}
  {as_it} people invite NAME --db {one.log}
"""
