/* The core on a computer: pins, clock and memory are variables that a test or a model moves.
 *
 * One board a process. Nothing here waits and nothing runs by itself.
 */
#ifndef HOST_PORT_H
#define HOST_PORT_H

#include <stdbool.h>
#include <stdint.h>

#include "messages.h"

extern struct msg_welcome identity;

#ifndef CORE_COUNTER_ONLY
#define CORE_PEDAL 1
#define CORE_FAR 1
#endif

#define PORT_CLOCK_HZ 250000
#define PORT_NV_BYTES 1024
#define PORT_DIRECTION_SENSE host.direction_sense
#define PORT_BOUNCE_TICKS host.bounce_ticks
#define PORT_LEAST_TICKS host.least_ticks

struct host {
    uint32_t clock; /* ticks of port_clock(), more bits than the core sees */
    uint16_t duty_permille, brake_permille;
    bool reverse;
    bool direction_sense, guard_open, wire_lost;
    bool stop_pressed, pedal_pressed, limit_met;
    uint16_t nv_write_ms; /* how long a byte takes to be written */
    uint16_t nv_wait_ms;  /* until the byte that is being written is */
    uint32_t watchdog_kicks, nv_writes;
    uint8_t nv[PORT_NV_BYTES];
    bool step_high, step_rightward;
    uint8_t steps_a_ms; /* 0: the step timer stands */
    int32_t guide_steps; /* truly made, rightward */
    bool contactor;
    uint16_t bounce_ticks, least_ticks;
    uint32_t off_clock;          /* when drive or brake last went off */
    uint32_t gap_ticks;          /* the least time between one going off and the other on */
    bool overlapped;             /* both were on */
    bool last_driven, last_braked; /* which of the two was on last */
    uint32_t nv_writes_most; /* after so many writes the power is gone */
    uint16_t worn_at, worn_bytes; /* so many bytes from there keep what they hold */
    uint32_t locks_to_edge; /* an edge comes as interrupts go on again for the so-manieth time; 0: none does */
};

extern struct host host;
extern const uint32_t host_bytes; /* of it: who looks at it from outside has the same fields, or not */

static inline uint16_t port_clock(void) {
    return (uint16_t)host.clock;
}
static inline uint16_t port_edge_clock(void) {
    return port_clock();
}
static inline uint8_t port_lock(void) {
    return 0;
}
void port_unlock(uint8_t before);
static inline void port_send(void) {}
static inline void port_watchdog(void) {
    host.watchdog_kicks++;
}
static inline bool port_wire_present(void) {
    return !host.wire_lost;
}
static inline bool port_guard_open(void) {
    return host.guard_open;
}
static inline bool port_stop_pressed(void) {
    return host.stop_pressed;
}
static inline bool port_pedal_pressed(void) {
    return host.pedal_pressed;
}
static inline bool port_limit_met(void) {
    return host.limit_met;
}
static inline void host_watch(uint16_t duty, uint16_t brake) {
    bool was_on = host.duty_permille != 0 || host.brake_permille != 0;
    bool exchanged = (duty != 0 && host.last_braked) || (brake != 0 && host.last_driven);
    if (duty != 0 && brake != 0)
        host.overlapped = true;
    if (!was_on && exchanged && host.clock - host.off_clock < host.gap_ticks)
        host.gap_ticks = host.clock - host.off_clock;
    if (was_on && duty == 0 && brake == 0)
        host.off_clock = host.clock;
    if (duty != 0 || brake != 0) {
        host.last_driven = duty != 0;
        host.last_braked = brake != 0;
    }
    host.duty_permille = duty;
    host.brake_permille = brake;
}

static inline void port_drive(uint16_t permille, bool reverse) {
    host_watch(permille, host.brake_permille);
    host.reverse = reverse;
}
static inline void port_brake(uint16_t permille) {
    host_watch(host.duty_permille, permille);
}
static inline void port_cut(void) {
    host_watch(0, host.brake_permille);
}
static inline void port_contactor(bool closed) {
    host.contactor = closed;
}

static inline void port_step(bool high) {
    if (high && !host.step_high)
        host.guide_steps += host.step_rightward ? 1 : -1;
    host.step_high = high;
}
static inline void port_step_way(bool rightward) {
    host.step_rightward = rightward;
}
static inline uint8_t port_step_period(uint8_t a_ms) {
    return a_ms;
}
static inline void port_steps(uint8_t period, bool anew) {
    (void)anew;
    host.steps_a_ms = period;
}

static inline bool port_can_sense(uint8_t sensor) {
    return sensor <= SENSOR_ONE_PULSE;
}
static inline uint32_t port_edge_rate_max_cps(uint8_t sensor, uint8_t filter_us) {
    (void)sensor;
    (void)filter_us;
    return identity.edge_rate_max_cps;
}
void port_take_settings(void);
void port_restart(void);

bool port_nv_ready(void);
uint8_t port_nv_read(uint16_t at);
void port_nv_write(uint16_t at, uint8_t byte);

#endif
