"""A real PostgreSQL with PostGIS in a folder of its own, reached over a Unix socket only."""

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

PASSWORD = "trunk & bough: 15 %"  # noqa: S105 - of a server that lives for one test run
ADMIN = "keeper"
SERVER_ACCOUNT = "postgres"
TEMPLATE = "with_postgis"


def programs() -> Path | None:
    """Folder of the newest PostgreSQL of Debian that has PostGIS; None without one."""
    for folder in sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True):
        version = folder.parent.name
        control = Path(f"/usr/share/postgresql/{version}/extension/postgis.control")
        if (folder / "initdb").exists() and control.exists():
            return folder
    return None


@dataclass(frozen=True)
class Server:
    """A running server: folder of its socket, and its programs."""

    socket: Path
    programs: Path

    def address(self, database: str, user: str = ADMIN) -> str:
        return f"postgresql://{user}@/{database}?host={self.socket}"

    def sql(self, database: str, statements: str, user: str = ADMIN) -> str:
        command = [str(self.programs / "psql"), "-X", "-q", "-t", "-A", "-v", "ON_ERROR_STOP=1"]
        done = subprocess.run(
            [*command, "-h", str(self.socket), "-U", user, "-d", database],
            input=statements,
            env=os.environ | {"PGPASSWORD": PASSWORD},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout.strip()


@contextmanager
def running(folder: Path) -> Iterator[Server]:
    """Start a server from nothing, and stop and remove it at the end."""
    home = Path(tempfile.mkdtemp(prefix="pg-"))  # short: a socket's path has 107 bytes at most
    (home / "password").write_text(PASSWORD)
    as_account: list[str] = []
    if os.geteuid() == 0:  # PostgreSQL refuses to run as root
        account = pwd.getpwnam(SERVER_ACCOUNT)
        for path in (home, home / "password"):
            os.chown(path, account.pw_uid, account.pw_gid)
        as_account = ["runuser", "-u", SERVER_ACCOUNT, "--"]

    def run(program: str, *arguments: str) -> None:
        done = subprocess.run(
            [*as_account, str(folder / program), *arguments],
            cwd=home,
            stdout=subprocess.DEVNULL,  # a pipe would stay open as long as the server runs
            stderr=subprocess.DEVNULL,
            check=False,
        )
        log = home / "log"
        assert done.returncode == 0, log.read_text() if log.exists() else program

    data = str(home / "data")
    login = ("-U", ADMIN, f"--pwfile={home / 'password'}", "-A", "scram-sha-256")
    run("initdb", "-D", data, *login, "--encoding=UTF8", "--locale=C.UTF-8", "--no-sync")
    options = f"-c listen_addresses='' -c unix_socket_directories={home} -c fsync=off"
    run("pg_ctl", "-D", data, "-w", "-l", str(home / "log"), "-o", options, "start")
    try:
        server = Server(home, folder)
        server.sql("postgres", f"CREATE DATABASE {TEMPLATE}")
        server.sql(TEMPLATE, "CREATE EXTENSION postgis")
        yield server
    finally:
        run("pg_ctl", "-D", data, "-m", "immediate", "stop")
        shutil.rmtree(home, ignore_errors=True)
