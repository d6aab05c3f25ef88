/* Version 2 of the group TRAVERSE: a guide with a limit switch finds its place, and goes far with a ramp.
 *
 * Here is what the board decides: whether it may, and whether the guide's place is known behind it. While such a move
 * lasts it is not; a rest that its ramp led to makes it known again, after homing only the very end. How it moves is
 * in ramp.c. A chip without CORE_FAR has none of this.
 */
#ifndef CORE_FAR_H
#define CORE_FAR_H

#include "board.h"

#if CORE_FAR

enum { FAR_NONE, FAR_HOMES, FAR_MOVES };

bool far_unknown(uint8_t kind); /* a command that this board does not have, for want of a limit switch */
uint8_t far_command(bool home, const uint8_t *payload);
void far_forget(void);          /* it was cut: steps may be lost */
void far_tripped(uint8_t cause);
void far_rested(void);

#else

#define far_unknown(kind) false /* macros: nothing of it is compiled */
#define far_forget() ((void)0)
#define far_tripped(cause) ((void)0)
#define far_rested() ((void)0)

#endif

#endif
