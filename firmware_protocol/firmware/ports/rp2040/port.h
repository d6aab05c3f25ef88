/* The core's hardware on an RP2040 at 125 MHz (HAL: core/hal.h).
 *
 *   GP0 TX, GP1 RX      serial line, 500000 baud; silent while the USB port is open
 *   GP2, GP3            sensor A and B, pull-ups on
 *   GP6                 motor duty, 20 kHz
 *   GP7                 brake, 20 kHz; a brake that is only on or off goes through a switch that has its own level
 *   GP8                 motor enable. MUST have a pull-down resistor: while the chip is in reset, starting or
 *                       without a program its pins float, and only the resistor keeps the motor off then
 *   GP9                 motor backward
 *   GP10, GP11          guide: step (on the rising edge) and direction (high: rightward)
 *   GP12                guard switch to ground, closed when the guard is shut; a broken wire reads as open
 *   GP13                wire sensor, low when the wire is there; a broken wire reads as lost
 *   GP14                contactor of the motor's supply, closed while high; a pull-down resistor keeps it open
 *                       while the pins float
 *
 *   GP15                foot pedal to ground, closed while it is pressed; a broken wire reads as let go
 *   GP16                stop switch to ground, open while it is pressed; a broken wire reads as pressed
 *   GP17                limit switch of the guide to ground, at its left end, open while the guide is there; a broken
 *                       wire reads as met
 *
 * All inputs and outputs are of 3.3 V; an input bears no more.
 *
 * CAUTION. None of this is a safety function. A switch that takes the power from the motor must not depend on
 * this chip.
 *
 * Everything runs from RAM, for flash is written while edges count (store.c). The timer's microseconds are the clock
 * of the edges, SysTick gives the millisecond, an alarm of the timer the guide's steps, one PWM slice both pulse
 * widths.
 */
#ifndef PORT_H
#define PORT_H

#include <stdbool.h>
#include <stdint.h>

#include "messages.h"
#include "registers.h"

extern struct msg_settings settings;

#define CORE_PEDAL 1
#define CORE_FAR 1
#define PORT_DIRECTION_SENSE (settings.sensor != SENSOR_ONE_PULSE)
#define PORT_CLOCK_SHIFT 2 /* ticks of 4 us */
#define PORT_CLOCK_HZ 250000UL
#define PORT_NV_BYTES 256
#define PORT_BOUNCE_TICKS port_bounce_ticks
#define PORT_LEAST_TICKS port_least_ticks
#define LINK_RX_BYTES 256
#define LINK_TX_BYTES 256

#define GP_TX 0u
#define GP_RX 1u
#define GP_A 2u
#define GP_B 3u
#define GP_DUTY 6u
#define GP_BRAKE 7u
#define GP_ENABLE 8u
#define GP_BACKWARD 9u
#define GP_STEP 10u
#define GP_STEP_RIGHT 11u
#define GP_GUARD 12u
#define GP_WIRE 13u
#define GP_CONTACTOR 14u
#define GP_PEDAL 15u
#define GP_STOP 16u
#define GP_LIMIT 17u
#define PIN(gp) (1u << (gp))

#define PORT_OUTPUTS (PIN(GP_ENABLE) | PIN(GP_BACKWARD) | PIN(GP_CONTACTOR) | PIN(GP_STEP) | PIN(GP_STEP_RIGHT))

extern uint16_t port_bounce_ticks, port_least_ticks;
extern uint32_t port_off;    /* each output's level while it is off */
extern uint32_t port_pulses; /* function of the two pins with a pulse width: none before it is known which level is off */

#define DUTY_TOP 6249u /* 125 MHz / 6250 = 20 kHz: nobody hears it */
#define DUTY_OF(permille) ((uint32_t)(permille) * 25u / 4u)

/* Such a pin has its pulses, or is held at once, which the compare register would do at the next period only. */
static inline uint32_t pulses(uint32_t gp) { return port_pulses | (port_off & PIN(gp) ? OVER_INVERTED : 0u); }
static inline uint32_t held_off(uint32_t gp) { return port_pulses | (port_off & PIN(gp) ? OVER_HIGH : OVER_LOW); }

static inline uint8_t port_lock(void) {
    uint32_t before;
    __asm volatile("mrs %0, primask\n cpsid i" : "=r"(before)::"memory");
    return (uint8_t)before;
}

static inline void port_unlock(uint8_t before) { __asm volatile("msr primask, %0" ::"r"((uint32_t)before) : "memory"); }

