#include "host.h"

#include "guide.h"

#define SENT_BYTES_MAX (1u << 20)

struct host host = {.nv_write_ms = 4, .gap_ticks = UINT32_MAX};

PORT_CONST struct identity identity = {
    .board = "host",
#if CORE_MOTOR
    .groups = {1, 1, 1, 1, 0, 0},
    .legs_max = CORE_LEGS_MAX,
    .rate_max_mcps = 2000000,
    .cut_ms = 2000,
    .rest_ms = 6000,
#else
    .groups = {1, 0, 0, 0, 0, 0},
#endif
    .edge_rate_max_cps = 20000,
};

#if CORE_MOTOR
PORT_CONST struct traverse traverse = TRAVERSE_OF(400000u, 100000u, 20000u);
#endif

PORT_CONST struct motor motor = {
    .full_rate_mcps = 2500000,
    .full_accel_mcps2 = 10000000,
    .friction_permille = 80,
    .brake_permille = 500,
};

static uint8_t sent[SENT_BYTES_MAX];
static size_t sent_length;

bool port_nv_ready(void) {
    return host.nv_wait_ms == 0;
}

uint8_t port_nv_read(uint16_t at) {
    return host.nv[at];
}

void port_nv_write(uint16_t at, uint8_t byte) {
    if (at < host.worn_at || at >= host.worn_at + host.worn_bytes)
        host.nv[at] = byte;
    host.nv_wait_ms = host.nv_write_ms;
    host.nv_writes++;
}

static void carry_off(void) {
    uint8_t byte;
    while (sent_length < SENT_BYTES_MAX && link_next(&byte))
        sent[sent_length++] = byte;
}

void host_turns(void) {
    while (core_turn())
        carry_off();
    carry_off();
}

void host_boot(bool by_watchdog) {
    uint16_t write_ms = host.nv_write_ms;
    host.nv_write_ms = host.nv_wait_ms = 0; /* a boot waits for its memory; here no time passes meanwhile */
    sent_length = 0;
    core_boot(by_watchdog);
    host.nv_write_ms = write_ms;
}

void host_receive(const uint8_t *bytes, size_t length) {
    while (length--) {
        link_received(*bytes++);
        host_turns();
    }
}

void host_millisecond(void) {
    host.clock += PORT_CLOCK_HZ / 1000;
    if (host.nv_wait_ms)
        host.nv_wait_ms--;
#if CORE_MOTOR
    for (uint8_t half = (uint8_t)(2u * host.steps_a_ms); half != 0 && host.steps_a_ms != 0; half--)
        if (!guide_pulse())
            host.steps_a_ms = 0;
#endif
    core_millisecond();
    host_turns();
}

void host_edge(bool backward) {
    edge_seen(backward);
}

void host_pulse_end(void) {
    edge_ended();
}

size_t host_sent(uint8_t *to, size_t room) {
    size_t length = sent_length < room ? sent_length : room;
    memcpy(to, sent, length);
    memmove(sent, sent + length, sent_length - length);
    sent_length -= length;
    return length;
}
