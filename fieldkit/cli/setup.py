"""``fieldkit setup``: what a server that stands needs, as files for systemd and for Caddy.

Nothing of the machine is changed: files are written, and the commands to put them in place printed.
"""

from __future__ import annotations

import re
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path

import click

from fieldkit.cli.common import Stop

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

    @property
    def home(self) -> Path:
        """The service's own folder."""
        return Path("/var/lib", self.service)

    @property
    def log(self) -> Path:
        """The company's file."""
        return self.home / "fieldkit.db"

    @property
    def url(self) -> str:
        """Where phones reach it."""
        return f"https://{self.name}"


def read_standing(name: str, service: str, port: int, program: Path, tls: str) -> Standing:
    """The server that is meant.

    Raises
    ------
    Stop
        The name is no host's, or the service's name none of systemd's.
    """
    if not _HOST_NAME.fullmatch(name.lower()):
        raise Stop(f"{name!r} is no host's name. Give it alone, such as crew.example.net.")
    if not _SERVICE.fullmatch(service):
        raise Stop(
            f"{service!r} is no service's name. Give small letters, digits and hyphens, such as"
            " fieldkit-blue."
        )
    return Standing(name.lower(), service, port, program, tls)


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


#: What the service may do: read the machine, write its own folder, speak to the network.
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


def unit(one: Standing) -> str:
    """The systemd unit of the server."""
    command = [one.program, "serve", "--port", one.port, "--db", one.log, "--public-url", one.url]
    return f"""\
[Unit]
Description=fieldkit for {one.name}
After=network-online.target
Wants=network-online.target

[Service]
User={one.service}
StateDirectory={one.service}
StateDirectoryMode=0700
Environment=HOME={one.home}
ExecStart={" ".join(map(word, command))}
Restart=on-failure
RestartSec=5
{_SHUT_IN}
[Install]
WantedBy=multi-user.target
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
    return {f"{one.service}.service": unit(one), "Caddyfile": caddy_file(one)}


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
@click.option("--replace", is_flag=True, help="Write over files of these names.")
def setup_command(
    *, name: str, out: Path, service: str, port: int, tls: str, replace: bool
) -> None:
    """Write the files of a server that stands, reached as https://NAME.

    A systemd unit, and a Caddy file that gives it HTTPS. The lines for nginx are printed, and the
    commands that put all in place; nothing of this machine is changed.
    """
    one = read_standing(name, service, port, this_program(), tls)
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
    if closed := _closed_to_others(one.program):
        click.echo(
            f"Caution: {closed} is closed to others, so the user {one.service} cannot run"
            f" {one.program}. Install fieldkit in /opt/fieldkit and call this from there.",
            err=True,
        )


def _closed_to_others(program: Path) -> Path | None:
    """The first folder on the way to a program that only its owner may pass."""
    for folder in reversed(program.resolve().parents):
        if folder.is_dir() and not folder.stat().st_mode & 0o001:
            return folder
    return None


def _next(one: Standing, out: Path) -> str:
    """What to do with the files."""
    as_it = f"sudo -u {one.service} {one.program}"
    return f"""
Then, on the machine that serves:
  sudo useradd --system --home-dir {one.home} --shell /usr/sbin/nologin {one.service}
  sudo cp {out}/{one.service}.service /etc/systemd/system/
  sudo systemctl enable --now {one.service}
  sudo cp {out}/Caddyfile /etc/caddy/ && sudo systemctl reload caddy
The first lead, and an invitation:
  {as_it} people add-lead NAME --db {one.log}
  {as_it} people invite NAME --db {one.log}
"""
