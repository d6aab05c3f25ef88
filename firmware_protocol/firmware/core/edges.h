/* The hot path of counting: what happens in the interrupt of the spindle sensor, and nothing else.
 *
 * An edge moves the count, leaves its time, and, when it is the one at which the drive is to be cut, cuts it
 * here and now. `left` counts down to that edge, so the comparison is one with nought. Speed, trips and
 * everything that can wait is done by the main loop, which looks at a copy taken with interrupts off.
 *
 * One channel knows no levels to go by, so its edges are held to times: within the bounce time behind the
 * end of a pulse, which every bounce is one of, an edge is a bounce and nothing is said of it. One that comes sooner
 * than the shortest true period is not counted but told as implausible. So are bounces that go on for longer than
 * that and than half of the newest period; a counted pulse that ended within the bounce time and did not come back;
 * and a pulse behind the end of one that is too long for a bounce: the next true edge may be taken for its bounce.
 *
 * Two channels count by levels, so a bounce or a disturbance is a count there and back, and what is counted stays
 * right by itself. What has to be kept right is the time that belongs to the count: of a count gained, lost and gained
 * again the shorter stay was the disturbance. Two edges against the drive in a row are no such thing.
 */
#ifndef CORE_EDGES_H
#define CORE_EDGES_H

#include "hal.h"

#define EDGE_PATH static inline __attribute__((always_inline))

/* What the main loop copies with interrupts off comes first: an edge waits as long as the copy takes. */
struct edges {
    int32_t count;          /* of this wind */
    uint16_t clock;         /* port_clock() when the count came to be what it is */
    uint16_t before;        /* and when the one before it did; two channels under drive only */
    uint16_t seen;          /* edges since boot, wrapping: those with the drive, less those against it */
    uint8_t missed;         /* jumps over an edge while something drove; stays at 255. The body trips on it */
    uint8_t backward;       /* edges against the drive that came behind another, wrapping. So does it on these */
    uint8_t turns;          /* the others against the drive, wrapping */
    int8_t sense;           /* way of the drive: +1 winds, -1 unwinds, 0 nothing drives.
                             * A counter without motor: +1 while a wind is open, else 0 */
    bool back;              /* the newest edge was against the drive */
    bool cut;               /* the cut has happened */
    /* the rest is read one by one */
    bool armed;             /* cut when `left` is used up */
    bool reversed;          /* winding turns the motor backward */
    int32_t left;           /* edges until the cut; looked at only while `armed` */
    uint16_t unattributed;  /* stays at 65535 */
    uint16_t implausible;   /* stays at 65535 */
};

/* What only the edges themselves look at. */
struct edges_past {
    uint16_t lost_clock;    /* two channels: when an edge against the drive took a count away */
    uint16_t lost;          /* and the clock of that count */
    uint16_t ended;         /* one channel: port_clock() when the newest pulse ended */
    uint16_t bounces_from;  /* and when it ended for the first time, before it bounced */
    uint16_t bounces_most;  /* half of the newest period: so long no true edge can be taken for a bounce */
    uint16_t resumed_clock; /* when the newest pulse that is taken for a bounce began */
    bool resumed;           /* it has not ended yet */
    bool late;              /* what bounces is the end of a pulse, not its begin */
    bool recent;            /* the newest edge is less than a tenth of a second old */
    bool ended_recently;    /* and the newest pulse's end */
    bool has_ended;         /* the pulse of the newest edge has ended */
};

extern volatile struct edges_past edges_past;
extern volatile struct edges edges;

EDGE_PATH void edge_is_implausible(void) {
    uint16_t more = (uint16_t)(edges.implausible + 1u);
    if (more != 0)
        edges.implausible = more;
}

/* The newest pulse ended within the bounce time: no true one is so short. */
EDGE_PATH bool edge_was_short(void) {
    return edges_past.has_ended && (uint16_t)(edges_past.ended - edges.clock) < PORT_BOUNCE_TICKS;
}

/* Whether an edge of one channel is to be counted. */
EDGE_PATH bool edge_is_true(uint16_t clock) {
    bool counts = true, doubtful = false;
    if (edges_past.ended_recently && (uint16_t)(clock - edges_past.ended) < PORT_BOUNCE_TICKS) {
        edges_past.has_ended = false; /* the pulse goes on */
        edges_past.resumed = true;
        edges_past.resumed_clock = clock;
        counts = false;
        uint16_t bounces = (uint16_t)(clock - edges_past.bounces_from);
        doubtful = bounces >= PORT_LEAST_TICKS && bounces >= edges_past.bounces_most;
        if (doubtful) /* a true edge may be among them */
            edges_past.bounces_from = clock;
    } else if (edges_past.recent) {
        counts = (uint16_t)(clock - edges.clock) >= PORT_LEAST_TICKS;
        doubtful = !counts || edge_was_short();
    }
    if (doubtful)
        edge_is_implausible();
    return counts;
}

