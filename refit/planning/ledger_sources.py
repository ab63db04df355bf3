"""The document each plan was computed from: kept beside the plan, so that what lies between two
plans can be replayed. About a tenth of the JSON text in size."""

from __future__ import annotations

import json
import logging
import zlib
from typing import cast

from refit.interchange.document import RefitDocument
from refit.interchange.schema import settled

from .models import Plan, PlanSource

log = logging.getLogger(__name__)


def keep_source(plan: Plan, document: RefitDocument) -> None:
    """Remember what ``plan`` was computed from."""
    text = json.dumps(document, ensure_ascii=False, separators=(",", ":"))
    PlanSource.objects.create(plan=plan, document=zlib.compress(text.encode()))


def source_of(plan: Plan) -> RefitDocument | None:
    """The document in today's form: what it did not have yet when it was kept has its default.

    None for a plan that was made before documents were kept, or of a form that cannot be brought
    up to date. One query.
    """
    packed = PlanSource.objects.filter(plan=plan).values_list("document", flat=True).first()
    if packed is None:
        return None
    try:
        return cast(RefitDocument, settled(json.loads(zlib.decompress(packed))))
    except (KeyError, ValueError):
        log.info("the document of plan %s is of another form", plan.pk)
        return None
