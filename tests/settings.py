"""The settings of the tests: refit's own, with a data folder that no other run shares.

pytest-django reads the settings before any conftest, so the folder is made here.
"""

import atexit
import os
import shutil
import tempfile
from pathlib import Path

if "REFIT_DATA" not in os.environ:
    os.environ["REFIT_DATA"] = tempfile.mkdtemp(prefix="refit-tests-")
    atexit.register(shutil.rmtree, os.environ["REFIT_DATA"], ignore_errors=True)
os.environ.setdefault("REFIT_SECRET_KEY", "only-for-tests-" + "x" * 40)
(Path(os.environ["REFIT_DATA"]) / "static").mkdir(parents=True, exist_ok=True)

from refit.settings import *  # noqa: E402, F403

# Hashing a password slowly is right in service and only slow here.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
