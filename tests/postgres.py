"""A throw-away PostgreSQL of this machine's own binaries, for tests and benches; no network, no password.

Debian's package ``postgresql`` puts them under /usr/lib/postgresql/VERSION/bin. The server refuses to run as
root, so under root it runs as the user that the package makes.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

USER = "postgres"


def binaries() -> Path | None:
    """The folder of initdb and pg_ctl, newest version; None if there is none."""
    on_path = shutil.which("initdb")
    if on_path:
        return Path(on_path).resolve().parent
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda p: int(p.parts[4]))
    return found[-1].parent if found else None


def need_postgres() -> Path:
    """The binaries, or a skipped test; with FACEMARK_TEST_ALL set, a failed one."""
    found = binaries()
    if found is None:
        reason = "no PostgreSQL on this machine (Debian: apt install postgresql)"
        if os.environ.get("FACEMARK_TEST_ALL"):
            pytest.fail(reason)
        pytest.skip(reason)
    return found


@contextmanager
def running_server(programs: Path, *, durable: bool = False) -> Iterator[str]:
    """Start a server of one's own; its address holds ``{}`` where the database's name goes.

    ``durable``: write to disk at each commit, as a real server does; tests that pull no plug need not.
    """
    with tempfile.TemporaryDirectory(prefix="fm-pg-") as name:
        folder, data = Path(name), Path(name) / "data"
        user = USER if os.geteuid() == 0 else None
        if user:
            shutil.chown(folder, user, user)

        def call(program: str, *arguments: str) -> None:
            subprocess.run(
                [programs / program, *arguments],
                check=True,
                user=user,
                group=user,
                cwd=folder,
                stdout=subprocess.DEVNULL,
                env={**os.environ, "LC_ALL": "C"},
            )

        call("initdb", "-D", str(data), "-U", USER, "--auth=trust", "--encoding=UTF8", "--no-sync")
        settings = f"-c listen_addresses='' -c unix_socket_directories='{folder}'"
        if not durable:
            settings += " -c fsync=off -c synchronous_commit=off -c full_page_writes=off"
        log = str(folder / "log")
        call("pg_ctl", "-D", str(data), "-o", settings, "-l", log, "-w", "start")
        try:
            yield f"postgresql://{USER}@/{{}}?host={folder}"
        finally:
            call("pg_ctl", "-D", str(data), "-m", "immediate", "-w", "stop")


def make_database(server: str, name: str) -> str:
    """A new, empty database; its address."""
    import psycopg

    with psycopg.connect(server.format("postgres"), autocommit=True) as connection:
        connection.execute(f'create database "{name}"')
    return server.format(name)


def make_schema(server: str, name: str) -> str:
    """An address whose tables live in a schema of their own: a hundred times cheaper than a database."""
    import psycopg

    with psycopg.connect(server.format("postgres"), autocommit=True) as connection:
        connection.execute(f'create schema "{name}"')
    return f"{server.format('postgres')}&options=-csearch_path%3D{name}"