static inline uint16_t port_clock(void) { return (uint16_t)(TIMER_NOW >> PORT_CLOCK_SHIFT); }
static inline uint16_t port_edge_clock(void) { return port_clock(); }

static inline void port_output(uint32_t pin, bool on) {
    if (on != ((port_off & pin) != 0))
        GPIO_SET = pin;
    else
        GPIO_CLR = pin;
}

/* Either line's interrupt asks for the bytes; the one that is not in use lets them be. */
static inline void port_send(void) { NVIC_PEND = 1u << IRQ_UART0 | 1u << IRQ_USB; }

/* The chip counts two a microsecond (its erratum E1): 120 ms. */
static inline void port_watchdog(void) { WATCHDOG_LOAD = 2u * 120000u; }

static inline bool port_wire_present(void) { return !(settings.inputs & WIRED_WIRE_SENSOR && GPIO_IN & PIN(GP_WIRE)); }
static inline bool port_guard_open(void) { return settings.inputs & WIRED_GUARD && GPIO_IN & PIN(GP_GUARD); }

static inline bool port_pedal_pressed(void) { return settings.inputs & WIRED_PEDAL && !(GPIO_IN & PIN(GP_PEDAL)); }
static inline bool port_stop_pressed(void) { return settings.inputs & WIRED_STOP_INPUT && GPIO_IN & PIN(GP_STOP); }
static inline bool port_limit_met(void) { return settings.inputs & WIRED_LIMIT_SWITCH && GPIO_IN & PIN(GP_LIMIT); }

static inline void port_drive(uint16_t permille, bool reverse) {
    uint8_t before = port_lock();
    if (permille == 0) {
        port_output(PIN(GP_ENABLE), false);
        IO_CTRL(GP_DUTY) = held_off(GP_DUTY);
    } else {
        port_output(PIN(GP_BACKWARD), reverse);
        PWM3_COMPARE = (PWM3_COMPARE & 0xffff0000u) | DUTY_OF(permille);
        IO_CTRL(GP_DUTY) = pulses(GP_DUTY);
        port_output(PIN(GP_ENABLE), true);
    }
    port_unlock(before);
}

static inline void port_brake(uint16_t permille) {
    uint8_t before = port_lock();
    PWM3_COMPARE = (PWM3_COMPARE & 0xffffu) | DUTY_OF(permille) << 16;
    IO_CTRL(GP_BRAKE) = permille ? pulses(GP_BRAKE) : held_off(GP_BRAKE);
    port_unlock(before);
}

/* In the interrupt of the edge: enable off is one store, and first. The brake waits for the dead time. */
static inline __attribute__((always_inline)) void port_cut(void) {
    port_output(PIN(GP_ENABLE), false);
    IO_CTRL(GP_DUTY) = held_off(GP_DUTY);
}

static inline void port_contactor(bool closed) { port_output(PIN(GP_CONTACTOR), closed); }
static inline void port_step(bool high) {
    if (high)
        GPIO_SET = PIN(GP_STEP);
    else
        GPIO_CLR = PIN(GP_STEP);
}
static inline void port_step_way(bool rightward) {
    if (rightward)
        GPIO_SET = PIN(GP_STEP_RIGHT);
    else
        GPIO_CLR = PIN(GP_STEP_RIGHT);
}

/* Half a step lasts 500 us over their number, in steps of 2 us less one. */
static inline uint8_t port_step_period(uint8_t a_ms) { return (uint8_t)((249u + a_ms) / a_ms - 1u); }
void port_steps(uint8_t period, bool anew);

/* Something may turn: the log must not be busy with itself just now. */
static inline bool port_drives(void) { return (GPIO_OUT ^ port_off) & PIN(GP_ENABLE); }

static inline bool port_can_sense(uint8_t sensor) { return sensor <= SENSOR_ONE_PULSE; }
uint32_t port_edge_rate_max_cps(uint8_t sensor, uint8_t filter_us);
void port_take_settings(void);
void port_restart(void);

/* store.c */
void store_boot(void);      /* before interrupts */
void store_make_room(void); /* so that a boot of the core waits for no erasure */
uint8_t port_nv_read(uint16_t at);
bool port_nv_ready(void);
void port_nv_write(uint16_t at, uint8_t byte);
extern uint8_t store_flash_number[8]; /* of its own in each flash chip */

/* usb.c */
void usb_boot(void);
void usb_interrupt(void);
bool usb_is_open(void); /* a program on the computer has opened the port */
bool usb_is_sending(void);

#endif
