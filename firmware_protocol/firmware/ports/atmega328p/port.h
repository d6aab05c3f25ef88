/* The core's hardware on an ATmega328P at 16 MHz (HAL: core/hal.h).
 *
 *   PD0 RX, PD1 TX      serial line, 500000 baud
 *   PD2 = INT0, PD3 = INT1   sensor A and B, pull-ups on; no output shares this port, so that writing to one
 *                       never touches the sensor's pull-ups
 *   PB0                 motor enable. MUST have a pull-down resistor: while the chip is in reset, starting or
 *                       without a program its pins float, and only the resistor keeps the motor off then
 *   PB1 = OC1A          motor duty, 20 kHz
 *   PB2 = OC1B          brake, 20 kHz; a brake that is only on or off goes through a switch that has its own level
 *   PB3                 motor backward
 *   PB4                 contactor of the motor's supply, closed while high; a pull-down resistor keeps it open
 *                       while the pins float
 *   PC0, PC1            guide: step (on the rising edge) and direction (high: rightward)
 *   PC2                 guard switch to ground, closed when the guard is shut; a broken wire reads as open
 *   PC3                 wire sensor, low when the wire is there; a broken wire reads as lost
 *
 * CAUTION. None of this is a safety function. A switch that takes the power from the motor must not depend on
 * this chip.
 *
 * Timer 0 gives the millisecond and the clock of the edges (4 us), timer 1 both pulse widths, timer 2 the guide's
 * steps. The clock is the milliseconds' base plus the timer, so one timer serves both.
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

/* What the interrupts need of the settings lies in registers that one instruction reads. */
#define HOW GPIOR0
#define HOW_ONE_PULSE _BV(0)
#define HOW_RESTARTS _BV(1)
#define OFF_B GPIOR1 /* each output's level while it is off */

#define PORT_DIRECTION_SENSE (!(HOW & HOW_ONE_PULSE))
#define PORT_CLOCK_HZ 250000UL
#define PORT_CLOCK_A_MS 250u
#define PORT_NV_BYTES 1024
#define PORT_BOUNCE_TICKS port_bounce_ticks
#define PORT_LEAST_TICKS port_least_ticks
#define PORT_FLASH PROGMEM
#define PORT_FLASH_U8(at) pgm_read_byte(at)
#define PORT_FLASH_U32(at) pgm_read_dword(at)

#define PIN_ENABLE _BV(PB0)
#define PIN_DUTY _BV(PB1)
#define PIN_BRAKE _BV(PB2)
#define PIN_BACKWARD _BV(PB3)
#define PIN_CONTACTOR _BV(PB4)
#define PIN_STEP _BV(PC0)
#define PIN_STEP_RIGHT _BV(PC1)
#define PIN_GUARD _BV(PC2)
#define PIN_WIRE _BV(PC3)
#define PIN_A _BV(PD2)
#define PIN_B _BV(PD3)

#define OUTPUTS_B (PIN_ENABLE | PIN_DUTY | PIN_BRAKE | PIN_BACKWARD | PIN_CONTACTOR)

/* With interrupts off. */
static inline void pins_b(uint8_t pins, bool on) {
    uint8_t off = OFF_B;
    PORTB = (uint8_t)((PORTB & ~pins) | ((on ? ~off : off) & pins));
}

#define DUTY_TOP 799u /* 16 MHz / 800 = 20 kHz: nobody hears it */
#define DUTY_OF(permille) ((uint16_t)(((uint32_t)(permille) * 52363UL) >> 16)) /* times 0.799, without a division */

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

/* Its interrupt acts first; that clears WDIE, so the next time out would be a reset. */
static inline void port_watchdog(void) { wdt_reset(); }

/* Both inputs where `inputs` has its bits, two places higher. */
static inline uint8_t port_open_inputs(void) { return PINC & (uint8_t)(settings.inputs << 2); }
static inline bool port_wire_present(void) { return !(port_open_inputs() & PIN_WIRE); }
static inline bool port_guard_open(void) { return port_open_inputs() & PIN_GUARD; }

