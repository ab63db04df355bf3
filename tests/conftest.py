"""Before anything else: the tests keep their data in a folder of their own."""

import os
import tempfile

os.environ.setdefault("REFIT_DATA", tempfile.mkdtemp(prefix="refit-tests-"))
os.environ.setdefault("REFIT_SECRET_KEY", "only-for-tests-" + "x" * 40)
