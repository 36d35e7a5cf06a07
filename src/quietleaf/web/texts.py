"""Every word that the pages show, in one place.

The templates hold marks alone and ask here and in `phrases` for each sentence; another language is
another pair of modules with these names.
"""

from __future__ import annotations

LANGUAGE = "en-GB"
PRODUCT = "Quietleaf"
FOOT = "Quietleaf: from the printed page to the air."
SKIP = "Skip to the page"
DAYS = "Days"
TODAY = "Today"
NOBODY_ASSIGNED = "Nobody is assigned for this day."
MORE_PAGES = "More pages"
PLAN = "The plan"
TRY_OUT = "Try it with your own voice"
PRACTICE = "A first visit: a practice reading"
TOLD = "The desk is told"
SINCE = "Since you last looked"
ASKS_FOR_HELP = "Asks for help"
SEEN = "Seen"
SEE_IT = "See it"
BEING_FINISHED = "Being finished"
ASSIGN = "Assign a reader"
CHANGE_READER = "Change who reads"
PROGRAMMES_OF_DAY = "Programmes in the order of the air"
NUMBERS = "Numbers against their targets"
NUMBERS_HEADS = ("What", "Came in", "Master", "Asked for")
KEPT = "kept"
NOT_KEPT = "not kept"
NOT_MEASURED = "not measured"
MARKED = "What is to be heard is marked under its place."
REPAIRS = "Repairs, before and now"
REPAIRS_HINT = (
    "Both are as loud as the master.",
    "changes between them while one plays, as long as you are in this list.",
)
REPAIRS_KEY = "B"
BEFORE, NOW = "Before", "Now"
PLAYING = {"before": "Before is playing.", "now": "Now is playing."}
NO_SOUND = "That cannot be played. The reading may have been changed since it was finished."
LOUDNESS_OVER_TIME = "Loudness over time"
FILES = "Files"
FULL_REPORT = "The full report"
OPENING_WORDS = "Opening words"
CLOSING_WORDS = "Closing words"
NOT_FINISHED = "It is safe on the station’s disk and has no master yet."
FINISH_IT = "Finish it"
TO_FINISHING = "What was done, and why"
NO_STATION_TITLE = "No station here yet"
NO_STATION_COMMAND = "quietleaf demo"
NOT_FOUND_TITLE = "There is no such page"
NOT_FOUND = "Nothing is kept at this address. It may have been copied with a letter missing."
REFUSED_TITLE = "That cannot be shown"
BROKEN_TITLE = "Something went wrong here"
BROKEN = (
    "This page could not be made, and the fault is Quietleaf’s. Readings and masters are not "
    "touched by it."
)
OTHER_ADDRESS_TITLE = "Another address is needed"
DESK_ONLY_TITLE = "This page is for the desk"
DESK_ONLY = (
    "The desk’s pages answer on the station’s own machine, and elsewhere over an encrypted "
    "connection to whoever signs in, once there are accounts.",
    "Readers come in by the booth’s page or by the personal link that the desk gave them.",
)
OTHER_ROLE_TITLE = "This page is for others"
OTHER_ROLE = (
    "Your account may do other things. If this is your work too, the steward can change what it "
    "may do."
)
LIST_BEFORE = "The page before"
LIST_AFTER = "The next page"
DISK = "The disk is getting full."
DISK_FULL = "The disk has room for less than an hour of reading.\n"
OWN_ACCOUNT = "Your account"
SIGNED_IN = "Signed in:"
SIGN_OUT = "Sign out"
WAYS_BACK = {"/": "To today’s programmes", "/booth": "To the booth’s page"}

FILE_KINDS = {
    "wave": "Master, Broadcast Wave",
    "mp3": "Master, MP3",
    "plan": "Finishing plan",
    "report": "Report",
}
