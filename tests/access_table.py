"""Who may look and who may act at every address, declared by hand.

One row for each name of the URL table, or several where it matters whose row the address names
(``"portal:page, the owner's"``). `tests.test_access_matrix` fails for a name without a row.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum

from tests.access_world import PEOPLE


class Answer(Enum):
    GIVEN = "given"
    """The page, a redirect onward, or a form sent back: whoever asked was let in."""
    SIGN_IN = "sent to sign in"
    REFUSED = "told that this is not theirs to do"
    """403: only for members, who know the refit anyway."""
    UNKNOWN = "told that there is no such thing"
    NO_SUCH_ACT = "told that this address knows no such method"


Rule = dict[str, Answer]


def _rule(given: str, rest: Answer, **others: Answer) -> Rule:
    """``given`` to these people (comma-separated), ``others`` by name with underscores."""
    rule = dict.fromkeys(PEOPLE, rest) | {
        name.replace("_", " "): answer for name, answer in others.items()
    }
    rule |= dict.fromkeys([name for name in given.split(", ") if name], Answer.GIVEN)
    assert set(rule) == set(PEOPLE)
    return rule


EVERYBODY = _rule(", ".join(PEOPLE), Answer.GIVEN)
NO_ACT = _rule("", Answer.NO_SUCH_ACT)
NOBODY = _rule("", Answer.UNKNOWN)
USERS = _rule("manager, crew, reader, other manager", Answer.SIGN_IN)
MEMBERS = _rule("manager, crew, reader", Answer.SIGN_IN, other_manager=Answer.UNKNOWN)
CREW = _rule("manager, crew", Answer.SIGN_IN, reader=Answer.REFUSED, other_manager=Answer.UNKNOWN)
MANAGER = _rule(
    "manager", Answer.SIGN_IN, crew=Answer.REFUSED, reader=Answer.REFUSED,
    other_manager=Answer.UNKNOWN,
)  # fmt: skip
OWNER = _rule("owner", Answer.UNKNOWN)
VENDOR = _rule("vendor", Answer.UNKNOWN)
CODED = _rule("link without its code", Answer.UNKNOWN)
OTHER_VENDOR = _rule("other vendor", Answer.UNKNOWN)
WHO_SEES_THE_HANDOFF = _rule("manager, crew, reader, owner, vendor", Answer.UNKNOWN)


@dataclass(frozen=True)
class Row:
    """``at``: what stands in the address: the name of a row of `Site`, or ``="text"`` itself.

    ``sent``: a form that is good enough to reach the act; ``row:`` before a name is its id.
    """

    get: Rule
    post: Rule
    at: dict[str, str] = field(default_factory=dict)
    sent: dict[str, str] = field(default_factory=dict)


def _look(rule: Rule, **at: str) -> Row:
    return Row(rule, NO_ACT, at)


def _act(rule: Rule, sent: dict[str, str] | None = None, **at: str) -> Row:
    return Row(NO_ACT, rule, at, sent or {})


def _form(rule: Rule, **at: str) -> Row:
    """Shown and sent at the same address, by the same people."""
    return Row(rule, rule, at)


OUTSIDE = ("desk:home", "desk:new", "desk:import-document", "desk:invited")
"""Addresses of the desk that are below no refit."""

TABLE: dict[str, Row] = {
    "health": _look(EVERYBODY),
    # Accounts
    "accounts:sign-in": Row(EVERYBODY, EVERYBODY),
    "accounts:sign-out": _act(EVERYBODY),
    "accounts:first-account": Row(EVERYBODY, EVERYBODY),
    "accounts:password": _form(USERS),
    "accounts:code": Row(EVERYBODY, EVERYBODY),
    "accounts:second-factor": _look(USERS),
    "accounts:second-factor-start": _act(USERS),
    "accounts:second-factor-on": _act(USERS),
    "accounts:second-factor-recovery": _act(USERS),
    "accounts:second-factor-off": _act(USERS),
    # Private links: whoever holds the token is let in, wherever they come from
    "portal:enter": _look(EVERYBODY, token="vendor token"),
    "portal:enter, revoked": _look(NOBODY, token="revoked token"),
    "portal:enter, expired": _look(NOBODY, token="expired token"),
    "portal:enter, of a calendar": _look(NOBODY, token="vendor feed token"),
    "portal:enter, no link's": _look(NOBODY, token="=nobody-gave-this-out"),
    "portal:page": _look(VENDOR, public_id="vendor link"),
    "portal:page, the owner's": _look(OWNER, public_id="owner link"),
    "portal:page, another vendor's": _look(OTHER_VENDOR, public_id="other vendor link"),
    "portal:page, revoked": _look(NOBODY, public_id="revoked link"),
    "portal:page, expired": _look(NOBODY, public_id="expired link"),
    "portal:page, a calendar's": _look(NOBODY, public_id="vendor feed link"),
    "portal:seen": _act(VENDOR, public_id="vendor link"),
    "portal:seen, the owner's": _act(OWNER, public_id="owner link"),
    "portal:seen, revoked": _act(NOBODY, public_id="revoked link"),
    "feeds:feed": _look(EVERYBODY, token="vendor feed token"),
    "feeds:feed, the owner's": _look(EVERYBODY, token="owner feed token"),
    "feeds:feed, the manager's": _look(EVERYBODY, token="manager feed token"),
    "feeds:feed, of one of the crew": _look(EVERYBODY, token="crew feed token"),
    "feeds:feed, of a place": _look(EVERYBODY, token="place feed token"),
    "feeds:feed, of the boat": _look(EVERYBODY, token="boat feed token"),
    "feeds:feed, a page's": _look(NOBODY, token="vendor token"),
    "feeds:feed, ended long ago": _look(NOBODY, token="ended feed token"),
    # Stopping reminders: the token in the mail is the proof, and opens nothing else
    "notices:stop": _form(EVERYBODY, token="stop token"),
    "notices:stop, forged": _form(NOBODY, token="=1:forged"),
    # The door of a letter: the token is the proof, and leads on to the door of the page
    "notices:open": _look(EVERYBODY, token="letter token"),
    "notices:open, forged": _look(NOBODY, token="=forged"),
    "notices:wishes": _form(VENDOR, public_id="vendor link"),
    "notices:wishes, the owner's": _form(OWNER, public_id="owner link"),
    "notices:wishes, revoked": _form(NOBODY, public_id="revoked link"),
    "notices:wishes, a calendar's": _form(NOBODY, public_id="vendor feed link"),
    # A code as well, where the manager wants more than a link
    "notices:code": Row(CODED, CODED, {"public_id": "coded link"}),
    "notices:code, of a link that asks for none": _form(NOBODY, public_id="vendor link"),
    "notices:code, revoked": _form(NOBODY, public_id="revoked coded link"),
    "notices:code-send": _act(CODED, public_id="coded link"),
    "notices:code-send, of a link that asks for none": _act(NOBODY, public_id="vendor link"),
    "notices:code-send, revoked": _act(NOBODY, public_id="revoked coded link"),
    "portal:page, whose code is missing": _look(NOBODY, public_id="coded link"),
    "portal:seen, whose code is missing": _act(NOBODY, public_id="coded link"),
    "notices:wishes, whose code is missing": _form(NOBODY, public_id="coded link"),
    # Pictures
    "custody:picture": _look(WHO_SEES_THE_HANDOFF, pk="picture"),
    "custody:picture-small": _look(WHO_SEES_THE_HANDOFF, pk="picture"),
    "custody:receipt": _look(WHO_SEES_THE_HANDOFF, pk="handoff"),
    # The desk, outside any refit
    "desk:invited": _form(EVERYBODY, token="invitation token"),
    "desk:invited, taken back": _form(NOBODY, token="ended invitation token"),
    "desk:home": _look(USERS),
    "desk:new": _form(USERS),
    "desk:import-document": _form(USERS),
}

for name in ("ready", "not-ready", "new-date", "left", "arrived"):
    end = "coming" if name == "arrived" else "handoff"
    TABLE |= {
        f"portal:{name}": _act(VENDOR, public_id="vendor link", pk=end),
        f"portal:{name}, at another's address": _act(NOBODY, public_id="other vendor link", pk=end),
        f"portal:{name}, at the owner's address": _act(NOBODY, public_id="owner link", pk=end),
        f"portal:{name}, by an ended link": _act(NOBODY, public_id="revoked link", pk=end),
    }

for name, row in (("offer", "quote"), ("offer-pass", "quote"), ("order-agree", "order")):
    TABLE |= {
        f"portal:{name}": _act(VENDOR, public_id="vendor link", pk=row),
        f"portal:{name}, at another's address": _act(NOBODY, public_id="other vendor link", pk=row),
        f"portal:{name}, at the owner's address": _act(NOBODY, public_id="owner link", pk=row),
        f"portal:{name}, by an ended link": _act(NOBODY, public_id="revoked link", pk=row),
    }
TABLE |= {
    "portal:offers": _look(VENDOR, public_id="vendor link"),
    "portal:offers, the owner's": _look(NOBODY, public_id="owner link"),
    "portal:order-paper": _look(VENDOR, public_id="vendor link", pk="order"),
    "portal:order-paper, another's": _look(NOBODY, public_id="other vendor link", pk="order"),
    "portal:money": _look(OWNER, public_id="owner link"),
    "portal:money, a vendor's": _look(NOBODY, public_id="vendor link"),
    "portal:decide": _act(OWNER, public_id="owner link", pk="change"),
    "portal:decide, at a vendor's address": _act(NOBODY, public_id="vendor link", pk="change"),
}
TABLE |= {
    "portal:reading": _act(VENDOR, public_id="vendor link", pk="criterion"),
    "portal:reading, of another's package": _act(
        NOBODY, public_id="other vendor link", pk="criterion"
    ),
    "portal:reading, at the owner's address": _act(NOBODY, public_id="owner link", pk="criterion"),
    "portal:reading, by an ended link": _act(NOBODY, public_id="revoked link", pk="criterion"),
}

_MEMBERS_LOOK = {
    "goods": {},
    "today": {}, "find": {}, "plan-line": {}, "packages": {}, "package": {"pk": "package"},
    "pieces": {}, "piece": {"pk": "piece"}, "handoff": {"pk": "handoff"}, "vendors": {},
    "vendor": {"pk": "vendor"}, "places": {}, "roads": {}, "crew": {}, "findings": {},
    "finding": {"pk": "finding"}, "processes": {}, "process": {"key": "=canvas"},
    "survey": {}, "surfaces": {}, "readings": {}, "climate": {}, "punch-list": {}, "close-out": {},
    "baselines": {}, "health": {}, "ledger": {}, "journal": {},
    "journal-file": {},
    "whereabouts": {}, "trips": {}, "trips-worker": {}, "trip": {"pk": "trip"}, "rigs": {},
    "trip-paper": {"pk": "trip"},
}  # fmt: skip
_MANAGERS_LOOK: dict[str, dict[str, str]] = {
    "quotes": {}, "quote": {"pk": "inquiry"}, "orders": {}, "order": {"pk": "order"},
    "order-paper": {"pk": "order"}, "changes": {}, "change": {"pk": "change"}, "budget": {},
    "budget-csv": {}, "payments": {},
    "links": {}, "sent": {}, "whatif": {}, "search": {}, "import-template": {"form": "=xlsx"},
    "export": {"form": "=json"}, "as-refit-pdf": {}, "as-refit-zip": {},
}  # fmt: skip
_CREW_ACTS: dict[str, dict[str, str]] = {
    "package-start": {"pk": "package"}, "package-report": {"pk": "package"},
    "package-finish": {"pk": "package"}, "handoff-ready": {"pk": "handoff"},
    "handoff-not-ready": {"pk": "handoff"}, "handoff-send": {"pk": "handoff"},
    "handoff-receive": {"pk": "handoff"}, "handoff-promise": {"pk": "handoff"},
    "punch-done": {"pk": "punch item"},
    "trip-checks": {"pk": "trip"}, "trip-rest": {"pk": "trip"},
    "trip-tick": {"pk": "trip", "stop": "trip stop"},
}  # fmt: skip
_MANAGERS_ACTS: dict[str, dict[str, str]] = {
    "quote-work-out": {"pk": "inquiry"}, "quote-close": {"pk": "inquiry"},
    "order-agreed": {"pk": "order"}, "order-end": {"pk": "order"}, "change-ask": {"pk": "change"},
    "change-word": {"pk": "change"}, "change-withdraw": {"pk": "change"}, "budget-terms": {},
    "payment-back": {"pk": "payment"},
    "package-link": {"pk": "package"}, "booking-take-proposal": {"pk": "package"},
    "package-unlink": {"pk": "waiting", "link": "dependency"},
    "criterion-inspect": {"pk": "criterion"}, "inspection-rework": {"pk": "inspection"},
    "handoff-agree": {"pk": "handoff"}, "handoff-cancel": {"pk": "handoff"},
    "finding-decide": {"pk": "finding"}, "baseline-keep": {}, "baseline-choose": {"pk": "baseline"},
    "whatif-try": {"kind": "=late"}, "whatif-mend": {"remedy": "=later"},
    "whatif-take-out": {}, "whatif-discard": {},
    "search-begin": {}, "search-stop": {},
    "person-role": {"pk": "crew's part"}, "person-end": {"pk": "crew's part"},
    "invitation-end": {"pk": "invitation"},
    "refit-close": {}, "refit-reopen": {}, "whatif-apply": {}, "undo": {"pk": "entry"},
    "sent-again": {"pk": "letter"}, "address-good": {"pk": "dead address"},
    "trips-plan": {}, "trips-float": {}, "trip-pin": {"pk": "trip"},
    "trip-move-day": {"pk": "handoff"},
}  # fmt: skip
_MANAGERS_FORMS = {
    "booking-answer": {"pk": "package"},
    "quote-ask": {}, "quote-answer": {"pk": "inquiry", "quote": "quote"},
    "quote-accept": {"pk": "inquiry", "quote": "quote"}, "order-terms": {"pk": "order"},
    "change-add": {}, "goods-remove": {"pk": "goods"}, "hours-log": {}, "payment-add": {},
    "package-add": {}, "package-edit": {"pk": "package"}, "package-remove": {"pk": "package"},
    "link-edit": {"pk": "waiting", "link": "dependency"},
    "piece-add": {}, "piece-edit": {"pk": "piece"}, "piece-remove": {"pk": "piece"},
    "handoff-add": {"pk": "piece"},
    "vendor-add": {}, "vendor-edit": {"pk": "vendor"}, "vendor-remove": {"pk": "vendor"},
    "paper-add": {"pk": "vendor"}, "paper-edit": {"pk": "paper"}, "paper-remove": {"pk": "paper"},
    "place-add": {}, "place-edit": {"pk": "place"}, "place-remove": {"pk": "place"},
    "road-add": {}, "road": {"origin": "place", "destination": "shop"},
    "road-remove": {"pk": "distance"},
    "crew-add": {}, "crew-edit": {"pk": "crew member"}, "crew-remove": {"pk": "crew member"},
    "zone-add": {}, "zone-edit": {"pk": "zone"}, "zone-remove": {"pk": "zone"},
    "quality-remove": {"kind": "=punch", "pk": "punch item"},
    "process-apply": {"key": "=canvas"}, "process-copy": {"key": "=canvas"},
    "process-edit": {"key": "=own-way"}, "process-remove": {"key": "=own-way"},
    "trips-settings": {}, "rig-add": {}, "rig-edit": {"pk": "rig"}, "rig-remove": {"pk": "rig"},
    "finding-edit": {"pk": "finding"}, "settings": {}, "people": {}, "import": {},
    "import-preview": {"pk": "upload"},
}  # fmt: skip

TABLE |= {f"desk:{name}": _look(MEMBERS, **at) for name, at in _MEMBERS_LOOK.items()}
TABLE |= {f"desk:{name}": _look(MANAGER, **at) for name, at in _MANAGERS_LOOK.items()}
TABLE |= {f"desk:{name}": _act(CREW, None, **at) for name, at in _CREW_ACTS.items()}
TABLE |= {f"desk:{name}": _act(MANAGER, None, **at) for name, at in _MANAGERS_ACTS.items()}
TABLE |= {f"desk:{name}": _form(MANAGER, **at) for name, at in _MANAGERS_FORMS.items()}
TABLE |= {
    "desk:called": _act(CREW, {"vendor": "row:vendor"}),
    "desk:finding-add": _form(CREW),
    "desk:goods-add": _form(CREW),
    "desk:goods-edit": _form(CREW, pk="goods"),
    "desk:quality-add": _form(CREW, kind="=reading"),
    "desk:quality-edit": _form(CREW, kind="=punch", pk="punch item"),
    "desk:wishes": _form(CREW),
    "desk:link-issue": _act(MANAGER, {"kind": "vendor", "vendor": "row:vendor"}),
    "desk:link-revoke": _act(MANAGER, {"kind": "vendor", "vendor": "row:vendor"}),
}
