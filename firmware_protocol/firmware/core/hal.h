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
 *   PORT_DIRECTION_SENSE   whether the sensor tells forward from backward
 *   PORT_CLOCK_HZ          rate of port_clock(); 16 bits of it must last longer than the main loop may be held up
 *   PORT_BOUNCE_TICKS      of one channel: an edge so soon after another is its bounce; 0: none
 *   PORT_LEAST_TICKS       the shortest true period of one channel; 0: any
 *   PORT_NV_BYTES          bytes of non-volatile memory that the core may use, 256 or more
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
 *   void     port_take_settings(void)      the settings in force are known: pins, sensor and line after them
 *   bool     port_can_sense(uint8_t sensor)                           SENSOR_; what it is not wired for is refused
 *   uint32_t port_edge_rate_max_cps(uint8_t sensor, uint8_t filter_us)   what it counts without loss
 *   void     port_restart(void)            boot anew, once what is to be sent has gone; a chip does not return
 *
 * Functions of a port with a motor (all but CORE_COUNTER_ONLY):
 *   void     port_drive(uint16_t permille, bool reverse)   duty; 0: off
 *   void     port_brake(uint16_t permille)                 0: off; a brake that is on or off turns on from 500
 *   void     port_cut(void)                [edge] drive off at once
 *   void     port_contactor(bool closed)   of the motor's supply; open while the chip starts
 *   bool     port_guard_open(void)         false without a guard
 *   bool     port_stop_pressed(void)       with CORE_PEDAL: the wired stop switch; false without one
 *   bool     port_pedal_pressed(void)      with CORE_PEDAL: the pedal's contact, as it is; false without one
 *   bool     port_limit_met(void)          with CORE_FAR: the guide's limit switch, as it is; false without one
 *   void     port_step(bool high)          [step timer] the guide's step pin; it steps as the pin rises
 *   void     port_step_way(bool rightward) [step timer] the guide's direction pin
 *   uint8_t  port_step_period(uint8_t a_ms)   what port_steps() takes for so many steps a millisecond
 *   void     port_steps(uint8_t period, bool anew)   with interrupts off: call guide_pulse() evenly, twice a step,
 *                                          until it says false; anew: not before half a step from now. A timer that
 *                                          runs goes on without a break
 *
 * A port with a motor may define CORE_PEDAL as 1: it has pins for a foot pedal and a stop switch; and with it CORE_FAR:
 * for a limit switch at the guide's left end, too, and room for ramps.
 *
 * Data of every port: `identity` (below) and `settings` (settings.h), as they are while none were written.
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

#ifndef CORE_PEDAL
#define CORE_PEDAL 0
#endif
#ifndef CORE_FAR
#define CORE_FAR 0
#endif
#define WIRED_BITS (CORE_FAR ? 5 : CORE_PEDAL ? 4 : 2) /* of Settings.inputs that the port has pins for */

/* What a board says of itself: its welcome, but for token, boot, uptime and the kept record, which are filled in as it is
 * sent. A version of a group that this build of the core lacks must be 0, legs_max at most CORE_LEGS_MAX. */
extern struct msg_welcome identity;

#ifndef CORE_LEGS_MAX
#define CORE_LEGS_MAX PROTOCOL_LEGS_MAX_LEAST
#endif

#endif
