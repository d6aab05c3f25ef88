/* The hot path of counting: what happens in the interrupt of the spindle sensor, and nothing else.
 *
 * An edge moves the count, leaves its time, and, when it is the one at which the drive is to be cut, cuts it
 * here and now. `left` counts down to that edge, so the comparison is one with nought. Speed, trips and
 * everything that can wait is done by the main loop, which looks at a copy taken with interrupts off.
 */
#ifndef CORE_EDGES_H
#define CORE_EDGES_H

#include "hal.h"

struct edges {
    int32_t count;          /* of this wind */
    int32_t left;           /* edges until the cut; looked at only while `armed` */
    uint16_t clock;         /* port_clock() at the newest edge */
    uint16_t seen;          /* edges since boot, wrapping, whichever way */
    uint16_t against;       /* edges against the drive, wrapping; only with a sense of direction */
    uint16_t unattributed;  /* stays at 65535 */
    uint8_t missed;         /* jumps over an edge while something drove; stays at 255. The body trips on it */
    int8_t sense;           /* way of the drive: +1 winds, -1 unwinds, 0 nothing drives.
                             * A counter without motor: +1 while a wind is open, else 0 */
    bool armed;             /* cut when `left` is used up */
    bool brake_at_cut;
    bool cut;               /* the cut has happened */
    bool reversed;          /* winding turns the motor backward */
};

extern volatile struct edges edges;

/* One edge. `backward`: the sensor saw the spindle turn against the motor's forward; without a sense of
 * direction it is not looked at. */
static inline void edge_seen(bool backward) {
    edges.clock = port_clock();
    edges.seen++;
    if (edges.sense == 0 && !(CORE_MOTOR && PORT_DIRECTION_SENSE)) {
        if (CORE_MOTOR && edges.unattributed != UINT16_MAX)
            edges.unattributed++;
        return;
    }
    if (PORT_DIRECTION_SENSE)
        backward = backward != edges.reversed;
    else
        backward = edges.sense < 0;
    /* As unsigned numbers: a count that runs over wraps instead of being undefined. */
    edges.count = (int32_t)((uint32_t)edges.count + (backward ? UINT32_MAX : 1u));
#if CORE_MOTOR
    if (PORT_DIRECTION_SENSE && edges.sense != 0 && backward != (edges.sense < 0)) {
        edges.against++;
        edges.left++;
        return;
    }
    if (edges.armed && --edges.left <= 0) {
        port_cut(edges.brake_at_cut);
        edges.armed = false;
        edges.cut = true;
    }
#endif
}

/* The sensor's levels jumped over an edge: two counts went by and nobody knows which way. With a drive that is
 * an implausible sensor; at rest it is two edges that nothing explains. */
static inline void edge_missed(void) {
    if (edges.sense != 0) {
        if (edges.missed != UINT8_MAX)
            edges.missed++;
    } else if (CORE_MOTOR) {
        edges.unattributed = edges.unattributed < UINT16_MAX - 2 ? edges.unattributed + 2u : UINT16_MAX;
    }
}

/* A copy in which all fields belong together. */
struct edges edges_now(void);

#endif
