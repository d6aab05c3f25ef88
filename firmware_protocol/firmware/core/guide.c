#include "guide.h"

#include "ramp.h"
#include "settings.h"

#if CORE_MOTOR

#define FINE 64                     /* places are kept in such parts of a step */
#define FINE_MAX (INT32_C(1) << 30)
#define PM_PER_UM UINT32_C(1000000)
#define WHOLE_COUNT (INT64_C(1) << 32)
#define FOREVER (INT64_C(1) << 62)
#define STRETCHES_A_TICK 2          /* each costs some divisions; a guide farther behind takes more ticks */
#define SCATTER_LEAST 154           /* 154/256 to 409/256: a stroke's pitch, as a share of the leg's */
#define SCATTER_MOST 409
#if CORE_FAR
#define FASTEST (ramp_goes() ? RAMP_A_MS_MOST + RAMP_A_MS_MOST / 3 : settings.steps_a_ms) /* room to catch up */
#else
#define FASTEST settings.steps_a_ms
#endif

volatile struct steps steps;

static struct {
    const struct plan *plan;
    int64_t begin, length;     /* of the present stretch, counts with 32 bits of fraction */
    uint32_t share_per_count;  /* 2^63 over the length's first 32 bits */
    uint32_t stretch;          /* of the leg: strokes are even, waits odd */
    int32_t from, to;          /* of the present stretch, in fine parts */
    int32_t begun_at;          /* count at which the way began */
    int32_t target;            /* steps */
    int32_t entry[CORE_LEGS_MAX]; /* place at each leg's begin in fine parts; lowest bit: rightward */
    float step_um;
    uint8_t shift;             /* by which the length's first 32 bits are found */
    uint8_t first_leg, leg;
    bool rightward;
    bool moves;                /* in this leg: a stroke shorter than a count is nothing that a guide can follow */
    bool on_way;               /* the stretches above are good */
    bool led;                  /* go along with the count */
    bool stepping;             /* a traverse step is under way */
    bool behind;               /* the stretches have not come to where the count is */
    bool arrived, beyond, referenced;
} guide;

/* --- places and lengths ----------------------------------------------------------------------- */

static int32_t within(int32_t value, int32_t low, int32_t high) {
    return value < low ? low : value > high ? high : value;
}

static uint32_t apart(int32_t one, int32_t other) {
    return one > other ? (uint32_t)one - (uint32_t)other : (uint32_t)other - (uint32_t)one;
}

static int32_t place_now(void) {
    uint8_t before = port_lock();
    int32_t place = steps.place;
    port_unlock(before);
    return place;
}

static int32_t fine_of_um(int32_t um) {
    uint64_t pm = (uint64_t)apart(um, 0) * (PM_PER_UM * FINE) + settings.step_pm / 2;
    uint64_t fine = pm / settings.step_pm;
    int32_t size = fine > FINE_MAX ? FINE_MAX : (int32_t)fine;
    return um < 0 ? -size : size;
}

static int64_t counts_of(int32_t whole) {
    return whole * WHOLE_COUNT;
}

static const struct msg_plan_leg *leg_now(void) {
    return &guide.plan->leg[guide.leg];
}

static int64_t leg_begin(uint8_t leg) {
    return counts_of(leg == guide.first_leg ? guide.begun_at : guide.plan->leg[leg - 1].end_count);
}

/* Counts of a stroke of so many nanometres; FOREVER for what no wind lasts. */
static int64_t length_of(uint64_t distance_nm, uint32_t pitch_nm) {
    uint64_t way = distance_nm * leg_now()->pitch_counts;
    uint64_t whole = way / pitch_nm;
    if (whole >> 30)
        return FOREVER;
    uint64_t rest = way - whole * pitch_nm;
    return (int64_t)(whole << 32 | (rest << 32) / pitch_nm);
}

static uint64_t width_nm(const struct msg_plan_leg *leg) {
    return apart(leg->right_um, leg->left_um) * UINT64_C(1000);
}

