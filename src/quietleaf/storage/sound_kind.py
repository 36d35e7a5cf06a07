"""What a file holds, told by its first bytes; its name says nothing."""

from __future__ import annotations

from codecs import getincrementaldecoder
from typing import BinaryIO, Literal

from quietleaf.storage.mp3_frames import begins_mp3

SoundKind = Literal["WAV", "RF64", "BW64", "AIFF", "FLAC", "Ogg", "MP3", "M4A", "AAC"]

_LOOK_BYTES = 8192
_ID3_HEADER_BYTES = 10
_ID3_TAGS_MAX = 4

_OTHER = (
    (b"\x89PNG", "a picture (PNG)"),
    (b"\xff\xd8\xff", "a picture (JPEG)"),
    (b"GIF8", "a picture (GIF)"),
    (b"BM", "a picture (BMP)"),
    (b"II*\0", "a picture (TIFF)"),
    (b"MM\0*", "a picture (TIFF)"),
    (b"%PDF", "a page description (PDF)"),
    (b"PK\x03\x04", "an archive (ZIP, or a document made like one)"),
    (b"\x1f\x8b", "an archive (gzip)"),
    (b"7z\xbc\xaf", "an archive (7z)"),
    (b"MThd", "notes for an instrument (MIDI), not sound"),
    (b"\x1aE\xdf\xa3", "a film or sound in Matroska or WebM"),
    (b"0&\xb2u", "sound or film in ASF (WMA)"),
    (b"RIFX", "sound in RIFX, a rare kind of WAV"),
    (b"riff", "sound in W64"),
    (b"caff", "sound in CAF"),
    (b".snd", "sound in AU"),
    (b"\x7fELF", "a program"),
    (b"MZ", "a program"),
)


def sound_kind(file: BinaryIO) -> SoundKind | None:
    """Tell which kind of recording begins at the start of a file; None for anything else."""
    head = _head(file, tags_end(file))
    kind: SoundKind | None = None
    if head[8:12] == b"WAVE":
        kind = {b"RIFF": "WAV", b"RF64": "RF64", b"BW64": "BW64"}.get(head[:4])  # type: ignore[assignment]  # dict loses the literals
    elif head[:4] == b"FORM" and head[8:12] in (b"AIFF", b"AIFC"):
        kind = "AIFF"
    elif head[:4] == b"fLaC":
        kind = "FLAC"
    elif head[:4] == b"OggS":
        kind = "Ogg"
    elif head[4:8] == b"ftyp":
        kind = "M4A"
    elif _begins_adts(head):
        kind = "AAC"
    elif begins_mp3(head):
        kind = "MP3"
    return kind


def described(file: BinaryIO) -> str:
    """Say in words what a file holds that is no recording."""
    file.seek(0)
    head = file.read(_LOOK_BYTES)
    for begins, words in _OTHER:
        if head.startswith(begins):
            return words
    if not head.strip(b"\0"):
        return "nothing but zeros at its start"
    if _is_text(head):
        return "a page (HTML)" if b"<html" in head.lower() else "text"
    return "nothing known"


def tags_end(file: BinaryIO) -> int:
    """Find where leading ID3v2 tags end; their sizes are only used to move on."""
    at = 0
    for _ in range(_ID3_TAGS_MAX):
        head = _head(file, at)[:_ID3_HEADER_BYTES]
        if head[:3] != b"ID3" or len(head) < _ID3_HEADER_BYTES:
            break
        size = 0
        for byte in head[6:10]:
            size = size << 7 | byte & 0x7F
        footer = _ID3_HEADER_BYTES if head[5] & 0x10 else 0
        at += _ID3_HEADER_BYTES + size + footer
    return at


def _head(file: BinaryIO, at: int) -> bytes:
    file.seek(at)
    return file.read(_LOOK_BYTES)


def _begins_adts(head: bytes) -> bool:
    """ISO/IEC 13818-7, ADTS: two headers one frame length apart."""
    length = _adts_frame_bytes(head[:6])
    return length > 0 and _adts_frame_bytes(head[length : length + 6]) > 0


def _adts_frame_bytes(header: bytes) -> int:
    if len(header) < 6 or header[0] != 0xFF or header[1] & 0xF6 != 0xF0:
        return 0
    length = (header[3] & 3) << 11 | header[4] << 3 | header[5] >> 5
    return length if length > 7 else 0


def _is_text(head: bytes) -> bool:
    try:
        # Not final: the last letter may be cut.
        text = getincrementaldecoder("utf-8")().decode(head)
    except UnicodeDecodeError:
        return False
    return bool(text) and all(letter.isprintable() or letter.isspace() for letter in text)
