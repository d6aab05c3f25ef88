#include "link.h"

#include "frame.h"

struct link link_rings;

void link_clear(void) {
    memset(&link_rings, 0, sizeof link_rings);
}

bool link_take(uint8_t *byte) {
    uint8_t tail = link_rings.rx_tail;
    if (tail == link_rings.rx_head)
        return false;
    *byte = link_rings.rx[tail];
    link_rings.rx_tail = (uint8_t)((tail + 1u) & (LINK_RX_BYTES - 1u));
    return true;
}

static uint8_t room(void) {
    return (uint8_t)((link_rings.tx_tail - link_rings.tx_head - 1u) & (LINK_TX_BYTES - 1u));
}

/* COBS straight into the ring: a frame of its own would take 130 bytes of stack. */
struct stuffing {
    uint8_t head, code_at, code;
};

static void stuff_zero(struct stuffing *frame) {
    link_rings.tx[frame->code_at] = frame->code;
    frame->code_at = frame->head;
    frame->code = 1;
    frame->head = (uint8_t)((frame->head + 1u) & (LINK_TX_BYTES - 1u));
}

static void stuff(struct stuffing *frame, const uint8_t *bytes, uint8_t length) {
    for (; length--; bytes++) {
        if (*bytes == 0) {
            stuff_zero(frame);
            continue;
        }
        link_rings.tx[frame->head] = *bytes;
        frame->code++;
        frame->head = (uint8_t)((frame->head + 1u) & (LINK_TX_BYTES - 1u));
    }
}

void link_put_frame(uint8_t kind, uint8_t sequence, const uint8_t *payload, uint8_t bytes) {
    uint8_t begin[2] = {kind, sequence}, crc[4];
    /* A flood of commands must not starve the statuses: all else leaves room for one. */
    uint8_t reserve = kind == KIND_STATUS ? 0 : MSG_STATUS_BYTES + BODY_BYTES_MIN + 2u;
    if (bytes > PAYLOAD_BYTES_MAX || bytes + BODY_BYTES_MIN + 2u + reserve > room())
        return;
    put_u32(crc, crc32(crc32(CRC32_START, begin, sizeof begin), payload, bytes));
    struct stuffing frame = {.head = link_rings.tx_head, .code_at = link_rings.tx_head, .code = 0};
    stuff_zero(&frame); /* opens the first piece */
    stuff(&frame, begin, sizeof begin);
    stuff(&frame, payload, bytes);
    stuff(&frame, crc, sizeof crc);
    stuff_zero(&frame);
    link_rings.tx[frame.code_at] = 0; /* the delimiter */
    link_rings.tx_head = frame.head; /* at once: the interrupt never sees half a frame */
    port_send();
}
