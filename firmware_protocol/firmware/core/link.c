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

void link_put_frame(uint8_t kind, uint8_t sequence, const uint8_t *payload, uint8_t bytes) {
    uint8_t frame[FRAME_BYTES_MAX];
    uint8_t length = frame_write(frame, kind, sequence, payload, bytes);
    if (length > room())
        return;
    uint8_t head = link_rings.tx_head;
    for (uint8_t i = 0; i < length; i++) {
        link_rings.tx[head] = frame[i];
        head = (uint8_t)((head + 1u) & (LINK_TX_BYTES - 1u));
    }
    link_rings.tx_head = head; /* at once: the interrupt never sees half a frame */
    port_send();
}
