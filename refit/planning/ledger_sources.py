"""The document each plan was computed from: kept beside the plan, so that what lies between two
plans can be replayed. About a tenth of the JSON text in size."""

from __future__ import annotations

import json
import zlib
from typing import cast

from refit.interchange.document import RefitDocument

from .models import Plan, PlanSource


def keep_source(plan: Plan, document: RefitDocument) -> None:
    """Remember what ``plan`` was computed from."""
    text = json.dumps(document, ensure_ascii=False, separators=(",", ":"))
    PlanSource.objects.create(plan=plan, document=zlib.compress(text.encode()))


def source_of(plan: Plan) -> RefitDocument | None:
    """The document, or None for a plan that was made before documents were kept. One query."""
    packed = PlanSource.objects.filter(plan=plan).values_list("document", flat=True).first()
    if packed is None:
        return None
    return cast(RefitDocument, json.loads(zlib.decompress(packed)))