/* The pulse of one channel has ended. */
EDGE_PATH void edge_ended(void) {
    uint16_t clock = port_edge_clock();
    bool stayed = edges_past.resumed && (uint16_t)(clock - edges_past.resumed_clock) >= PORT_LEAST_TICKS / 2;
    if (stayed && edges_past.late)
        edge_is_implausible();
    if (stayed || !edges_past.resumed) {
        edges_past.bounces_from = clock;
        edges_past.late = !edges_past.recent || (uint16_t)(clock - edges.clock) >= PORT_LEAST_TICKS / 2;
    }
    edges_past.ended = clock;
    edges_past.resumed = false;
    edges_past.ended_recently = edges_past.has_ended = true;
}

/* From the main loop, with interrupts off, once a millisecond: times older than this say nothing any more. */
static inline void edges_age(uint16_t recent_ticks) {
    if (PORT_DIRECTION_SENSE)
        return;
    uint16_t clock = port_edge_clock();
    if (edges_past.ended_recently && (uint16_t)(clock - edges_past.ended) > recent_ticks)
        edges_past.ended_recently = false;
    if (edges_past.recent && (uint16_t)(clock - edges.clock) > recent_ticks) {
        edges_past.recent = false;
        if (edge_was_short())
            edge_is_implausible();
        edges_past.has_ended = false;
    }
}

/* Two channels: an edge with the drive. */
EDGE_PATH void edge_gained(uint16_t clock) {
    edges.seen++;
    if (edges.back) {
        edges.back = false;
        bool was_away_shorter = (uint16_t)(clock - edges_past.lost_clock) < (uint16_t)(edges_past.lost_clock - edges_past.lost);
        edges.clock = was_away_shorter ? edges_past.lost : clock;
        return;
    }
    edges.before = edges.clock;
    edges.clock = clock;
}

/* Two channels: an edge against the drive. */
EDGE_PATH void edge_lost(uint16_t clock) {
    edges.seen--;
    edges.left++;
    if (edges.back) {
        edges.backward++;
        return;
    }
    edges.turns++;
    edges.back = true;
    edges_past.lost_clock = clock;
    edges_past.lost = edges.clock;
    edges.clock = edges.before;
}

EDGE_PATH void edge_counts(int8_t by) {
    /* As unsigned numbers: a count that runs over wraps instead of being undefined. */
    uint32_t count = (uint32_t)edges.count;
    edges.count = (int32_t)(by < 0 ? count - 1u : count + 1u);
}

/* One edge. `backward`: the sensor saw the spindle turn against the motor's forward; without a sense of
 * direction it is not looked at. */
EDGE_PATH void edge_seen(bool backward) {
    uint16_t clock = port_edge_clock();
    int8_t sense = edges.sense;
    if (!PORT_DIRECTION_SENSE) {
        if (!edge_is_true(clock))
            return;
        edges_past.bounces_most = edges_past.recent ? (uint16_t)(clock - edges.clock) / 2 : PORT_CLOCK_HZ / 20;
        edges_past.recent = true;
        edges_past.has_ended = false;
    }
    bool by_levels = PORT_DIRECTION_SENSE && (CORE_MOTOR || sense != 0);
    int8_t by = !by_levels ? sense : backward != edges.reversed ? -1 : 1;
    if (by != 0)
        edge_counts(by);
    else if (CORE_MOTOR && edges.unattributed != UINT16_MAX)
        edges.unattributed++;
    if (!CORE_MOTOR || !PORT_DIRECTION_SENSE || sense == 0) {
        edges.clock = clock;
        edges.seen++;
    } else if (by != sense) {
        edge_lost(clock);
        return;
    } else {
        edge_gained(clock);
    }
#if CORE_MOTOR
    if (edges.armed && --edges.left <= 0) {
        port_cut();
        edges.armed = false;
        edges.cut = true;
    }
#endif
}

/* The sensor's levels jumped over an edge: two counts went by and nobody knows which way. With a drive that is
 * an implausible sensor; at rest it is two edges that nothing explains. */
EDGE_PATH void edge_missed(void) {
    if (edges.sense != 0) {
        if (edges.missed != UINT8_MAX)
            edges.missed++;
    } else if (CORE_MOTOR) {
        edges.unattributed = edges.unattributed < UINT16_MAX - 2 ? edges.unattributed + 2u : UINT16_MAX;
    }
}

/* A number of several bytes that an edge may change, read in one. */
int32_t edges_read(const volatile int32_t *number);

#endif
