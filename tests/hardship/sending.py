"""A database for the town, to send its plan and visits to."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.database.server import PASSWORD, TEMPLATE, Server, programs, running
from tests.hardship.town import PLAN, Deed

SEND = "send"
NAME = "town"
ROWS = {"plan_trees": 3, "plan_stops": 3, "plan_crew_days": 261, "recorded_visits": 1, "sent": 1}


@dataclass(frozen=True)
class SendingTown:
    """A town's database, which every trial finds as it was made: tables without rows."""

    server: Server

    def rows(self) -> dict[str, int]:
        return {
            table: int(self.server.sql(NAME, f"SELECT count(*) FROM forestcycle.{table}"))  # noqa: S608
            for table in ROWS
        }

    def state(self, folder: Path) -> str:
        """Tell whether all tables are filled or none; the town's files are as they were."""
        assert (folder / PLAN / "plan.gpkg").exists()
        seen = self.rows()
        assert seen in (ROWS, dict.fromkeys(ROWS, 0)), seen
        return "new" if seen == ROWS else "old"

    def empty(self) -> None:
        self.server.sql(NAME, f"TRUNCATE {', '.join(f'forestcycle.{table}' for table in ROWS)}")

    @property
    def deed(self) -> Deed:
        words = ("send", "cycle.toml", "plan", "--quiet")
        return Deed(words, PLAN, self.state, first=(words,), begin=self.empty)


@contextmanager
def sending_town(template: Path) -> Iterator[SendingTown]:
    """Start a server and let the town's settings name it."""
    folder = programs()
    if folder is None:
        raise RuntimeError("needs Debian's packages postgresql and postgresql-NN-postgis-3")
    with running(folder) as server:
        server.sql("postgres", f"CREATE DATABASE {NAME} TEMPLATE {TEMPLATE}")
        settings = template / "cycle.toml"
        address = f'\n[database]\naddress = "{server.address(NAME)}"\n'
        settings.write_text(settings.read_text() + address)
        os.environ["PGPASSWORD"] = PASSWORD
        yield SendingTown(server)
