"""Settings of a worker process that works on the database of the tests and a broker of its own."""

import os

from refit.settings import *  # noqa: F403
from refit.settings import CELERY_BROKER_TRANSPORT_OPTIONS, DATABASES

DATABASES["default"]["NAME"] = os.environ["REFIT_TEST_DATABASE"]
CELERY_BROKER_TRANSPORT_OPTIONS["global_keyprefix"] = os.environ["REFIT_TEST_PREFIX"]
