#include "model.h"

#define STEPS_PER_MS 50
#define STEP_S (0.001 / STEPS_PER_MS)

struct model model;

static double chance(uint32_t *seed) { /* 0 to 1; numbers of Park and Miller, CACM 31, 1988 */
    *seed = (uint32_t)((uint64_t)*seed * 48271u % 2147483647u);
    return (double)*seed / 2147483647.0;
}

static double off(double value, uint32_t *seed) {
    return value * (0.9 + 0.2 * chance(seed));
}

static double place_of_edge(double number) {
    /* slots of unlike width, the same in every turn of eight */
    long slot = (long)number % 8;
    return number + model.uneven * (double)((slot * 5 % 8 + 8) % 8 - 4) / 8.0;
}

static void look_around(double number) {
    model.next_up = number + 1.0;
    model.next_down = number;
}

void model_build(uint32_t seed, bool brake) {
    seed = seed % 2147483646u + 1u;
    memset(&model, 0, sizeof model);
    model.free_cps = off((double)settings.full_rate_mcps / 1000.0, &seed);
    model.accel_cps2 = off((double)settings.full_accel_mcps2 / 1000.0, &seed);
    model.friction_cps2 = model.accel_cps2 * off((double)settings.friction_permille / 1000.0, &seed);
    if (brake)
        model.brake_cps2 = model.accel_cps2 * off(0.5, &seed);
    model.uneven = 0.1;
    model.place = 0.5;
    look_around(0.0);
}

static void accelerate(void) {
    double duty = (double)host.duty_permille / 1000.0;
    double pull = 0.0;
    if (host.duty_permille)
        pull = model.accel_cps2 * ((host.reverse ? -duty : duty) - model.speed_cps / model.free_cps);
    double hold = model.friction_cps2 + model.brake_cps2 * (double)host.brake_permille / 1000.0;
    if (model.held)
        hold += 100.0 * model.accel_cps2;
    if (model.speed_cps == 0.0) {
        if (pull > hold)
            model.speed_cps = (pull - hold) * STEP_S;
        else if (pull < -hold)
            model.speed_cps = (pull + hold) * STEP_S;
        return;
    }
    double way = model.speed_cps > 0.0 ? 1.0 : -1.0;
    double next = model.speed_cps + (pull - way * hold) * STEP_S;
    model.speed_cps = next * way < 0.0 ? 0.0 : next;
}

static void turn(void) {
    model.place += model.speed_cps * STEP_S;
    while (model.place >= place_of_edge(model.next_up)) {
        look_around(model.next_up);
        if (!model.dark)
            host_edge(false);
    }
    while (model.place < place_of_edge(model.next_down)) {
        look_around(model.next_down - 1.0);
        if (!model.dark)
            host_edge(true);
    }
}

int32_t model_run(uint32_t milliseconds) {
    while (milliseconds--) {
        uint32_t clock = host.clock;
        for (int step = 1; step <= STEPS_PER_MS; step++) {
            accelerate();
            host.clock = clock + (uint32_t)step * (PORT_CLOCK_HZ / 1000) / STEPS_PER_MS;
            turn();
        }
        host.clock = clock; /* the millisecond itself moves it on */
        host_millisecond();
    }
    return (int32_t)model.next_down;
}