/* A number of its own for each stroke, the same again whichever way the strokes are gone through. */
static uint32_t stroke_pitch_nm(void) {
    const struct msg_plan_leg *leg = leg_now();
    if (leg->scatter_seed == 0)
        return leg->pitch_nm;
    uint32_t mixed = leg->scatter_seed * UINT32_C(0x9E3779B1) + (guide.stretch >> 1) * UINT32_C(0x85EBCA6B);
    mixed = (mixed ^ (mixed >> 15)) * UINT32_C(0x2C1B3C6D);
    uint64_t pitch_nm = (uint64_t)leg->pitch_nm * (SCATTER_LEAST + (mixed >> 24)) >> 8;
    return pitch_nm > UINT32_MAX ? UINT32_MAX : pitch_nm != 0 ? (uint32_t)pitch_nm : 1u;
}

/* --- stretches -------------------------------------------------------------------------------- */

static void measure(int64_t length) {
    guide.length = length;
    guide.shift = 0;
    while ((length >> guide.shift) > UINT32_MAX)
        guide.shift++;
    uint32_t first_bits = (uint32_t)(length >> guide.shift);
    guide.share_per_count = 0;
    if (first_bits >> 31) {
        uint64_t share = (UINT64_C(1) << 63) / first_bits;
        guide.share_per_count = share > UINT32_MAX ? UINT32_MAX : (uint32_t)share;
    }
}

static void open_stretch(void) {
    const struct msg_plan_leg *leg = leg_now();
    int32_t entry = guide.entry[guide.leg] & ~INT32_C(1);
    bool rightward = guide.entry[guide.leg] & 1;
    guide.rightward = rightward;
    guide.from = guide.to = entry;
    if (!guide.moves) {
        measure(FOREVER);
        return;
    }
    int32_t left = fine_of_um(leg->left_um), right = fine_of_um(leg->right_um);
    if (entry < left || entry > right)
        rightward = entry < left;
    guide.rightward = rightward = rightward != ((guide.stretch >> 1 & 1u) != 0);
    guide.to = rightward ? right : left;
    if (guide.stretch & 1u) {
        guide.from = guide.to;
        measure(counts_of(leg->dwell_counts));
        return;
    }
    uint64_t distance_nm = width_nm(leg);
    if (guide.stretch != 0) {
        guide.from = rightward ? left : right;
    } else {
        distance_nm = (uint64_t)apart(guide.to, entry) * settings.step_pm / (1000u * FINE);
    }
    measure(length_of(distance_nm, stroke_pitch_nm()));
}

static void enter_leg(uint8_t leg) {
    guide.leg = leg;
    guide.stretch = 0;
    guide.begin = leg_begin(leg);
    uint32_t pitch_nm = leg_now()->pitch_nm;
    guide.moves = pitch_nm != 0 && length_of(width_nm(leg_now()), pitch_nm) >= WHOLE_COUNT;
    open_stretch();
}

/* The place in fine parts; `at` lies in the present stretch. */
static int32_t place_at(int64_t at) {
    int64_t gone = at - guide.begin;
    if (gone <= 0)
        return guide.from;
    if (gone >= guide.length || guide.share_per_count == 0)
        return guide.to;
    /* Of gone < length, so the product is below 2^63. */
    uint32_t share = (uint32_t)(((uint64_t)(uint32_t)(gone >> guide.shift) * guide.share_per_count) >> 31);
    int32_t way = (int32_t)((uint64_t)apart(guide.to, guide.from) * share >> 32);
    return guide.to < guide.from ? guide.from - way : guide.from + way;
}

