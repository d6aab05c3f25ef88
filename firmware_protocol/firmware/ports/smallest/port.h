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

#define PORT_DIRECTION_SENSE 0
#define PIN_SENSOR _BV(PD2) /* INT0: one pulse a count, pull-up on */
#define PIN_BEEP _BV(PB0)   /* a beeper with a tone of its own, on while high */
#define PORT_CLOCK_HZ 250000UL
#define PORT_CLOCK_A_MS 250u
#define PORT_NV_BYTES 1024

/* The highest rate of the sensor, counts/s, and how long it bounces, us: at most half a period. An edge sooner than
 * half the shortest period (marks may be uneven) is not counted but told. */
#ifndef SETTING_RATE_MAX_CPS
#define SETTING_RATE_MAX_CPS 100UL
#endif
#ifndef SETTING_BOUNCE_US
#define SETTING_BOUNCE_US (160000UL / SETTING_RATE_MAX_CPS)
#endif
_Static_assert(SETTING_RATE_MAX_CPS * SETTING_BOUNCE_US <= 500000UL && SETTING_RATE_MAX_CPS >= 10 && SETTING_RATE_MAX_CPS <= 30000, "tellable times");
#define PORT_BOUNCE_TICKS (SETTING_BOUNCE_US / 4)
#define PORT_LEAST_TICKS (480000UL / SETTING_RATE_MAX_CPS / 4 - 3) /* an interrupt may be 12 us late */
#define PORT_FLASH PROGMEM
#define PORT_FLASH_U8(at) pgm_read_byte(at)
#define PORT_FLASH_U32(at) pgm_read_dword(at)

extern volatile uint16_t port_clock_base; /* of the last whole millisecond */

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

#endif
