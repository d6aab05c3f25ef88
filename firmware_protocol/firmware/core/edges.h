/* The hot path of counting: what happens in the interrupt of the spindle sensor, and nothing else.
 *
 * An edge moves the count, leaves its time, and, when it is the one at which the drive is to be cut, cuts it
 * here and now. `left` counts down to that edge, so the comparison is one with nought. Speed, trips and
 * everything that can wait is done by the main loop, which looks at a copy taken with interrupts off.
 *
 * One channel knows no levels to go by, so its edges are held to times: within the bounce time behind a counted
 * edge, or behind the end of a pulse, an edge is a bounce and nothing is said of it. One that comes sooner than the
 * shortest true period is not counted but told as implausible. So is a counted pulse that ended within the bounce
 * time and did not come back.
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
    uint16_t implausible;   /* stays at 65535 */
    uint16_t ended;         /* port_clock() when the newest pulse ended; one channel only */
    bool recent;            /* the newest edge is less than a tenth of a second old */
    bool ended_recently;    /* and the newest pulse's end */
    bool has_ended;         /* the pulse of the newest edge has ended */
    uint8_t missed;         /* jumps over an edge while something drove; stays at 255. The body trips on it */
    int8_t sense;           /* way of the drive: +1 winds, -1 unwinds, 0 nothing drives.
                             * A counter without motor: +1 while a wind is open, else 0 */
    bool armed;             /* cut when `left` is used up */
    bool cut;               /* the cut has happened */
    bool reversed;          /* winding turns the motor backward */
};

extern volatile struct edges edges;

static inline void edge_is_implausible(void) {
    if (edges.implausible != UINT16_MAX)
        edges.implausible++;
}

/* The newest pulse ended within the bounce time: no true one is so short. */
static inline bool edge_was_short(void) {
    return edges.has_ended && (uint16_t)(edges.ended - edges.clock) < PORT_BOUNCE_TICKS;
}

/* Whether an edge of one channel is to be counted. */
static inline bool edge_is_true(uint16_t clock) {
    uint16_t since = (uint16_t)(clock - edges.clock);
    if ((edges.ended_recently && (uint16_t)(clock - edges.ended) < PORT_BOUNCE_TICKS) ||
        (edges.recent && since < PORT_BOUNCE_TICKS)) {
        edges.has_ended = false; /* it came back */
        return false;
    }
    if (!edges.recent)
        return true;
    if (since < PORT_LEAST_TICKS) {
        edge_is_implausible();
        return false;
    }
    if (edge_was_short())
        edge_is_implausible();
    return true;
}

/* The pulse of one channel has ended. */
static inline void edge_ended(void) {
    edges.ended = port_clock();
    edges.ended_recently = edges.has_ended = true;
}

/* From the main loop, with interrupts off, once a millisecond: times older than this say nothing any more. */
static inline void edges_age(uint16_t recent_ticks) {
    if (PORT_DIRECTION_SENSE)
        return;
    uint16_t clock = port_clock();
    if (edges.ended_recently && (uint16_t)(clock - edges.ended) > recent_ticks)
        edges.ended_recently = false;
    if (edges.recent && (uint16_t)(clock - edges.clock) > recent_ticks) {
        edges.recent = false;
        if (edge_was_short())
            edge_is_implausible();
        edges.has_ended = false;
    }
}

/* One edge. `backward`: the sensor saw the spindle turn against the motor's forward; without a sense of
 * direction it is not looked at. */
static inline void edge_seen(bool backward) {
    uint16_t clock = port_clock();
    if (!PORT_DIRECTION_SENSE) {
        if (!edge_is_true(clock))
            return;
        edges.recent = true;
        edges.has_ended = false;
    }
    edges.clock = clock;
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
        port_cut();
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