/* Towards the stretch of this leg in which `at` lies; false: there is more to go than one tick may. */
static bool walk(int64_t at, uint8_t *opened) {
    uint8_t on = leg_now()->dwell_counts ? 1 : 2; /* without waits, from stroke to stroke */
    for (;;) {
        bool back = at < guide.begin && guide.stretch != 0;
        if (!back && at - guide.begin < guide.length)
            return true;
        if (++*opened > STRETCHES_A_TICK)
            return false;
        if (!back)
            guide.begin += guide.length;
        guide.stretch += back ? (uint32_t)-on : on;
        open_stretch();
        if (back)
            guide.begin -= guide.length;
    }
}

static bool reach(int64_t at) {
    uint8_t opened = 0;
    while (guide.leg != guide.first_leg && at < leg_begin(guide.leg)) /* from the leg's begin on again */
        enter_leg((uint8_t)(guide.leg - 1));
    for (;;) {
        int64_t end = counts_of(leg_now()->end_count);
        bool leaves = guide.leg + 1 < guide.plan->legs && at >= end;
        if (!walk(leaves ? end : at, &opened))
            return false;
        if (!leaves)
            return true;
        guide.entry[guide.leg + 1] = (place_at(end) & ~INT32_C(1)) | guide.rightward;
        enter_leg((uint8_t)(guide.leg + 1));
    }
}

/* A tenth is kept back for catching up. */
float guide_rate_most(const struct msg_plan_leg *leg) {
    float pitch_nm = (float)leg->pitch_nm;
    if (leg->scatter_seed != 0)
        pitch_nm *= SCATTER_MOST / 256.0f;
    if (leg->pitch_nm == 0 || !settings_has_guide())
        return 1.0e9f;
    float a_second_nm = (float)settings.step_pm * (float)settings.steps_a_ms * 0.9f; /* pm in a ms, less a tenth */
    float rate = a_second_nm * (float)leg->pitch_counts / pitch_nm;
    float least_rate = PROTOCOL_CREEP_RATE_LEAST_MCPS * 0.001f;
    return rate < least_rate ? least_rate : rate;
}

/* --- orders ----------------------------------------------------------------------------------- */

void guide_boot(void) {
    memset(&guide, 0, sizeof guide);
    uint8_t before = port_lock();
    port_step(false);
    memset((void *)&steps, 0, sizeof steps);
    port_unlock(before);
    guide.rightward = true;
    guide.step_um = (float)settings.step_pm * 1.0e-6f;
}

static void stand(void) {
    uint8_t before = port_lock();
    steps.todo = 0;
    port_unlock(before);
}

/* Steps towards the target, at most so many a millisecond; twice as many may be left to do, for a loop that comes
 * round late. Returns the way that is left. How many is found with interrupts off, or a step that slips in would be
 * one too many; how fast, before that: divisions with interrupts off would cost edges. */
static int32_t lead_to(int32_t target) {
    uint32_t about = apart(target, place_now());
    uint8_t a_ms = about > FASTEST ? FASTEST : about != 0 ? (uint8_t)about : 1u;
    uint8_t most = (uint8_t)(2u * a_ms);
    volatile uint8_t period = port_step_period(a_ms); /* volatile: or a compiler divides where it is used */
    uint8_t before = port_lock();
    int32_t way = target - steps.place;
    uint32_t number = apart(way, 0);
    steps.todo = number < most ? (uint8_t)number : most;
    if (number != 0) {
        int8_t ahead = way < 0 ? -1 : 1;
        bool turns = ahead != steps.way;
        steps.way = ahead;
        if (!steps.high)
            port_step_way(ahead > 0);
        port_steps(period, turns);
    }
    port_unlock(before);
    return way;
}

void guide_halt(void) {
    guide.led = guide.stepping = guide.arrived = guide.beyond = false;
#if CORE_FAR
    ramp_halt();
#endif
    stand();
}

void guide_end_step(void) {
    if (guide.stepping)
        guide_halt();
#if CORE_FAR
    ramp_slow();
#endif
}

void guide_forget(void) {
    guide_halt();
    guide.on_way = false;
}

