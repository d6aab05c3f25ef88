/* What the core asks of the chip it runs on.
 *
 * A port is one directory with a `port.h`, found on the include path, and a main loop. `port.h` defines the
 * macros and the functions below, best as `static inline` functions that touch registers directly. The core
 * has no other way to the world: no libc beyond memcpy and memset, no heap, no clock of its own.
 *
 * Every function marked [edge] is called from the interrupt of the spindle sensor and must be short. The
 * others are called from the main loop with interrupts on, unless they say otherwise.
 *
 * Macros of a port:
 *   PORT_DIRECTION_SENSE   1: the sensor tells forward from backward
 *   PORT_CLOCK_HZ          rate of port_clock(); 16 bits of it must last longer than the main loop may be held up
 *   PORT_BOUNCE_TICKS      of one channel: an edge so soon after another is its bounce, up to 25000; 0: none
 *   PORT_LEAST_TICKS       the shortest true period of one channel, up to 25000; 0: any
 *   PORT_DEAD_MS           drive and brake are both off for longer than this in between, 1 or more
 *   PORT_NV_BYTES          bytes of non-volatile memory that the core may use, 40 or more
 *   PORT_FLASH             marks constants that stay in program memory (PROGMEM); may be empty
 *   PORT_FLASH_U8(at), PORT_FLASH_U32(at)   read one of them
 *
 * Functions of every port:
 *   uint16_t port_clock(void)              free-running clock; any context
 *   uint16_t port_edge_clock(void)         [edge] the same, with interrupts off
 *   uint8_t  port_lock(void)               interrupts off; returns what port_unlock needs
 *   void     port_unlock(uint8_t before)
 *   void     port_send(void)               there are bytes to send: let link_next() be asked (interrupt on)
 *   void     port_watchdog(void)           the main loop is alive
 *   bool     port_wire_present(void)       true without a wire sensor
 *   uint8_t  port_nv_read(uint16_t at)     only called after port_nv_ready()
 *   bool     port_nv_ready(void)           no write is under way
 *   void     port_nv_write(uint16_t at, uint8_t byte)   begins to write one byte and returns at once
 *
 * Functions of a port with a motor (all but CORE_COUNTER_ONLY):
 *   void     port_drive(uint16_t permille, bool reverse)   duty; 0: off
 *   void     port_brake(uint16_t permille)                 0: off; a brake that is on or off turns on from 500
 *   void     port_cut(void)                [edge] drive off at once
 *   void     port_contactor(bool closed)   of the motor's supply; open while the chip starts
 *   bool     port_guard_open(void)         false without a guard
 *   void     port_step(bool high)          [step timer] the guide's step pin; it steps as the pin rises
 *   void     port_step_way(bool rightward) [step timer] the guide's direction pin
 *   uint8_t  port_step_period(uint8_t a_ms)   what port_steps() takes for so many steps a millisecond
 *   void     port_steps(uint8_t period, bool anew)   with interrupts off: call guide_pulse() evenly, twice a step,
 *                                          until it says false; anew: not before half a step from now. A timer that
 *                                          runs goes on without a break
 *
 * Data of every port: `identity` (below), and with a motor `motor` (motion.h) and `traverse` (guide.h).
 *
 * Interrupts of a port call: edge_seen() (edges.h), link_received() and link_next() (link.h), and once a
 * millisecond core_millisecond() (core.h). Its main loop is in core.h.
 */
#ifndef CORE_HAL_H
#define CORE_HAL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include "messages.h"
#include "port.h"

#ifndef PORT_FLASH
#define PORT_FLASH
#define PORT_FLASH_U8(at) (*(const uint8_t *)(at))
#define PORT_FLASH_U32(at) (*(const uint32_t *)(at))
#endif

#ifdef CORE_COUNTER_ONLY
#define CORE_MOTOR 0
#else
#define CORE_MOTOR 1
#endif

/* What a board says of itself in the welcome. A version of a group that this build of the core lacks must be 0. */
struct identity {
    char board[10];    /* filled up with zero bytes */
    uint8_t groups[6]; /* COUNTING, MOTOR, TRAVERSE, LEGS, PEDAL, SETTINGS */
    uint8_t has;       /* HAS_ bits */
    uint8_t legs_max;  /* at most CORE_LEGS_MAX */
    uint32_t rate_max_mcps;
    uint32_t edge_rate_max_cps;
    uint32_t settings_hash;
    uint16_t cut_ms;  /* after a stop, a lost lease or the end the drive is cut by then; 0 without a motor */
    uint16_t rest_ms; /* and the spindle rests by then */
};

#ifndef PORT_CONST
#define PORT_CONST const
#endif
extern PORT_CONST struct identity identity;

#ifndef CORE_LEGS_MAX
#define CORE_LEGS_MAX PROTOCOL_LEGS_MAX_LEAST
#endif

#endif
