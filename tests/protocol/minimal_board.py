"""A second board that only counts, written from the text of ``docs/protocol/counting.md`` alone.

It shares nothing with the project's own ends: no class, no table, no library for its check sum. Its style is a small
board's: one record of numbers, and functions that read it and change it. A test holds its imports to that.
"""

import struct


def crc32(data):
    """IEEE 802.3, reflected, bit by bit; 123456789 gives 0xCBF43926."""
    value = 0xFFFFFFFF
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ (0xEDB88320 if value & 1 else 0)
    return value ^ 0xFFFFFFFF


def stuffed(body):
    out = []
    piece = []
    for byte in [*body, 0]:
        if byte:
            piece.append(byte)
        else:
            out += [len(piece) + 1, *piece]
            piece = []
    return bytes([*out, 0])


def unstuffed(run):
    """The body, or None for what no sender writes."""
    body = []
    at = 0
    while at < len(run):
        code = run[at]
        if at + code > len(run):
            return None
        body += run[at + 1 : at + code]
        at += code
        if at < len(run):
            body.append(0)
    return bytes(body)


ANSWERS = {"DONE": 0, "UNSUPPORTED": 1, "NO_SESSION": 2, "HELD": 3, "CONFLICT": 4, "STALE": 5}
ANSWERS |= {"WRONG_STATE": 6, "BAD_VALUE": 7, "MALFORMED": 15}
LENGTHS = {0x01: 5, 0x02: 8, 0x03: 0, 0x10: 12, 0x11: 20, 0x12: 12, 0x13: 4, 0x14: 13}


def powered_up(boot=1, kept=(0, 0, 0)):
    return {
        "boot": boot,
        "ms": 0,
        "due": 0,
        "revision": 0,
        "token": 0,
        "alive": 0,
        "lease_until": 0,
        "last": (0, None, None),
        "wind": 0,
        "count": 0,
        "kept": kept,
        "quiet_from": 0,
        "target": None,
        "called": 0,
        "run": bytearray(),
        "out": bytearray(),
    }


def send(board, kind, number, payload):
    body = bytes((kind, number)) + payload
    board["out"] += stuffed(body + struct.pack("<I", crc32(body)))


def answer(board, kind, number, word, detail=0):
    payload = struct.pack("<BBHI", kind, ANSWERS[word], board["revision"], detail)
    send(board, 0x83, number, payload)
    return payload


def leased(board):
    return board["lease_until"] > board["ms"]


def status(board):
    flags = 8 + 32 + (1 if leased(board) else 0)
    head = struct.pack("<BBBBiHii", 0, 0, 0, flags, board["count"], 0, 0, 0)
    tail = struct.pack(
        "<BBIHIH", 255, 0, board["wind"], board["boot"], board["ms"], board["revision"]
    )
    send(board, 0x82, 0, head + tail + struct.pack("<H", 0))


def welcome(board, token):
    wind, count, flags = board["kept"]
    payload = struct.pack(
        "<BIHI10s6B", 1, token, board["boot"], board["ms"], b"minimal", 1, *[0] * 5
    )
    payload += struct.pack("<BBIII", 0, 0, 0, 2000, 0x5EED)
    send(board, 0x81, 0, payload + struct.pack("<IiBHH", wind, count, flags, 0, 0))


def passes(board, ms):
    """Time goes by: statuses, the rest that is kept."""
    board["ms"] += ms
    if board["ms"] >= board["due"]:
        board["due"] = board["ms"] + 50
        status(board)
    if board["wind"] and board["ms"] - board["quiet_from"] >= 1000:
        board["kept"] = (board["wind"], board["count"], 3)


def edge(board):
    """The sensor's."""
    if board["wind"]:
        board["count"] += 1
        board["quiet_from"] = board["ms"]
        wind, count, flags = board["kept"]
        board["kept"] = (wind, count, flags & 1)
        call_out(board)


def call_out(board):
    if board["target"] is not None and board["count"] >= board["target"]:
        board["target"] = None
        board["called"] += 1


def hears(board, data):
    for byte in data:
        if byte:
            if len(board["run"]) < 64:
                board["run"].append(byte)
            continue
        run, board["run"] = bytes(board["run"]), bytearray()
        body = unstuffed(run) if 0 < len(run) < 64 else None
        if body is None or len(body) < 6:
            continue
        if crc32(body[:-4]) == struct.unpack("<I", body[-4:])[0]:
            takes(board, body[0], body[1], body[2:-4])


def takes(board, kind, number, payload):
    if kind >= 0x80:
        return
    if kind not in LENGTHS:
        answer(board, kind, number, "UNSUPPORTED")
    elif len(payload) < LENGTHS[kind]:
        if kind != 0x02:
            answer(board, kind, number, "MALFORMED")
    elif kind == 0x01:
        greets(board, *struct.unpack_from("<BI", payload))
    elif kind == 0x02:
        token, rising = struct.unpack_from("<II", payload)
        if token and token == board["token"] and rising > board["alive"]:
            board["alive"] = rising
            board["lease_until"] = board["ms"] + 1000
    elif kind == 0x03:
        answer(board, kind, 0, "DONE")
    else:
        numbered(board, kind, number, payload)


def greets(board, version, token):
    if version == 1 and (token == 0 or token != board["token"]):
        if token == 0:
            answer(board, 0x01, 0, "BAD_VALUE", 1)
            return
        if leased(board):
            answer(board, 0x01, 0, "HELD")
            return
        board |= {"token": token, "alive": 0, "lease_until": 0, "last": (0, None, None)}
        rises(board)
    welcome(board, token)


def rises(board):
    board["revision"] = (board["revision"] + 1) % 65536


def numbered(board, kind, number, payload):
    last, content, said = board["last"]
    if not board["token"] or struct.unpack_from("<I", payload)[0] != board["token"]:
        answer(board, kind, number, "NO_SESSION")
    elif number == last and content == (kind, payload):
        send(board, 0x83, number, said)
    elif number != last % 255 + 1:
        answer(board, kind, number, "CONFLICT")
    else:
        word, detail = judged(board, kind, payload)
        board["last"] = (number, (kind, payload), answer(board, kind, number, word, detail))


def judged(board, kind, payload):
    now = (board["boot"], board["wind"], board["revision"])
    if kind == 0x13:
        return "DONE", 0
    if kind == 0x10:
        boot, revision, wind = struct.unpack_from("<HHI", payload, 4)
        if (boot, revision) != (now[0], now[2]):
            return "STALE", 0
        return opened(board, wind)
    if struct.unpack_from("<HIH", payload, 4) != now:
        return "STALE", 0
    if kind == 0x14 or not board["wind"]:
        return "WRONG_STATE", 0
    if kind == 0x12:
        board |= {"wind": 0, "target": None}
        rises(board)
        return "DONE", 0
    count, early = struct.unpack_from("<iI", payload, 12)
    if not 1 <= count <= 2**30:
        return "BAD_VALUE", 4
    if early > count:
        return "BAD_VALUE", 5
    board["target"] = count
    call_out(board)
    return "DONE", 0


def opened(board, wind):
    if board["wind"]:
        return "WRONG_STATE", 0
    if not wind:
        return "BAD_VALUE", 3
    board |= {"wind": wind, "count": 0, "target": None, "quiet_from": board["ms"]}
    rises(board)
    return "DONE", 0
