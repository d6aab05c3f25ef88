/* Frames: COBS with a zero delimiter around kind, sequence, payload and CRC-32 (specification, section 3).
 *
 * The reader collects the bytes between two zeros in one buffer of a frame's size and undoes the stuffing in
 * place. The CRC goes through a table of sixteen values, half a byte at a time: 64 bytes of program memory.
 */
#ifndef CORE_FRAME_H
#define CORE_FRAME_H

#include "hal.h"

#define STUFFED_BYTES_MAX (FRAME_BYTES_MAX - 1)
#define BODY_BYTES_MIN 6 /* kind, sequence, four of CRC */
#define BODY_BYTES_MAX (BODY_BYTES_MIN + PAYLOAD_BYTES_MAX)

#define CRC32_START UINT32_C(0)

/* CRC-32 of IEEE 802.3 over these bytes; goes on from the CRC of the bytes before, or from CRC32_START. */
uint32_t crc32(uint32_t before, const uint8_t *bytes, uint8_t length);

/* Writes at most length + 1 bytes without a delimiter; returns how many. At most 253 bytes of plain text. */
uint8_t cobs_encode(uint8_t *to, const uint8_t *from, uint8_t length);

/* Undoes the stuffing in place; returns the plain length, or COBS_BAD. */
#define COBS_BAD 255
uint8_t cobs_decode(uint8_t *bytes, uint8_t length);

/* A whole frame with its delimiter; `to` holds FRAME_BYTES_MAX. Returns its length. */
uint8_t frame_write(uint8_t *to, uint8_t kind, uint8_t sequence, const uint8_t *payload, uint8_t length);

struct frame_reader {
    uint8_t bytes[STUFFED_BYTES_MAX];
    uint8_t length;
    bool skipping;           /* inside an overlong run, until the next delimiter */
    uint8_t payload_bytes;   /* of the frame found last */
    uint16_t good, damaged, overlong; /* so far, wrapping; zeros next to each other are none of these */
};

/* Take one byte; true when it completes a sound frame: then kind, sequence and payload are
 * bytes[0], bytes[1] and bytes[2] onward, good until the next byte is taken. */
bool frame_take(struct frame_reader *reader, uint8_t byte);

#endif
