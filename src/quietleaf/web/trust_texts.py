"""The words of the page about trusting a station's own certificates."""

from __future__ import annotations

TITLE = "Let this computer trust the station"
WHY = (
    "A browser lends its microphone to a page only where the line to it is encrypted and the "
    "computer knows who is at the other end. This station vouches for itself: each computer is "
    "told once that it may be believed."
)
HOW = "What to do, once on each computer"
STEPS = (
    "Save the station’s certificate on this computer, or carry it there on a stick from the "
    "station’s own machine.",
    "Compare its fingerprint with the one below, as the station’s own machine shows it. If a "
    "single pair differs, stop and ask the desk.",
    "Windows: open the file, choose “Install Certificate”, “Local Machine”, and the store "
    "“Trusted Root Certification Authorities”.",
    "macOS: open the file; in Keychain Access open the certificate “Quietleaf, this station "
    "alone”, and under “Trust” choose “Always Trust”.",
    "Linux with Chromium: in the browser’s settings for certificates choose “Authorities”, "
    "“Import”, and let it identify web sites.",
    "Close the browser, open it again, and come back by the booth’s page or your personal link.",
)
FINGERPRINT = "Fingerprint (SHA-256)"
SAVE = "Save the station’s certificate"
SAFE = (
    "The certificate speaks for names and addresses of a local network alone, never for a site "
    "on the internet. To take it back, remove it where it was put in."
)
ELSEWHERE = (
    "Readers at home on the internet need a name and a certificate that every browser trusts: "
    "start the station with --certificate and --key, or behind a server that has them."
)
NONE_YET = (
    "This station has no certificates of its own. It makes them when it is started with "
    "“quietleaf run --tls”; with a certificate that browsers trust, nothing need be done here."
)
