/* What tests and the process on a pseudo-terminal call. */
#ifndef HOST_HOST_H
#define HOST_HOST_H

#include <stddef.h>

#include "core.h"
#include "settings.h"

/* A boot; memory and the clock stay as they are. */
void host_boot(bool by_watchdog);

/* Bytes from the line, taken one by one as the chip would; answers wait for host_sent(). */
void host_receive(const uint8_t *bytes, size_t length);

/* Bytes that come while the main loop is held up: they wait in the ring, and the loop has no turn. */
void host_receive_only(const uint8_t *bytes, size_t length);

/* One millisecond passes (the clock with it) and the main loop has its turns. */
void host_millisecond(void);

/* The main loop alone, until nothing is left to do. */
void host_turns(void);

/* One edge at the present clock. */
void host_edge(bool backward);

/* The end of a pulse of one channel. */
void host_pulse_end(void);

/* Takes up to `room` bytes of what was sent; returns how many. */
size_t host_sent(uint8_t *to, size_t room);

#endif
