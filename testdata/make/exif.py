"""What a phone writes beside the picture (Exif, JEITA CP-3451), and a scanner's resolution (JFIF)."""
import struct

ASCII, SHORT, LONG, RATIONAL = 2, 3, 4, 5


def entry(tag, kind, value, at):
    """One 12-byte directory entry, and the bytes that did not fit into it, which will lie at offset at."""
    if kind == ASCII:
        data = value.encode("ascii") + b"\0"
        count = len(data)
    elif kind == RATIONAL:
        data, count = struct.pack("<II", round(value * 100), 100), 1
    else:
        data, count = struct.pack("<H" if kind == SHORT else "<I", value), 1
    if len(data) <= 4:
        return struct.pack("<HHI", tag, kind, count) + data.ljust(4, b"\0"), b""
    return struct.pack("<HHII", tag, kind, count, at), data + b"\0" * (len(data) % 2)


def directory(entries, at):
    """A directory with its data, to lie at offset at.

    The entries are (tag, kind, value) in the order of tags.
    """
    head, beyond = b"", b""
    start = at + 2 + 12 * len(entries) + 4
    for tag, kind, value in entries:
        fixed, more = entry(tag, kind, value, start + len(beyond))
        head, beyond = head + fixed, beyond + more
    return struct.pack("<H", len(entries)) + head + b"\0\0\0\0" + beyond


def segment(make, model, orientation, taken, focal_length, f35, size):
    """The APP1 segment; focal_length and f35 in mm, taken as 2026:01:31 10:20:00, size the sides in px.

    >>> s = segment("Field", "Pocket camera", 6, "2026:01:31 10:20:00", 6.8, 26, (2016, 1512))
    >>> s[:2], struct.unpack(">H", s[2:4])[0] == len(s) - 2, s[4:10]
    (b'\\xff\\xe1', True, b'Exif\\x00\\x00')
    """
    first = [(0x010F, ASCII, make), (0x0110, ASCII, model), (0x0112, SHORT, orientation), (0x8769, LONG, 0)]
    inner_at = 8 + len(directory(first, 8))
    first[-1] = (0x8769, LONG, inner_at)
    inner = [(0x9003, ASCII, taken), (0x920A, RATIONAL, focal_length),
             (0xA002, LONG, size[0]), (0xA003, LONG, size[1]), (0xA405, SHORT, f35)]
    body = b"Exif\0\0II*\0" + struct.pack("<I", 8) + directory(first, 8) + directory(inner, inner_at)
    return b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body


def segment_of(path):
    """A JPEG file's APP1 segment, empty where it has none."""
    data = path.read_bytes()
    at = 2
    while data[at] == 0xFF and data[at + 1] != 0xDA:
        size = 2 + int.from_bytes(data[at + 2 : at + 4], "big")
        if data[at + 1] == 0xE1:
            return data[at : at + size]
        at += size
    return b""


def orientation(app1):
    """What a segment says of the turn, 1 where it says nothing.

    >>> orientation(segment("Field", "Pocket camera", 8, "2026:01:31 10:20:00", 6.8, 26, (2016, 1512)))
    8
    """
    tiff = app1[10:]
    order = ">" if tiff[:2] == b"MM" else "<"
    at = struct.unpack_from(order + "I", tiff, 4)[0] if tiff else 0
    for i in range(struct.unpack_from(order + "H", tiff, at)[0] if tiff else 0):
        tag, _, _, value = struct.unpack_from(order + "HHIH", tiff, at + 2 + 12 * i)
        if tag == 0x0112:
            return value
    return 1


def with_exif(jpeg, app1):
    """A JPEG file's bytes with the segment put in front."""
    return jpeg[:2] + app1 + jpeg[2:]


def with_resolution(jpeg, dpi):
    """A JPEG file's bytes with the resolution (dots per inch) in its JFIF header.

    >>> with_resolution(b"\\xff\\xd8\\xff\\xe0\\0\\x10JFIF\\0\\1\\1\\0\\0\\1\\0\\1\\0\\0", 300)[13:18].hex()
    '01012c012c'
    """
    if jpeg[6:11] != b"JFIF\0":
        raise ValueError("no JFIF header: needed is a JPEG file as cv2 writes it")
    return jpeg[:13] + struct.pack(">BHH", 1, dpi, dpi) + jpeg[18:]
