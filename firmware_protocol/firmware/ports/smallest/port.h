/* The smallest board: an ATmega328P with one sensor, one beeper and a serial line. It counts; it moves nothing.
 *
 *   PD0 RX, PD1 TX   serial line, 500000 baud
 */
#ifndef PORT_H
#define PORT_H

#include <avr/eeprom.h>
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/pgmspace.h>
#include <avr/wdt.h>
#include <stdbool.h>
#include <stdint.h>

#include "messages.h"

extern struct msg_settings settings;

#define PORT_DIRECTION_SENSE 0
#define PIN_SENSOR _BV(PD2) /* INT0: one pulse a count, pull-up on */
#define PIN_BEEP _BV(PB0)   /* a beeper with a tone of its own, on while high */
#define PORT_CLOCK_HZ 250000UL
#define PORT_CLOCK_A_MS 250u
#define PORT_NV_BYTES 1024

#define PORT_BOUNCE_TICKS port_bounce_ticks
#define PORT_LEAST_TICKS port_least_ticks
#define PORT_FLASH PROGMEM
#define PORT_FLASH_U8(at) pgm_read_byte(at)
#define PORT_FLASH_U32(at) pgm_read_dword(at)

extern volatile uint16_t port_clock_base; /* of the last whole millisecond */
extern uint16_t port_bounce_ticks, port_least_ticks;

static inline uint8_t port_lock(void) {
    uint8_t before = SREG;
    cli();
    return before;
}

static inline void port_unlock(uint8_t before) { SREG = before; }

static inline __attribute__((always_inline)) uint16_t port_edge_clock(void) {
    uint8_t part = TCNT0;
    uint16_t clock = port_clock_base + part;
    /* The timer has begun its next millisecond and its interrupt still waits. */
    if ((TIFR0 & _BV(OCF0A)) && part < PORT_CLOCK_A_MS / 2)
        clock += PORT_CLOCK_A_MS;
    return clock;
}

static inline uint16_t port_clock(void) {
    uint8_t before = port_lock();
    uint16_t clock = port_edge_clock();
    port_unlock(before);
    return clock;
}

static inline void port_send(void) {
    uint8_t before = port_lock();
    UCSR0B |= _BV(UDRIE0);
    port_unlock(before);
}

static inline void port_watchdog(void) { wdt_reset(); }
static inline bool port_wire_present(void) { return true; }
static inline bool port_nv_ready(void) { return !(EECR & _BV(EEPE)); }

static inline uint8_t port_nv_read(uint16_t at) {
    EEAR = at;
    EECR |= _BV(EERE);
    return EEDR;
}

static inline void port_nv_write(uint16_t at, uint8_t byte) {
    uint8_t before = port_lock(); /* the second bit must follow the first within four cycles */
    EEAR = at;
    EEDR = byte;
    EECR |= _BV(EEMPE);
    EECR |= _BV(EEPE);
    port_unlock(before);
}

static inline bool port_can_sense(uint8_t sensor) { return sensor == SENSOR_ONE_PULSE; }

/* A third of what was counted without loss at full traffic (docs/firmware.md), less the longer the filter waits; or what
 * the sensor gives by its shortest period, of which a true one has half as much again. */
static inline uint32_t port_edge_rate_max_cps(uint8_t sensor, uint8_t filter_us) {
    (void)sensor;
    uint32_t counted = 1000000UL / (5u * (filter_us + 16u));
    uint16_t least_us = settings.least_period_us;
    uint32_t given = least_us ? 480000UL / least_us : counted;
    return given < counted ? given : counted;
}

void port_take_settings(void);
void port_restart(void);

#endif