void guide_follow(const struct plan *plan, int32_t count) {
    guide_halt();
    if (!guide.on_way) {
        int32_t fine = within(place_now(), -FINE_MAX / FINE, FINE_MAX / FINE) * FINE;
        guide.plan = plan;
        guide.begun_at = count;
        guide.target = place_now();
        guide.first_leg = 0;
        while (guide.first_leg + 1 < plan->legs && plan->leg[guide.first_leg].end_count <= count)
            guide.first_leg++;
        guide.entry[guide.first_leg] = fine | guide.rightward;
        enter_leg(guide.first_leg);
        guide.on_way = true;
    }
    guide.led = settings_has_guide();
}

void guide_go_along(void) {
    guide_halt();
    guide.led = guide.on_way && settings_has_guide();
}

void guide_mark(uint8_t side, int32_t at_um) {
    guide_forget();
    int32_t place = (fine_of_um(at_um) + FINE / 2) >> 6;
    uint8_t before = port_lock();
    steps.place = place;
    port_unlock(before);
    if (side == SIDE_LEFT)
        guide.referenced = true;
}

/* Where it stands never is beyond, nor is the way back. */
static int32_t within_travel(int32_t target) {
    int32_t place = place_now(), high = (int32_t)settings.travel_steps;
    if (!guide.referenced)
        return target;
    return within(target, place < 0 ? place : 0, place > high ? place : high);
}

void guide_step(int32_t distance_um) {
    guide_forget();
    guide.target = place_now() + ((fine_of_um(distance_um) + FINE / 2) >> 6);
    guide.rightward = distance_um > 0;
    guide.stepping = true;
}

#if CORE_FAR
void guide_lead_far(const struct far *ask) {
    guide_forget();
    int32_t from = place_now(), by = (fine_of_um(ask->um) + FINE / 2) >> 6;
    guide.rightward = !ask->home && by > 0;
    guide.referenced = guide.referenced && !ask->home;
    ramp_begin(ask, from, by, within_travel(from + by));
}

static void go_far(void) {
    int32_t place = place_now(), target = place;
    uint8_t how = ramp_tick(place, &target);
    lead_to(target);
    if (how == RAMP_HOME) {
        guide_mark(SIDE_LEFT, ramp_home_um());
        guide.rightward = true;
    }
    guide.arrived = how == RAMP_ARRIVED || how == RAMP_HOME;
    guide.beyond = how == RAMP_LOST;
}
#endif

/* --- every millisecond ------------------------------------------------------------------------ */

void guide_tick(int64_t at) {
#if CORE_FAR
    if (ramp_goes()) {
        go_far();
        return;
    }
#endif
    if (guide.led) {
        guide.behind = !reach(at); /* it stays where it was led so far */
        if (!guide.behind)
            guide.target = (place_at(at) + FINE / 2) >> 6;
    } else if (!guide.stepping) {
        return;
    }
    int32_t target = within_travel(guide.target);
    if (lead_to(target) == 0) {
        guide.beyond = target != guide.target;
        guide.arrived = guide.stepping;
        guide.stepping = false;
    }
}

bool guide_busy(void) {
#if CORE_FAR
    if (ramp_goes())
        return true;
#endif
    return guide.stepping || (guide.led && (guide.behind || (!guide.beyond && guide.target != place_now())));
}

bool guide_at_limit(void) {
#if CORE_FAR
    bool towards = !guide.rightward && guide_busy() && !ramp_homes();
    if (port_limit_met() && (guide.led || towards))
        return true;
#endif
    return guide.beyond;
}

void guide_facts(struct facts *facts) {
    float um = (float)place_now() * guide.step_um;
    facts->traverse_um = (int32_t)(um < 0.0f ? um - 0.5f : um + 0.5f);
    facts->traverse_rightward = guide.rightward;
    facts->arrived = facts->arrived || guide.arrived;
    facts->at_rest = facts->at_rest && !guide_busy();
}

#endif