#define PWM_DUTY (_BV(COM1A1) | _BV(COM1A0))
#define PWM_BRAKE (_BV(COM1B1) | _BV(COM1B0))

/* Pulse width on a pin: inverted where it is on while low. */
static inline void pulse(uint8_t pwm, uint8_t pin) {
    TCCR1A = (uint8_t)((TCCR1A & ~pwm) | (pwm & (OFF_B & pin ? 0xFFu : _BV(COM1A1) | _BV(COM1B1))));
}

static inline __attribute__((always_inline)) void port_cut(void) {
    uint8_t off = OFF_B & (PIN_ENABLE | PIN_DUTY);
    PORTB = (uint8_t)((PORTB & ~(PIN_ENABLE | PIN_DUTY)) | off);
    TCCR1A &= (uint8_t)~PWM_DUTY;
}

/* Off is disconnected, full is disconnected and on, so neither has a spike in it. */
static inline void port_drive(uint16_t permille, bool reverse) {
    uint8_t before = port_lock();
    if (permille == 0) {
        port_cut();
    } else {
        pins_b(PIN_BACKWARD, reverse);
        OCR1A = DUTY_OF(permille);
        pulse(PWM_DUTY, PIN_DUTY);
        pins_b(PIN_ENABLE, true);
    }
    port_unlock(before);
}

static inline void port_brake(uint16_t permille) {
    uint8_t before = port_lock();
    if (permille == 0 || permille >= 1000) {
        TCCR1A &= (uint8_t)~PWM_BRAKE;
        pins_b(PIN_BRAKE, permille != 0);
    } else {
        OCR1B = DUTY_OF(permille);
        pulse(PWM_BRAKE, PIN_BRAKE);
    }
    port_unlock(before);
}

static inline void port_contactor(bool closed) {
    uint8_t before = port_lock();
    pins_b(PIN_CONTACTOR, closed);
    port_unlock(before);
}

static inline void port_step(bool high) {
    if (high)
        PORTC |= PIN_STEP;
    else
        PORTC &= (uint8_t)~PIN_STEP;
}

static inline void port_step_way(bool rightward) {
    if (rightward)
        PORTC |= PIN_STEP_RIGHT;
    else
        PORTC &= (uint8_t)~PIN_STEP_RIGHT;
}

/* Timer 2 in steps of 2 us: half a step lasts 500 us over their number. Its clock stands while nothing is to do. */
static inline uint8_t port_step_period(uint8_t a_ms) { return (uint8_t)((249u + a_ms) / a_ms - 1u); }

static inline void port_steps(uint8_t period, bool anew) {
    if (anew || TCCR2B == 0 || TCNT2 >= period) {
        TCNT2 = 0;
        TIFR2 = _BV(OCF2A);
    }
    OCR2A = period;
    TIMSK2 = _BV(OCIE2A);
    TCCR2B = _BV(CS21) | _BV(CS20);
}

/* A write takes the chip 3.4 ms, in which the program runs on; the core asks first. */
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

static inline bool port_can_sense(uint8_t sensor) {
    return sensor <= SENSOR_ONE_PULSE;
}

/* Half of what is counted without loss at full traffic, or less (docs/firmware.md tells how it was measured). A pulse
 * has two interrupts, and the filter's time in each; with two counts a period the way is read from B, which changes half
 * a count later. */
static inline uint32_t port_edge_rate_max_cps(uint8_t sensor, uint8_t filter_us) {
    uint16_t us = filter_us * 3u + (sensor == SENSOR_ONE_PULSE ? 45u : 40u);
    return 1000000UL / (sensor == SENSOR_FOUR_EDGES ? us : 2u * us);
}

void port_take_settings(void);
void port_restart(void);

#endif
