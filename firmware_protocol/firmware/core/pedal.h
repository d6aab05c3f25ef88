/* The foot pedal: armed or not, and whether a press may go; device_pedal.py in C.
 *
 * A press goes only if the pedal was seen released since it was armed, since the last press, and since anything
 * hindered it. A contact is believed once it has been so for PROTOCOL_PEDAL_SETTLE_MS; until it was looked at for
 * as long it counts as pressed, and so does one that is just about to be. A chip without its pins has none of this.
 */
#ifndef CORE_PEDAL_H
#define CORE_PEDAL_H

#include "hal.h"

#if CORE_PEDAL

struct pedal {
    uint32_t agreed_ms; /* when the contact last was as it has settled */
    bool armed;
    bool winds;   /* it began the winding under way */
    bool pressed; /* as its contact has settled */
    bool level;   /* of the contact, as of the newest look */
    bool release_seen;
};

extern struct pedal pedal;

void pedal_boot(uint32_t now_ms);
void pedal_see(bool level, uint32_t now_ms);
void pedal_arm(void);
void pedal_disarm(void);
void pedal_begin(void); /* it set the spindle in motion */
void pedal_look(void); /* at rest: begins the winding where a press goes */
bool pedal_let_go(void); /* it began the winding under way and is pressed no more */
uint8_t pedal_flags(void);

#else

#define pedal_disarm() ((void)0) /* a macro: nothing of it is compiled */

#endif

#endif
