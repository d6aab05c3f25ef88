/* What a port says of its motor; measured once on the machine. The control loop corrects what is wrong in it. */
#ifndef CORE_MOTION_H
#define CORE_MOTION_H

#include "hal.h"

struct motor {
    uint32_t full_rate_mcps;    /* speed without load at full duty, up to 2^31 - 1 */
    uint32_t full_accel_mcps2;  /* speeding up from rest at full duty, friction apart, up to 2^31 - 1 */
    uint16_t friction_permille; /* share of full duty that just keeps it turning */
    uint16_t brake_permille;    /* pull of the full brake as a share of full_accel_mcps2; 0: no brake */
};

extern PORT_CONST struct motor motor;

#endif
