"""The part of a document that is planned: what is in the agreed scope. Pure.

A package that waits for a change order is in the refit and in its document, but nobody plans with
it; so to see what a change order does is to plan the document with and without it.
"""

from __future__ import annotations

from refit.interchange.document import RefitDocument


def agreed_part(document: RefitDocument) -> RefitDocument:
    """The document without packages that are not agreed and without what joins them to others.

    The same object if everything is agreed. (Documents kept with older plans do not say.)
    """
    packages = [row for row in document["packages"] if row.get("is_agreed", True)]
    if len(packages) == len(document["packages"]):
        return document
    codes = {row["code"] for row in packages}
    part = document.copy()
    part["packages"] = packages
    part["dependencies"] = [
        row for row in document["dependencies"] if row["before"] in codes and row["after"] in codes
    ]
    part["bookings"] = [row for row in document["bookings"] if row["package"] in codes]
    return part
