/* The whole core as a port's main loop sees it.
 *
 *     core_boot(by_watchdog);
 *     for (;;)
 *         if (!core_turn())
 *             sleep until an interrupt (with interrupts off look at core_has_work() first)
 */
#ifndef CORE_CORE_H
#define CORE_CORE_H

#include "edges.h"
#include "link.h"

extern volatile uint8_t core_milliseconds; /* not yet taken by the main loop; stays at 255 */

/* From the interrupt that comes once a millisecond. */
static inline void core_millisecond(void) {
    if (core_milliseconds != UINT8_MAX)
        core_milliseconds++;
}

static inline bool core_has_work(void) {
    return core_milliseconds != 0 || link_has_bytes();
}

/* Begin a boot: everything is forgotten but the non-volatile memory. Drive off first of all.
 * Interrupts may be on or off. Writes the new boot number and waits for that, some 15 ms. */
void core_boot(bool by_watchdog);

/* One turn of the main loop: takes the bytes that came (up to one whole frame) and the milliseconds that
 * passed, kicks the watchdog once per turn that saw time pass. False: nothing is left to do. */
bool core_turn(void);

#endif
