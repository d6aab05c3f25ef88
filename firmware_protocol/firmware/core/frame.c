#include "frame.h"

static const PORT_FLASH uint32_t crc_of_nibble[16] = {
    0x00000000, 0x1DB71064, 0x3B6E20C8, 0x26D930AC, 0x76DC4190, 0x6B6B51F4, 0x4DB26158, 0x5005713C,
    0xEDB88320, 0xF00F9344, 0xD6D6A3E8, 0xCB61B38C, 0x9B64C2B0, 0x86D3D2D4, 0xA00AE278, 0xBDBDF21C,
};

uint32_t crc32(uint32_t before, const uint8_t *bytes, uint8_t length) {
    uint32_t crc = ~before;
    while (length--) {
        crc ^= *bytes++;
        for (uint8_t nibbles = 2; nibbles--;)
            crc = (crc >> 4) ^ PORT_FLASH_U32(&crc_of_nibble[(uint8_t)crc & 15u]);
    }
    return ~crc;
}

uint8_t cobs_encode(uint8_t *to, const uint8_t *from, uint8_t length) {
    uint8_t code_at = 0, at = 1, code = 1;
    while (length--) {
        if (*from) {
            to[at++] = *from;
            code++;
        } else {
            to[code_at] = code;
            code_at = at++;
            code = 1;
        }
        from++;
    }
    to[code_at] = code;
    return at;
}

uint8_t cobs_decode(uint8_t *bytes, uint8_t length) {
    uint8_t from = 0, to = 0;
    while (from < length) {
        uint8_t code = bytes[from++];
        if (code == 0 || code - 1u > (uint8_t)(length - from))
            return COBS_BAD;
        while (--code)
            bytes[to++] = bytes[from++];
        if (from < length)
            bytes[to++] = 0;
    }
    return to;
}

uint8_t frame_write(uint8_t *to, uint8_t kind, uint8_t sequence, const uint8_t *payload, uint8_t length) {
    uint8_t body[BODY_BYTES_MAX];
    if (length > PAYLOAD_BYTES_MAX)
        return 0; /* no message is so long */
    body[0] = kind;
    body[1] = sequence;
    memcpy(body + 2, payload, length);
    put_u32(body + 2 + length, crc32(CRC32_START, body, (uint8_t)(length + 2)));
    uint8_t stuffed = cobs_encode(to, body, (uint8_t)(length + BODY_BYTES_MIN));
    to[stuffed] = 0;
    return (uint8_t)(stuffed + 1);
}

static bool frame_is_sound(struct frame_reader *reader) {
    uint8_t length = cobs_decode(reader->bytes, reader->length);
    if (length == COBS_BAD || length < BODY_BYTES_MIN)
        return false;
    uint8_t checked = (uint8_t)(length - 4);
    reader->payload_bytes = (uint8_t)(checked - 2);
    return crc32(CRC32_START, reader->bytes, checked) == get_u32(reader->bytes + checked);
}

bool frame_take(struct frame_reader *reader, uint8_t byte) {
    if (byte != 0) {
        if (reader->skipping)
            return false;
        if (reader->length == STUFFED_BYTES_MAX) {
            reader->length = 0;
            reader->skipping = true;
            reader->overlong++;
            return false;
        }
        reader->bytes[reader->length++] = byte;
        return false;
    }
    bool sound = false;
    if (reader->length != 0) {
        sound = frame_is_sound(reader);
        if (sound)
            reader->good++;
        else
            reader->damaged++;
    }
    reader->length = 0;
    reader->skipping = false;
    return sound;
}
