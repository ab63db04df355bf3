"""Settings of the processes of a fault run: refit's own, with waits short enough to watch.

Nothing else differs from service. The lease is still far longer than any send here.
"""

from refit.settings import *  # noqa: F403

LETTER_LEASE_SECONDS = 12
LETTER_WAITS_SECONDS = (1, 2, 3, 4, 5, 6, 8)
SWEEP_SECONDS = 2.0
LOOK_SECONDS = 5.0
