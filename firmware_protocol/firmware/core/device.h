/* The board's end of the protocol: frames and milliseconds in, frames and orders out.
 *
 * Sessions, numbering, the order of refusals, lease and status, as device.py has them; the two must answer
 * the same bytes. What is not a whole frame never comes here.
 */
#ifndef CORE_DEVICE_H
#define CORE_DEVICE_H

#include "board.h"

struct device {
    uint32_t token; /* of the open session; 0: none */
    uint32_t alive_number;
    uint32_t alive_ms; /* the last valid sign of life */
    uint32_t status_due_ms;
    uint32_t detail; /* what the verdict of the newest command says more */
    uint16_t boot;
    bool lease_live;
    bool renews; /* the newest command's settings are to be kept, and to boot with */
    uint8_t last_sequence;
    /* The last numbered command and its answer, to be given again. */
    uint8_t last_kind; /* 0: none in this session */
    uint8_t last_bytes;
    uint8_t last_payload[PAYLOAD_BYTES_MAX];
    uint8_t answer_payload[MSG_ANSWER_BYTES];
};

extern struct device device;

void device_boot(uint16_t boot, uint32_t now_ms, bool by_watchdog);
void device_take(uint8_t kind, uint8_t sequence, const uint8_t *payload, uint8_t bytes, uint32_t now_ms);
void device_tick(uint32_t now_ms);

bool speaks(uint8_t group); /* this board has it */

/* commands.c: judge the values and conditions of a command whose session, number, boot, wind, revision and
 * state are in order, and carry it out or refuse it. The verdict; its detail, if not 0, goes to device.detail. */
uint8_t command_hindrance(void); /* what keeps anything at all from moving; DONE if nothing does */
uint8_t command_carry_out(uint8_t kind, const uint8_t *payload);

#endif
