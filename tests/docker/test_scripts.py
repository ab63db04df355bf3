"""``docker/backup`` and ``docker/restore`` on real PostgreSQL databases; only the engine lacks.

A stand-in named ``docker`` does what the engine would: it runs what ``compose run`` names here, on
the database that the test names, and writes down what it was asked.
"""

from __future__ import annotations

import json
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from tests.services.scratch import scratch_database
from tests.test_backup import FILL, SHOW, manage, python

ROOT = Path(__file__).resolve().parents[2]
SERVER = os.environ.get("REFIT_TEST_POSTGRESQL", "")
STAND_IN = """#!/bin/sh
echo "$*" | head -1 >>"$ASKED"
[ "$1 $2" = "compose -f" ] || exit 9
shift 3
case "$1" in
  run) [ "$1 $2 $3 $4" = "run --rm -T web" ] || exit 9; shift 4; cd "$REFIT_ROOT" && exec "$@" ;;
  stop|up) exit 0 ;;
  *) exit 9 ;;
esac
"""

pytestmark = [
    pytest.mark.postgresql,
    pytest.mark.skipif(
        not SERVER, reason="PostgreSQL is not running here; set REFIT_TEST_POSTGRESQL"
    ),
]


def script(
    name: str, file: Path, *, folder: Path, database: str
) -> subprocess.CompletedProcess[str]:
    tools = folder / "tools"
    tools.mkdir(parents=True, exist_ok=True)
    (tools / "docker").write_text(STAND_IN)
    (tools / "docker").chmod(0o755)
    environment = {
        key: value for key, value in os.environ.items() if not key.startswith(("REFIT_", "DJANGO_"))
    } | {
        "PATH": f"{tools}:{Path(sys.executable).parent}:{os.environ['PATH']}",
        "ASKED": str(folder / "asked"),
        "REFIT_ROOT": str(ROOT),
        "REFIT_DATA": str(folder),
        "REFIT_DATABASE_URL": database,
    }
    return subprocess.run(
        [str(ROOT / "docker" / name), str(file)],
        env=environment, cwd=folder, capture_output=True, text=True, timeout=180,
    )  # fmt: skip


def test_from_one_postgresql_to_a_new_one_by_the_scripts(tmp_path: Path) -> None:
    here, there, file = tmp_path / "here", tmp_path / "there", tmp_path / "kept.tar.gz"
    with scratch_database(SERVER) as old, scratch_database(SERVER) as new:
        manage(here, "migrate", "-v0", database=old)
        python(here, FILL, old)
        done = script("backup", file, folder=here, database=old)
        assert done.returncode == 0, done.stderr
        assert stat.S_IMODE(file.stat().st_mode) == 0o600
        again = script("backup", file, folder=here, database=old)
        assert again.returncode == 1
        assert "exists already" in again.stderr
        before = json.loads(python(here, SHOW, old))

        done = script("restore", file, folder=there, database=new)
        assert done.returncode == 0, done.stderr
        assert "Restored 1 refit(s)" in done.stdout
        assert json.loads(python(there, SHOW, new)) == before
        assert before["rows"]["work.WorkPackage"]
        assert len(before["uploads"]) == 2
        asked = (there / "asked").read_text().splitlines()
        assert [line.split()[3] for line in asked] == ["stop", "run", "up"]

        second = script("restore", file, folder=there, database=new)
        assert second.returncode != 0
        assert "not empty" in second.stderr
        assert json.loads(python(there, SHOW, new)) == before
        asked = (there / "asked").read_text().splitlines()
        assert [line.split()[3] for line in asked[3:]] == ["stop", "run", "up"], "refused, and up"


def test_a_backup_that_fails_leaves_no_file(tmp_path: Path) -> None:
    file = tmp_path / "kept.tar.gz"
    done = script("backup", file, folder=tmp_path, database="postgresql://a:b@127.0.0.1:1/none")
    assert done.returncode != 0
    assert not list(tmp_path.glob("kept*"))
