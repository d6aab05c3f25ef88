/* What differs from machine to machine, kept in non-volatile memory by the board itself (SETTINGS of the protocol).
 *
 * Two copies, each with a check sum; one is written after the other, so a power cut leaves one whole. They are read at
 * a boot and never change while the program runs: other settings are kept, and then the board boots anew.
 */
#ifndef CORE_SETTINGS_H
#define CORE_SETTINGS_H

#include "hal.h"

enum {
    SETTINGS_KEPT_BYTES = MSG_SETTINGS_BYTES + 4, /* and their CRC */
    SETTINGS_AT = PORT_NV_BYTES - 2 * SETTINGS_KEPT_BYTES,
    SETTINGS_GOOD = 255,
};

extern struct msg_settings settings; /* in force; a port gives what holds while none were written */

void settings_boot(void);
uint8_t settings_fault(const uint8_t *payload); /* of WriteSettings: index of the field to refuse, or SETTINGS_GOOD */
void settings_keep(const uint8_t *content);     /* both copies; waits for the memory */

static inline bool settings_has_guide(void) {
    return settings.step_pm != 0;
}

#endif
