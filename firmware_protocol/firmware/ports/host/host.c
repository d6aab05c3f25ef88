#include "host.h"

#include "guide.h"

#define SENT_BYTES_MAX (1u << 20)

struct host host = {.nv_write_ms = 4, .gap_ticks = UINT32_MAX, .nv_writes_most = UINT32_MAX};
const uint32_t host_bytes = sizeof host;

struct msg_welcome identity = {
    .board = "host",
#if CORE_MOTOR
    .groups = {1, 1, 1, 1, 0, 1},
    .legs_max = CORE_LEGS_MAX,
    .rate_max_mcps = 2000000,
    .cut_ms = 2000,
    .rest_ms = 6000,
#else
    .groups = {1, 0, 0, 0, 0, 1},
#endif
    .edge_rate_max_cps = 20000,
};

/* As the identity says; a test may make them differ. */
struct msg_settings settings = {
    .sensor = SENSOR_FOUR_EDGES,
#if CORE_MOTOR
    .driver = DRIVER_ENABLE_AND_DIRECTION,
    .inputs = WIRED_GUARD | WIRED_WIRE_SENSOR,
    .dead_ms = 1,
    .rate_max_mcps = 2000000,
    .full_rate_mcps = 2500000,
    .full_accel_mcps2 = 10000000,
    .friction_permille = 80,
    .brake_permille = 500,
    .cut_ms = 2000,
    .rest_ms = 6000,
    .step_pm = 2500000,
    .travel_steps = 40000,
    .steps_a_ms = 20,
#endif
};

static uint8_t sent[SENT_BYTES_MAX];
static size_t sent_length;

#define ASKED_MOST 1000 /* a loop that waits: no millisecond passes here before it is left */

bool port_nv_ready(void) {
    static uint32_t asked;
    if (host.nv_wait_ms == 0) {
        asked = 0;
    } else if (++asked > ASKED_MOST) {
        asked = 0;
        host.nv_wait_ms = 0;
    }
    return host.nv_wait_ms == 0;
}

uint8_t port_nv_read(uint16_t at) {
    return host.nv[at];
}

void port_nv_write(uint16_t at, uint8_t byte) {
    bool worn = at >= host.worn_at && at < host.worn_at + host.worn_bytes;
    if (!worn && host.nv_writes < host.nv_writes_most)
        host.nv[at] = byte;
    host.nv_wait_ms = host.nv_write_ms;
    host.nv_writes++;
}

static void carry_off(void) {
    uint8_t byte;
    while (sent_length < SENT_BYTES_MAX && link_next(&byte))
        sent[sent_length++] = byte;
}

static void boot(bool by_watchdog) {
    uint16_t write_ms = host.nv_write_ms;
    host.nv_write_ms = host.nv_wait_ms = 0; /* a boot waits for its memory; here no time passes meanwhile */
    core_boot(by_watchdog);
    host.nv_write_ms = write_ms;
}

void port_restart(void) {
    carry_off();
    boot(false);
}

/* A test may give another sense and other times than the settings. */
void port_take_settings(void) {
    if (settings.number == 0)
        return;
    host.direction_sense = settings.sensor != SENSOR_ONE_PULSE;
    host.bounce_ticks = (uint16_t)(settings.bounce_us / 4u);
    host.least_ticks = (uint16_t)(settings.least_period_us / 4u);
}

void host_turns(void) {
    while (core_turn())
        carry_off();
    carry_off();
}

void host_boot(bool by_watchdog) {
    sent_length = 0;
    boot(by_watchdog);
}

void host_receive(const uint8_t *bytes, size_t length) {
    while (length--) {
        link_received(*bytes++);
        host_turns();
    }
}

void host_receive_only(const uint8_t *bytes, size_t length) {
    while (length--)
        link_received(*bytes++);
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

void port_unlock(uint8_t before) {
    (void)before;
    if (host.locks_to_edge != 0 && --host.locks_to_edge == 0)
        host_edge(false);
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
