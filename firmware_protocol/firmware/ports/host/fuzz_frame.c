/* libFuzzer: the frame reader and the stuffing alone, in buffers of their exact size.
 *
 * What the reader takes for a frame must be one: written anew it gives the same frame again. The decoder is
 * also given the bytes directly, for short frames hide what happens at its ends.
 */
#include <stdlib.h>

#include "frame.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void check(bool so) {
    if (!so)
        abort();
}

static void decode_alone(const uint8_t *data, uint8_t length) {
    uint8_t *stuffed = malloc(length + 1u), *again = malloc(length + 1u);
    memcpy(stuffed, data, length);
    uint8_t plain = cobs_decode(stuffed, length);
    check(plain == COBS_BAD || plain < length || length == 0);
    if (plain != COBS_BAD && length != 0 && memchr(data, 0, length) == NULL) /* no line gives zeros */
        check(cobs_encode(again, stuffed, plain) == length && memcmp(again, data, length) == 0);
    free(stuffed);
    free(again);
}

static void read_stream(const uint8_t *data, size_t size) {
    struct frame_reader *reader = calloc(1, sizeof *reader);
    uint8_t frame[FRAME_BYTES_MAX];
    for (size_t i = 0; i < size; i++) {
        if (!frame_take(reader, data[i]))
            continue;
        check(reader->payload_bytes <= PAYLOAD_BYTES_MAX);
        const uint8_t *bytes = reader->bytes;
        uint8_t length = frame_write(frame, bytes[0], bytes[1], bytes + 2, reader->payload_bytes);
        check(length <= i + 1 && memcmp(frame, data + i + 1 - length, length) == 0);
    }
    free(reader);
}

/* A body whose CRC is right: what is behind the CRC is reached. */
static void read_sound(const uint8_t *data, size_t size) {
    struct frame_reader reader = {0};
    uint8_t frame[FRAME_BYTES_MAX];
    uint8_t payload = (uint8_t)(size - 2 < PAYLOAD_BYTES_MAX ? size - 2 : PAYLOAD_BYTES_MAX);
    uint8_t length = frame_write(frame, data[0], data[1], data + 2, payload);
    bool found = false;
    for (uint8_t i = 0; i < length; i++)
        found = frame_take(&reader, frame[i]);
    check(found && reader.payload_bytes == payload && memcmp(reader.bytes, data, payload + 2u) == 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    if (size < 2)
        return 0;
    if (size <= 253)
        decode_alone(data, (uint8_t)size);
    read_stream(data, size);
    read_sound(data, size);
    return 0;
}
