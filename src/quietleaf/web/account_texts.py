"""The words of signing in, of accounts and of the audit list."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from quietleaf.delivery.report_words import moment_words
from quietleaf.planning.account import Account, Deed, Role

WAYS = "More pages"
TO_DAY = "Today’s programmes"
TO_PLAN = "The plan"
SIGN_IN = "Sign in"
SIGN_IN_LEAD = "For whoever has an account at this station: at the desk, or reading from home."
SIGN_IN_READERS = "Without an account, readers come in at a booth, or by the desk’s personal link."
NO_ACCOUNTS = (
    "There are no accounts yet: the desk’s pages answer on the station’s own machine alone. The "
    "first account is a steward’s."
)
NOT_PRIVATE = (
    "A password is taken over an encrypted connection alone, or on the station’s own machine. Open "
    "the station’s address that begins with https."
)
NAME = "Name"
PASSWORD = "Password"
PASSWORD_HINT = "12 to 128 letters; a few words that nobody would guess together are well."
CODE = "Code"
CODE_HINT = (
    "Only for an account with a second factor: the six figures of the telephone, or a recovery "
    "code. Others leave it empty."
)
NEW_PASSWORD = "New password"
ACCOUNTS = "Accounts"
ACCOUNTS_LEAD = "Who can sign in, and what each may do."
TO_ACCOUNTS = "Accounts"
TO_PEOPLE = "What is kept about people"
ADD_ACCOUNT = "Add an account"
NEW_ACCOUNT = "A new account"
FIRST_ACCOUNT = "The first account"
FIRST_LEAD = "It is a steward’s. From then on the desk’s pages ask everybody to sign in, here too."
ROLES = "What they may do"
ROLE_WORDS: dict[Role, str] = {
    "reader": "Reader: reads from home, under this name in the plan",
    "reviewer": "Reviewer: listens to readings",
    "desk": "Desk: plans, clears readings, answers for the air",
    "steward": "Steward: keeps accounts and the machine",
}
KEEP = "Keep it"
KEPT = "It is kept."
REFUSED = "It is not kept yet. What is needed is said at its place below."
CHANGE_PASSWORD = "Change the password"
CHANGE_PASSWORD_LEAD = "Everybody who is signed in with this account is signed out."
PASSWORD_CHANGED = "The password is changed."
FACTOR = "Second factor"
FACTOR_LEAD = (
    "Whoever lost the telephone and the recovery codes cannot sign in. Make sure that it is they "
    "who ask."
)
REMOVE_FACTOR = "Remove the second factor"
FACTOR_REMOVED = "The second factor is removed; the password is enough again."
TO_TOKENS = "Its tokens for programs"
END = "End this account"
END_ASK = (
    "Nobody can sign in with it any more, and whoever is signed in is signed out. Its name stays "
    "in the audit list, and no other account gets it."
)
END_DO = "Yes, end it"
ENDED = "The account is ended."
DEEDS = "What was changed"
DEEDS_LEAD = "Every change at the desk, the newest first."
NO_DEEDS = "Nothing has been changed yet."
PAGES = "Pages of changes"
NEWER, OLDER = "Newer", "Older"
THIS_MACHINE = "At the station’s own machine"
_DEED_WORDS = {
    "/message/{message_id}/seen": "saw a message",
    "/reading/{reading_id}/decide": "decided about a place",
    "/reading/{reading_id}/mark": "marked a place",
    "/reading/{reading_id}/take-back": "took something back",
    "/reading/{reading_id}/clear": "cleared a reading",
    "/reading/{reading_id}/return": "returned a reading",
    "/reading/{reading_id}/plan/decide": "decided about a finishing plan",
    "/reading/{reading_id}/plan/finish": "had a reading finished",
    "/reading/{reading_id}/plan/stop": "stopped a reading being finished",
    "/reading/{reading_id}/plan/use": "took an earlier version into use",
    "/plan/station": "changed what the station says of itself",
    "/plan/station/own": "began a station of one’s own",
    "/plan/programmes/new": "added a programme",
    "/plan/programmes/{key}": "changed a programme",
    "/plan/programmes/{key}/remove": "removed a programme",
    "/plan/publications/new": "added a publication",
    "/plan/publications/{key}": "changed a publication",
    "/plan/publications/{key}/remove": "removed a publication",
    "/plan/readers/new": "added a reader",
    "/plan/readers/{key}": "changed a reader",
    "/plan/readers/{key}/remove": "removed a reader",
    "/plan/readers/{name}/link": "made a personal link",
    "/plan/readers/{name}/link/{sha256}/revoke": "revoked a personal link",
    "/plan/booths/new": "added a booth",
    "/plan/booths/{key}": "changed a booth",
    "/plan/booths/{key}/remove": "removed a booth",
    "/plan/booths/{key}/enrol": "made an address for a booth",
    "/plan/booths/{key}/enrol/end": "ended a booth’s browser",
    "/plan/assignments/new": "assigned a reading",
    "/plan/assignments/{key}": "changed an assignment",
    "/plan/assignments/{key}/remove": "removed an assignment",
    "/accounts/new": "added an account",
    "/accounts/{name}": "changed an account",
    "/accounts/{name}/end": "ended an account",
    "/account/tokens": "made a token for a program",
    "/account/tokens/{sha256}/end": "ended a program’s token",
    "/accounts/{name}/tokens": "made a token for a program",
    "/accounts/{name}/tokens/{sha256}/end": "ended a program’s token",
    "/people/{name}/erase": "erased a person",
    "DELETE /api/people/{name}": "erased a person",
    "POST /api/readings/{reading_id}/decisions": "decided about a place",
    "POST /api/readings/{reading_id}/take-back": "took something back",
    "POST /api/readings/{reading_id}/clear": "cleared a reading",
    "POST /api/readings/{reading_id}/return": "returned a reading",
    "POST /api/readings/{reading_id}/finishing": "had a reading finished",
    "DELETE /api/readings/{reading_id}/finishing": "stopped a reading being finished",
    "POST /api/messages/{message_id}/seen": "saw a message",
    "PUT /api/plan/station": "changed what the station says of itself",
    "POST /api/plan/programmes": "added a programme",
    "PUT /api/plan/programmes/{key}": "changed a programme",
    "DELETE /api/plan/programmes/{key}": "removed a programme",
    "POST /api/plan/publications": "added a publication",
    "PUT /api/plan/publications/{key}": "changed a publication",
    "DELETE /api/plan/publications/{key}": "removed a publication",
    "POST /api/plan/readers": "added a reader",
    "PUT /api/plan/readers/{name}": "changed a reader",
    "DELETE /api/plan/readers/{name}": "removed a reader",
    "POST /api/plan/readers/{name}/links": "made a personal link",
    "DELETE /api/plan/readers/{name}/links/{sha256}": "revoked a personal link",
    "POST /api/plan/booths": "added a booth",
    "PUT /api/plan/booths/{key}": "changed a booth",
    "DELETE /api/plan/booths/{key}": "removed a booth",
    "POST /api/plan/booths/{key}/enrolment": "made an address for a booth",
    "DELETE /api/plan/booths/{key}/enrolment": "ended a booth’s browser",
    "POST /api/plan/assignments": "assigned a reading",
    "PUT /api/plan/assignments/{key}": "changed an assignment",
    "DELETE /api/plan/assignments/{key}": "removed an assignment",
    "POST /api/accounts": "added an account",
    "PUT /api/accounts/{name}": "changed an account",
    "PUT /api/accounts/{name}/password": "changed an account",
    "DELETE /api/accounts/{name}": "ended an account",
    "DELETE /api/accounts/{name}/tokens/{sha256}": "ended a program’s token",
    "/accounts/{name}/factor/remove": "removed the second factor of an account",
    "/account/password": "changed the own password",
    "/account/factor/confirm": "set up a second factor",
    "/account/factor/remove": "removed the own second factor",
    "/account/sessions/end": "signed out everywhere",
    "/account/factor": "began to set up a second factor",
}


def deed_words(deed: Deed) -> str:
    """Say what was done.

    Raises
    ------
    KeyError
        If a row of the matrix has no words.
    """
    return _DEED_WORDS[deed.what]


def who_words(deed: Deed) -> str:
    """Say who did it, and by which program."""
    who = deed.who or THIS_MACHINE
    return f"{who}, by {deed.token}" if deed.token else who


def when_words(deed: Deed, zone: ZoneInfo) -> str:
    """Say when it was done, in the station's zone."""
    return moment_words(deed.at.astimezone(zone))


def roles_words(account: Account) -> str:
    """Name an account's roles.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> made_at = datetime(2026, 11, 25, tzinfo=UTC)
    >>> roles_words(Account(name="Ida", roles=("desk", "steward"), password="", made_at=made_at))
    'desk, steward'
    """
    return ", ".join(account.roles)


def page_words(page: int, pages: int) -> str:
    """Say which page this is."""
    return f"Page {page} of {pages}"
