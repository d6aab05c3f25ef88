/* How a guide goes far: with a ramp, from the speed at which its motor starts of itself and down to it again; and how it
 * finds its limit switch: leftward until it is met, where it stands at once, and slowly off it. Places are steps, speeds
 * steps a millisecond. All for the main loop; guide.c asks.
 */
#ifndef CORE_RAMP_H
#define CORE_RAMP_H

#include "body.h"

#if CORE_FAR

enum { RAMP_GOES, RAMP_ARRIVED, RAMP_HOME, RAMP_LOST };

#define RAMP_A_MS_MOST 50 /* steps: no faster, whatever is asked */

/* `by`: what is asked in steps, `to`: where its travel lets it come. */
void ramp_begin(const struct far *ask, int32_t from, int32_t by, int32_t to);
void ramp_slow(void); /* ends as soon as its ramp allows; a search for the switch ends in vain */
void ramp_halt(void);
bool ramp_goes(void);
bool ramp_homes(void); /* it looks at the switch itself */
int32_t ramp_home_um(void);
/* Once a millisecond: where to until the next. All but GOES end it; with HOME the guide stands where the switch is. */
uint8_t ramp_tick(int32_t place, int32_t *target);

#endif

#endif
