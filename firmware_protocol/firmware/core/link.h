/* Bytes between the interrupts of the serial line and the main loop.
 *
 * Two rings whose sizes are powers of two up to 256. Each has one writer and one reader, so 8-bit indices are
 * enough on a chip that moves a byte at once. A byte that finds its ring full is lost; the frame it belonged
 * to is then damaged and dropped by the reader, and the host sends it again.
 */
#ifndef CORE_LINK_H
#define CORE_LINK_H

#include "hal.h"

#ifndef LINK_RX_BYTES
#define LINK_RX_BYTES 128
#endif
#ifndef LINK_TX_BYTES
#define LINK_TX_BYTES 128
#endif
_Static_assert((LINK_RX_BYTES & (LINK_RX_BYTES - 1)) == 0 && LINK_RX_BYTES <= 256, "indices wrap");
_Static_assert((LINK_TX_BYTES & (LINK_TX_BYTES - 1)) == 0 && LINK_TX_BYTES <= 256, "indices wrap");
_Static_assert(LINK_TX_BYTES > FRAME_BYTES_MAX, "a whole frame fits");

struct link {
    volatile uint8_t rx_head, rx_tail, tx_head, tx_tail; /* written at head, read at tail */
    volatile uint8_t rx_lost;                            /* bytes, stays at 255 */
    uint8_t rx[LINK_RX_BYTES];
    uint8_t tx[LINK_TX_BYTES];
};

extern struct link link_rings;

/* From the receive interrupt: one byte came. */
static inline void link_received(uint8_t byte) {
    uint8_t head = link_rings.rx_head;
    uint8_t next = (uint8_t)((head + 1u) & (LINK_RX_BYTES - 1u));
    if (next == link_rings.rx_tail) {
        if (link_rings.rx_lost != UINT8_MAX)
            link_rings.rx_lost++;
        return;
    }
    link_rings.rx[head] = byte;
    link_rings.rx_head = next;
}

/* From the transmit interrupt: the next byte to send; false: none, so let the interrupt sleep. */
static inline bool link_next(uint8_t *byte) {
    uint8_t tail = link_rings.tx_tail;
    if (tail == link_rings.tx_head)
        return false;
    *byte = link_rings.tx[tail];
    link_rings.tx_tail = (uint8_t)((tail + 1u) & (LINK_TX_BYTES - 1u));
    return true;
}

static inline bool link_has_bytes(void) {
    return link_rings.rx_tail != link_rings.rx_head;
}

/* For the main loop. */
void link_clear(void);
bool link_take(uint8_t *byte);                          /* the next received byte */
void link_put_frame(uint8_t kind, uint8_t sequence, const uint8_t *payload, uint8_t bytes);
                                                        /* whole, or not at all when the ring is full */
#endif
